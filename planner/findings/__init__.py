"""What the planner remarks about a trip: stops, cautions and notes, each with what would mend it."""
