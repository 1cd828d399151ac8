"""Triangles of a layout into pictures."""
