"""Texture coordinates by corner, changed and put back."""
