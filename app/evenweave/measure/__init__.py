"""Numbers from layouts. Nothing here knows what is acceptable."""
