"""The log of readings, as plain data."""
