"""The four corners of an island that could be a rectangle, and how far it is from one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray
from evenweave.trial.flatten.surface import Surface

WINDOW_SHARE = 0.03  # of the outline, over which turning counts as one corner
APART = 0.6  # of the width, that corners lie apart at least


@dataclass(frozen=True, eq=False)
class Sides:
    """An outline in four sides.

    place : (4,) int32 places of the corners along the rim, ascending, counted on beyond its end;
    the first and third side are the long ones
    degrees : the least turn at a corner; NaN where corners were told by the quads
    """

    place: IntArray
    degrees: float

    def of(self, rim: IntArray) -> tuple[IntArray, ...]:
        """Return the vertices of the four sides, corners included."""
        end = np.append(self.place[1:], self.place[0] + len(rim))
        return tuple(
            rim[np.arange(a, b + 1) % len(rim)] for a, b in zip(self.place, end, strict=True)
        )

    def paths(self, outline: FloatArray) -> tuple[FloatArray, ...]:
        """Return the places of the four sides of an outline, (N, 2), corners included."""
        row = np.arange(len(outline), dtype=np.int32)
        return tuple(outline[side] for side in self.of(row))


def turning_corners(outline: FloatArray) -> Sides | None:
    """Find four corners by how far the outline turns near each vertex; None where there are none.

    outline : (N, 2) counter-clockwise. Turns count less the farther along the outline they are,
    within 3 % of its length or half of the width that a strip of its area would have.
    """
    count = len(outline)
    step = np.roll(outline, -1, axis=0) - outline
    length = np.hypot(step[:, 0], step[:, 1])
    around = float(length.sum())
    x, y = outline.T
    area = float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2
    if count < 4 or not area > 0:
        return None
    width = 2 * area / around
    window = min(WINDOW_SHARE * around, width / 2)
    before = np.roll(step, 1, axis=0)
    turn = np.arctan2(
        before[:, 0] * step[:, 1] - before[:, 1] * step[:, 0], (before * step).sum(axis=1)
    )
    at = np.concatenate([[0.0], np.cumsum(length)[:-1]])
    thrice = np.concatenate([at - around, at, at + around])
    first = np.searchsorted(thrice, at - window)
    last = np.searchsorted(thrice, at + window, side="right")
    score = np.empty(count)
    for n in range(count):
        near = np.arange(first[n], last[n])
        score[n] = (turn[near % count] * (1 - np.abs(thrice[near] - at[n]) / window)).sum()
    chosen: list[int] = []
    for n in np.argsort(-score, kind="stable").tolist():
        gap = np.abs(at[chosen] - at[n])
        if (np.minimum(gap, around - gap) >= APART * width).all():
            chosen.append(n)
        if len(chosen) == 4:
            return _long_first(outline, sorted(chosen), float(np.degrees(score[chosen].min())))
    return None


def quad_corners(surface: Surface, flat: FloatArray) -> Sides | None:
    """Return the corners of a grid of quads; None where the faces form none.

    All faces are quads, all vertices inside have four edges, those on the rim three but for
    four corners that have two, and opposite sides have equally many.
    """
    if not (surface.is_edge.reshape(-1, 3).sum(axis=1) == 2).all() or len(surface.rims) != 1:
        return None
    edge = edges(surface)
    valence = np.bincount(edge.reshape(-1), minlength=len(surface.point_m))
    rim = surface.rims[0]
    is_rim: BoolArray = np.zeros(len(valence), dtype=bool)
    is_rim[rim] = True
    corner = np.flatnonzero(valence[rim] == 2)
    if len(corner) != 4 or (valence[~is_rim] != 4).any() or (valence[rim] > 3).any():
        return None
    found = _long_first(flat[rim], corner.tolist(), float("nan"))
    size = [len(side) for side in found.of(rim)]
    return found if size[0] == size[2] and size[1] == size[3] else None


def edges(surface: Surface) -> IntArray:
    """Return (E, 2) int32, the edges of the polygons, each once."""
    start = surface.triangle.reshape(-1)[surface.is_edge]
    end = np.roll(surface.triangle, -1, axis=1).reshape(-1)[surface.is_edge]
    return np.unique(np.sort(np.stack([start, end], axis=1), axis=1), axis=0)


def _long_first(outline: FloatArray, place: list[int], degrees: float) -> Sides:
    """Order corners so that the first and third side are the longer pair."""
    sides = Sides(np.array(place, np.int32), degrees)
    long = [path_length(path) for path in sides.paths(outline)]
    if long[0] + long[2] < long[1] + long[3]:
        place = [*place[1:], place[0] + len(outline)]
    return Sides(np.array(place, np.int32), degrees)


def path_length(point: FloatArray) -> float:
    """Return the length of a path of points."""
    return float(np.linalg.norm(np.diff(point, axis=0), axis=1).sum())


def bow(outline: FloatArray, sides: Sides) -> float:
    """Return 1 - chord / length of the more bent of the two long sides."""
    paths = sides.paths(outline)
    return max(
        1 - float(np.linalg.norm(path[-1] - path[0])) / max(path_length(path), 1e-300)
        for path in (paths[0], paths[2])
    )


def box_fill(outline: FloatArray) -> float:
    """Return the share that an outline fills of the least rectangle round it; 0 without area."""
    import shapely

    box = shapely.minimum_rotated_rectangle(shapely.MultiPoint(outline))
    x, y = outline.T
    area = abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2
    return area / box.area if box.area > 0 else 0.0
