"""Put a new flattening where the island is: same density, same handedness, same centre."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray
from evenweave.trial.flatten.flatten import MIRROR
from evenweave.trial.flatten.island_mesh import IslandMesh
from evenweave.trial.flatten.surface import Surface, triangle_areas

GAP = 1 / 64  # of the tile's height, round pieces of an island; common practice, no source


def uv_areas(uv: FloatArray, triangle: IntArray) -> FloatArray:
    """Return (T,) signed areas."""
    q = uv[triangle]
    a, b = q[:, 1] - q[:, 0], q[:, 2] - q[:, 0]
    area: FloatArray = (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / 2
    return area


def present_density(mesh: IslandMesh) -> float:
    """Return heights of the tile per metre; 0 where the island has no area."""
    surface = float(triangle_areas(mesh.point_m, mesh.triangle).sum())
    texture = float(np.abs(uv_areas(mesh.square_uv, mesh.triangle)).sum())
    return float(np.sqrt(texture / surface)) if surface > 0 else 0.0


def place(
    surfaces: Sequence[Surface],
    flat: Sequence[FloatArray],
    density: float,
    *,
    is_mirrored: bool | None = None,
) -> tuple[FloatArray, ...]:
    """Return the flattenings turned and moved over the present texture, without changing shape.

    flat : per surface (N, 2), upright, metres
    density : heights of the tile per metre; 0 : as large as surely fits into one tile
    The turn brings the vertices nearest to where they are (orthogonal Procrustes, weighted by
    surface); the surface's centroid stays. What is mirrored stays mirrored, each surface by
    itself unless `is_mirrored` tells of all.
    """
    if density <= 0:
        extent = sum(float(np.ptp(uv, axis=0).max()) for uv in flat)
        density = 1 / max(extent, 1e-300)
    return tuple(
        over(surface, uv * density, is_mirrored=is_mirrored)
        for surface, uv in zip(surfaces, flat, strict=True)
    )


def over(
    surface: Surface,
    uv: FloatArray,
    is_guide: BoolArray | None = None,
    *,
    is_mirrored: bool | None = None,
) -> FloatArray:
    """Return a flattening turned and moved over the surface's present texture.

    is_guide : (T,) bool, the triangles that are to stay where they are; all if None
    is_mirrored : as most of those are if None
    """
    area = triangle_areas(surface.point_m, surface.triangle)
    signed = uv_areas(surface.uv, surface.triangle)
    if is_guide is not None:
        area, signed = area * is_guide, signed * is_guide
    if float(signed.sum()) < 0 if is_mirrored is None else is_mirrored:
        uv = uv * MIRROR
    weight = np.zeros(len(uv))
    np.add.at(weight, surface.triangle.reshape(-1), np.repeat(area, 3))
    weight = weight[:, None] / max(float(weight.sum()), 1e-300)
    goal = (weight * surface.uv).sum(axis=0)
    a, b = uv - (weight * uv).sum(axis=0), surface.uv - goal
    along = float((weight * a * b).sum())
    across = float((weight[:, 0] * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])).sum())
    angle = np.arctan2(across, along)
    c, s = np.cos(angle), np.sin(angle)
    placed: FloatArray = a @ np.array([[c, s], [-s, c]]) + goal
    return placed


@dataclass(frozen=True, eq=False)
class Home:
    """Where an island is, in heights of the tile.

    centre : (2,) of its bounds; tile, room : (2,) corner and size of its tile
    """

    centre: FloatArray
    tile: FloatArray
    room: FloatArray

    @staticmethod
    def of(mesh: IslandMesh) -> Home:
        """Return it; the first tile where the island reaches into that, else its centre's."""
        uv, room = mesh.square_uv[mesh.corner_vertex], np.array([mesh.aspect, 1.0])
        low, high = uv.min(axis=0), uv.max(axis=0)
        centre = (low + high) / 2
        is_first = (low < room) & (high > 0)
        return Home(centre, np.where(is_first, 0.0, np.floor(centre / room) * room), room)


def side_by_side(placed: Sequence[FloatArray], home: Home) -> tuple[FloatArray, ...]:
    """Move the pieces of an island beside each other, unless their bounds are apart already.

    They stand in rows about the centre, largest first, within the tile if they fit.
    """
    low = np.array([uv.min(axis=0) for uv in placed])
    size = np.array([uv.max(axis=0) for uv in placed]) - low
    if len(placed) < 2 or _are_apart(low, size):
        return tuple(placed)
    widths = (float(size[:, 0].max()), float(size.prod(axis=1).sum()) ** 0.5 * 1.2, np.inf)
    rows = min((_rows(size, width) for width in widths), key=lambda at: _extent(at, size).max())
    extent = _extent(rows, size)
    start = home.centre - extent / 2
    spare = home.room - extent - 2 * GAP
    inside = np.clip(start, home.tile + GAP, home.tile + GAP + np.maximum(spare, 0.0))
    start = np.where(spare >= 0, inside, start)
    return tuple(uv - old + new + start for uv, old, new in zip(placed, low, rows, strict=True))


def _are_apart(low: FloatArray, size: FloatArray) -> bool:
    high = low + size
    apart = (low[:, None] >= high[None] + GAP).any(axis=2)
    return bool((apart | apart.T | np.eye(len(low), dtype=bool)).all())


def _rows(size: FloatArray, width: float) -> FloatArray:
    """Return (P, 2) the lower left corners of boxes in rows no wider than a width."""
    at = np.zeros((len(size), 2))
    x, y, height = 0.0, 0.0, 0.0
    for box in np.argsort(-size[:, 1], kind="stable"):
        if x > 0 and x + size[box, 0] > width:
            x, y, height = 0.0, y + height + GAP, 0.0
        at[box] = x, y
        x += float(size[box, 0]) + GAP
        height = max(height, float(size[box, 1]))
    return at


def _extent(at: FloatArray, size: FloatArray) -> FloatArray:
    extent: FloatArray = (at + size).max(axis=0)
    return extent


def is_mirrored(surface: Surface) -> bool:
    """Tell whether most of the present texture is a mirror image."""
    return float(uv_areas(surface.uv, surface.triangle).sum()) < 0


def corner_uv(
    mesh: IslandMesh, surfaces: Sequence[Surface], placed: Sequence[FloatArray]
) -> FloatArray:
    """Return (K, 2) tile units at the island's corners; corners of no surface keep theirs."""
    uv = mesh.square_uv[mesh.corner_vertex]
    for surface, at in zip(surfaces, placed, strict=True):
        uv[surface.corner.reshape(-1)] = at[surface.triangle.reshape(-1)]
    tile_uv: FloatArray = uv / np.array([mesh.aspect, 1.0])
    return tile_uv


def outline(
    mesh: IslandMesh, surfaces: Sequence[Surface], placed: Sequence[FloatArray]
) -> FloatArray:
    """Return (S, 2, 2) tile units, the segments that bound the flattenings."""
    found = [np.zeros((0, 2, 2))]
    for surface, at in zip(surfaces, placed, strict=True):
        for rim in surface.rims:
            found.append(np.stack([at[rim], at[np.roll(rim, -1)]], axis=1))
    segment: FloatArray = np.vstack(found) / np.array([mesh.aspect, 1.0])
    return segment
