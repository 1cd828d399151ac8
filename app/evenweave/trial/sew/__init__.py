"""Seams that could be closed."""
