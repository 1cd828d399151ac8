"""Numbers of each island, its shape and its worst spots."""
