"""Tables of the trade: cylinder sizes, device types, policy defaults, each with its sources."""
