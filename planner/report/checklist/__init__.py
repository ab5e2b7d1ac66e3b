"""The checklists, as plain data."""
