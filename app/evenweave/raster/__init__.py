"""Triangles become pictures: id buffers, shading, colour maps, cameras. No Qt."""
