"""Copies of meshes with other texture coordinates, format by format."""
