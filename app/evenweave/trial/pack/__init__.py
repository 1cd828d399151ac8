"""Islands sized and placed in a tile."""
