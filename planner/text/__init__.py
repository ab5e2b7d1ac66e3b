"""Text to plain values: YAML with positions, quantities with units, clock times."""
