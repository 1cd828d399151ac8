"""Notes and their editor."""
