"""The comparison of a trip with its plan, as text and JSON."""
