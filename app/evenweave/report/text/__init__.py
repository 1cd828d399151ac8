"""Results in words for a terminal."""
