"""Places on one pass found on another."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray, IntArray, floats, frozen
from evenweave.compare.matching.sampling import REACH_SHARE
from evenweave.compare.matching.surface import Surface


@dataclass(frozen=True, eq=False)
class Places:
    """Where points lie on a surface, (N,) each; -1, NaN and inf where they lie nowhere.

    island : numbered over the surface's layouts, -1 also on faces without coordinates
    triangle : of the surface; uv : (N, 2); point_m : (N, 3) nearest on the surface
    distance_m : how far it is
    """

    island: IntArray
    triangle: IntArray
    uv: FloatArray
    point_m: FloatArray
    distance_m: FloatArray


def locate(
    surface: Surface,
    point_m: FloatArray,
    facing: FloatArray,
    *,
    reach_m: float | None = None,
    preferred: IntArray | None = None,
) -> Places:
    """Find points of an earlier pass on a surface.

    point_m, facing : (N, 3) points and unit normals there (0, 0, 0 where any will do)
    reach_m : how far to look; 2 % of the whole's size unless given
    preferred : (N,) int32 islands to be taken where several lie in one place
    """
    point, facing = floats(point_m).reshape(-1, 3), floats(facing).reshape(-1, 3)
    reach = floats(
        np.full(len(point), REACH_SHARE * surface.size_m if reach_m is None else reach_m)
    )
    found, distance = surface.nearest(point, facing, reach)
    triangle = found[:, 0].copy()
    if preferred is not None:
        island = np.where(found >= 0, np.append(surface.island, -1)[found], -2)
        is_meant = island == np.asarray(preferred)[:, None]
        row = np.arange(len(point))
        has = is_meant.any(axis=1)
        triangle[has] = found[row, is_meant.argmax(axis=1)][has]
    triangle = frozen(triangle)
    return Places(
        island=frozen(np.where(triangle >= 0, np.append(surface.island, -1)[triangle], -1)),
        triangle=triangle,
        uv=frozen(surface.uv_at(triangle, point)),
        point_m=frozen(surface.point_at(triangle, point)),
        distance_m=frozen(distance),
    )
