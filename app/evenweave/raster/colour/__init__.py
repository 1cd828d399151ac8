"""Colours of triangles and pixels."""
