"""Lines and points on pictures."""
