"""Cylinders of a store: the choice from it, and last gauges written back."""
