"""Per triangle: the singular values of the map from the surface to the texture."""

from __future__ import annotations

from evenweave.arrays import frozen
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.distortion.jacobian_kernels import triangle_jacobians
from evenweave.measure.results import TriangleMeasures


def measure_triangles(layout: Layout, tile: Tile) -> TriangleMeasures:
    """Return the measures of every triangle, for a texture of the tile's size.

    With J the 2 x 2 Jacobian from the triangle's plane (metres, an orthonormal frame) to the
    texture (texels: u * width, v * height): s1 = |p| + |q|, where p and q are J's parts that
    keep and that reverse orientation, p = ((a + d) / 2, (c - b) / 2), q = ((a - d) / 2,
    (c + b) / 2); s2 = det J / s1, which does not cancel and bears the sign of det J.

    Degenerate: surface area zero (a height below 1e-12 of the longest side) or not finite, or
    texel area exactly zero.
    """
    measured = triangle_jacobians(
        layout.triangle_corner,
        layout.corner_point,
        layout.corner_uv,
        layout.point_m,
        layout.uv,
        float(tile.width),
        float(tile.height),
    )
    return TriangleMeasures(*map(frozen, measured))
