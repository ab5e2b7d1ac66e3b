"""The page of a shift, as plain data."""
