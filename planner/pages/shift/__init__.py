"""The page of a shift on paper."""
