"""What a service's closed trips teach: shares covered, limits without an assumed distribution, what has changed."""
