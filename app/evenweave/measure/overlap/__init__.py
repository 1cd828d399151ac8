"""Texture claimed twice, exactly."""
