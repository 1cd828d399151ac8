"""The map from surface to texture, triangle by triangle."""
