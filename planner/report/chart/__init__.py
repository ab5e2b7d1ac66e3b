"""Charts and the nomogram, as plain data."""
