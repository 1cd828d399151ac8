"""What is open, and the work behind it."""
