"""Triangles of an object, seen by a camera, into pictures."""
