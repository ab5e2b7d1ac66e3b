"""The calculation sheet, as plain data."""
