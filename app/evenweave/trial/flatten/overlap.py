"""How much of a flattening lies on itself."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenweave.arrays import FloatArray, IntArray

TOUCHING = 1e-10  # share of the area below which rims merely touch
_AT_ONCE = 2_000_000  # point-edge pairs


def self_overlap(uv: FloatArray, rims: tuple[IntArray, ...]) -> float:
    """Return the share of a flip-free flattening that lies on other parts of itself.

    uv : (N, 2), no triangle flipped; rims : its boundary loops, the surface to their left.

    Without flips a point of the plane is covered as often as the rims wind round it (the degree
    of the map), so the rims alone tell. Nothing overlaps where they form a valid polygon, all
    but the outer one running the other way round.
    """
    import shapely

    loops = [uv[rim] for rim in rims if len(rim) > 2]
    if not loops:
        return 0.0
    enclosed = np.array([_signed_area(loop) for loop in loops])
    outer = int(np.argmax(enclosed))
    holes = [loop for i, loop in enumerate(loops) if i != outer]
    are_holes = (np.delete(enclosed, outer) <= 0).all()
    if are_holes and shapely.Polygon(loops[outer], holes).is_valid:
        return 0.0
    rings = [shapely.LinearRing(loop) for loop in loops]
    cells: Any = shapely.get_parts(shapely.polygonize([shapely.unary_union(rings)]))
    inside = shapely.get_coordinates(shapely.point_on_surface(cells))
    twice = np.maximum(_winding(inside, loops) - 1, 0)
    share = float((twice * shapely.area(cells)).sum() / max(float(enclosed.sum()), 1e-300))
    return share if share > TOUCHING else 0.0


def _signed_area(loop: FloatArray) -> float:
    after = np.roll(loop, -1, axis=0)
    return float((loop[:, 0] * after[:, 1] - loop[:, 1] * after[:, 0]).sum()) / 2


def _winding(point: FloatArray, loops: list[FloatArray]) -> IntArray:
    """Return (N,) how often the loops go round each point, by crossings of a ray to the right."""
    start = np.vstack(loops)
    end = np.vstack([np.roll(loop, -1, axis=0) for loop in loops])
    found = [np.zeros(0, np.int32)]
    for part in np.array_split(point, 1 + len(point) * len(start) // _AT_ONCE):
        x, y = part[:, :1], part[:, 1:]
        side = (end[:, 0] - start[:, 0]) * (y - start[:, 1])
        side = side - (x - start[:, 0]) * (end[:, 1] - start[:, 1])
        up = (start[:, 1] <= y) & (end[:, 1] > y) & (side > 0)
        down = (start[:, 1] > y) & (end[:, 1] <= y) & (side < 0)
        found.append((up.sum(axis=1) - down.sum(axis=1)).astype(np.int32))
    return np.concatenate(found)
