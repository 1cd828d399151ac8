"""Numbers and words out of bytes."""
