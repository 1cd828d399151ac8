"""Layers painted over a scene."""
