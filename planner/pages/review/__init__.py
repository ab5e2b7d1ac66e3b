"""The page of what closed trips teach."""
