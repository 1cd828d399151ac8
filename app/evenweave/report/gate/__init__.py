"""What decides whether a check passes."""
