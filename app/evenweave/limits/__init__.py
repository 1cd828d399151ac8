"""What is acceptable: the limits, their file, and sets of their own."""
