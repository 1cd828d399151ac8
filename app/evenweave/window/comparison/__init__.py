"""Two passes side by side."""
