"""What a whole shift takes out of the store."""
