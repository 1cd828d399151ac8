"""Ellipses of distortion: what small circles on the surface become in the texture.

Tissot's indicatrix (Snyder, "Map Projections: A Working Manual", USGS PP 1395, 1987), with
semi-axes s1 and s2 along the Jacobian's left singular vectors.
"""

from __future__ import annotations

import math

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.picture.scene.scene import FlatScene
from evenweave.raster.camera import FlatView
from evenweave.raster.colour.colours import INK, PALE
from evenweave.raster.colour.paint import Lines
from evenweave.raster.ink.ink import closed_rings

_SPACING_PX = 40.0
_RADIUS_SHARE = 0.3  # of the spacing, for a circle at the target density
_LARGEST = 2.4  # times that radius, beyond which an ellipse is drawn smaller
_CORNERS = 32


def ellipses(scene: FlatScene, view: FlatView, ids: IntArray, *, pixel_ratio: float = 1.0) -> Lines:
    """Return the ellipses at places of a regular grid that stays put while the view moves.

    ids : (H, W) triangle at each pixel of the view
    """
    spacing = 2.0 ** math.ceil(math.log2(_SPACING_PX * pixel_ratio / view.scale))
    u0, v0, u1, v1 = view.bounds
    u = np.arange(math.floor(u0 / spacing), math.ceil(u1 / spacing)) * spacing + spacing / 2
    v = np.arange(math.floor(v0 / spacing), math.ceil(v1 / spacing)) * spacing + spacing / 2
    place = np.array(np.meshgrid(u, v)).reshape(2, -1).T
    pixel = np.floor(view.to_pixel(place)).astype(np.int64)
    height, width = ids.shape
    seen = ((pixel >= 0) & (pixel < (width, height))).all(axis=1)
    place, pixel = place[seen], pixel[seen]
    triangle = ids[pixel[:, 1], pixel[:, 0]]
    place, triangle = place[triangle >= 0], triangle[triangle >= 0]
    matrix = _shape(scene, triangle)
    known = np.isfinite(matrix).all(axis=(1, 2))
    place, matrix = place[known], matrix[known]
    size = np.linalg.norm(matrix, axis=(1, 2))[:, None, None]
    matrix = matrix * np.minimum(1.0, _LARGEST / np.maximum(size, 1e-12))
    turn = np.arange(_CORNERS) * (2.0 * np.pi / _CORNERS)
    circle = np.stack((np.cos(turn), np.sin(turn)))
    ring = place[:, None, :] + (matrix @ circle).transpose(0, 2, 1) * spacing * _RADIUS_SHARE
    point, segment = closed_rings(ring)
    return Lines(point, segment, INK, width_px=1.4, casing=PALE, strength=0.9)


def _shape(scene: FlatScene, triangle: IntArray) -> FloatArray:
    """Return (N, 2, 2): from the unit circle on the surface to the texture at the target density.

    The circle's own turn does not matter, so any frame in the triangle's plane will do.
    """
    layout, tile = scene.layout, scene.review.measures.tile
    corner = layout.triangle_corner[triangle]
    point = layout.point_m[layout.corner_point[corner]]
    uv = layout.uv[layout.corner_uv[corner]]
    along, across = point[:, 1] - point[:, 0], point[:, 2] - point[:, 0]
    length = np.linalg.norm(along, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        foot = (along * across).sum(axis=1) / length
        height = np.linalg.norm(np.cross(along, across), axis=1) / length
        first = (uv[:, 1] - uv[:, 0]) / length[:, None]
        second = (uv[:, 2] - uv[:, 0] - first * foot[:, None]) / height[:, None]
        matrix = np.stack((first, second), axis=2)
        matrix *= tile.width / scene.review.target_density
    return matrix
