"""Edges cut on the layout, and how the object is shaded across them."""
