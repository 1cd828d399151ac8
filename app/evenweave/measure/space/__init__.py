"""The room of a tile: coverage, gaps between islands, mip levels."""
