"""What the closed trips of a service teach, as text and JSON."""
