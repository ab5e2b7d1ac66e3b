"""What can go wrong: each what-if in a file of its own, found through `planner.go.whatifs.registry`."""
