"""What was used against what was planned, and whether the rest of the trip still holds."""
