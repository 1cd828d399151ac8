"""What was found, and its explanation."""
