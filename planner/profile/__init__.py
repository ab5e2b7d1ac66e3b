"""A trip profile, format 1: text to `planner.model.Trip`, or every problem at once."""
