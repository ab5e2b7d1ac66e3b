"""Tables of cylinder sizes, device types and policies, each with the source of every row beside it."""
