"""What devices draw from each supply, minute by minute, and which outlets carry them."""
