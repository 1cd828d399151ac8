"""One step of tightening as a linear programme: who is near whom, the rows, the solution."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import BoolArray, FloatArray, IntArray

Numbers = NDArray[np.intp]
Room = tuple[tuple[float, float], tuple[float, float]]  # lowest and highest x, and y

REACH = 3.4  # ways: two blocks come nearer by 2.83 at most where both go to a corner, and grow
GROWTH = 0.5  # ways by which the largest block may grow, to each side
SHRINK = 0.5  # times the scale, at least, where blocks must be driven apart
MOST_TURN = 0.1  # radians
CORNERS = 2  # of each piece that are looked at when it may turn
STRAIGHT = 1e-4  # of the scale: what it is worth at most that all blocks lie straight
TOUCHING = 1e-6  # texels


@dataclass(frozen=True, eq=False)
class Bodies:
    """Blocks as convex pieces.

    corner : (V, 2) float64 texels at scale 1 from the middle of the block, turned as it lies
    start : (P + 1,) first corner of each piece; owner : (P,) block of each piece
    tile : (B,) int32; middle : (B, 2) texels, where it lies; scale : of all
    """

    corner: FloatArray
    start: Numbers
    owner: Numbers
    tile: IntArray
    middle: FloatArray
    scale: float

    @property
    def corner_owner(self) -> Numbers:
        """(V,) block of each corner."""
        return np.repeat(self.owner, np.diff(self.start))

    def placed(self) -> FloatArray:
        """(V, 2) texels, where the corners lie."""
        place: FloatArray = self.middle[self.corner_owner] + self.scale * self.corner
        return place

    def after(self, step: Step) -> Bodies:
        """Return the blocks moved."""
        c, s = np.cos(step.turn), np.sin(step.turn)
        turn = np.stack([np.stack([c, s], axis=1), np.stack([-s, c], axis=1)], axis=1)
        corner = np.einsum("vi,vij->vj", self.corner, turn[self.corner_owner])
        return replace(self, corner=corner, middle=step.middle, scale=step.scale)


@dataclass(frozen=True, eq=False)
class Step:
    """Where blocks go: middle : (B, 2) texels; turn : (B,) radians; scale : of all."""

    middle: FloatArray
    turn: FloatArray
    scale: float


class _Rows:
    """Rows of `matrix @ x <= bound`, collected column by column."""

    def __init__(self) -> None:
        self.count = 0
        self._row: list[Numbers] = []
        self._column: list[Numbers] = []
        self._value: list[FloatArray] = []
        self._bound: list[FloatArray] = []

    def add(self, terms: list[tuple[Any, FloatArray]], bound: FloatArray) -> None:
        """Add rows; a term is the column in each row and the value there."""
        row = np.arange(self.count, self.count + len(bound))
        self.count += len(bound)
        for column, value in terms:
            self._row.append(row)
            self._column.append(np.broadcast_to(column, row.shape))
            self._value.append(value)
        self._bound.append(bound)

    def matrix(self, columns: int) -> tuple[Any, FloatArray]:
        """Return the sparse matrix and the bounds."""
        from scipy.sparse import csr_matrix

        entry = (np.concatenate(self._row), np.concatenate(self._column))
        shape = (self.count, columns)
        return csr_matrix((np.concatenate(self._value), entry), shape), np.concatenate(self._bound)


def best_step(
    bodies: Bodies,
    room_px: Room,
    padding_px: float,
    most_scale: float,
    *,
    way: float,
    off: FloatArray | None = None,
) -> Step | None:
    """Return the step of at most `way` texels along each axis to the largest scale.

    off : (B,) radians from lying straight, which a turn is to lessen where nothing is lost by
    it; None: nothing is turned. None is returned where there is no step. Without turning it keeps
    all that comes near apart, exactly; a turn is taken as linear, and for it only the corners
    that are ahead are looked at.
    """
    from scipy.optimize import linprog

    count, scale = len(bodies.middle), bodies.scale
    radius = np.zeros(count)
    np.maximum.at(radius, bodies.corner_owner, np.hypot(*bodies.corner.T))
    rows, may_turn = _Rows(), off is not None
    _keep_apart(rows, bodies, padding_px, way=way, may_turn=may_turn)
    _keep_inside(rows, bodies, room_px, way=way, may_turn=may_turn)
    growth = GROWTH * way / max(float(radius.max()), 1e-9)
    least = SHRINK * scale
    low = [np.array([least]), (bodies.middle - way).ravel()]
    high = [
        np.array([max(least, min(scale + growth, most_scale))]),
        (bodies.middle + way).ravel(),
    ]
    if off is not None:
        most = np.minimum(MOST_TURN, way / np.maximum(scale * radius, 1e-9))
        low += [-most, np.zeros(count)]
        high += [most, np.full(count, np.inf)]
        _measure_turns(rows, off)
    bounds: Any = np.stack([np.concatenate(low), np.concatenate(high)], axis=1)
    matrix, most_of = rows.matrix(len(bounds))
    gain = np.zeros(len(bounds))
    gain[0] = -1.0
    if may_turn:
        gain[1 + 3 * count :] = STRAIGHT * scale * radius / (count * way)
    found = linprog(gain, A_ub=matrix, b_ub=most_of, bounds=bounds, method="highs")
    if found.x is None:
        return None
    middle = found.x[1 : 1 + 2 * count].reshape(-1, 2)
    turn = found.x[1 + 2 * count : 1 + 3 * count] if may_turn else np.zeros(count)
    return Step(middle, turn, float(found.x[0]))


def _keep_apart(
    rows: _Rows, bodies: Bodies, padding_px: float, *, way: float, may_turn: bool
) -> None:
    """Two pieces stay apart along the line on which they are nearest to each other."""
    first, second, normal = _neighbours(bodies, padding_px + REACH * way)
    ahead, reach = _foremost(bodies, first, normal, CORNERS if may_turn else 1)
    behind, depth = _foremost(bodies, second, -normal, CORNERS if may_turn else 1)
    a, b = bodies.owner[first], bodies.owner[second]
    count, scale = len(bodies.middle), bodies.scale
    for i in range(ahead.shape[1]):
        for j in range(behind.shape[1]):
            slack = scale * (reach[:, 0] - reach[:, i] + depth[:, 0] - depth[:, j])
            near = slack < REACH * way
            n, a_near, b_near = normal[near], a[near], b[near]
            terms: list[tuple[Any, FloatArray]] = [(0, (reach[:, i] + depth[:, j])[near])]
            for axis in (0, 1):
                terms.append((1 + 2 * a_near + axis, n[:, axis]))
                terms.append((1 + 2 * b_near + axis, -n[:, axis]))
            if may_turn:
                for owner, corner, sign in (
                    (a_near, ahead[near, i], 1),
                    (b_near, behind[near, j], -1),
                ):
                    v = bodies.corner[corner]
                    lever = n[:, 1] * v[:, 0] - n[:, 0] * v[:, 1]
                    terms.append((1 + 2 * count + owner, sign * scale * lever))
            rows.add(terms, np.full(len(n), -padding_px))


def _measure_turns(rows: _Rows, off: FloatArray) -> None:
    """Let the last columns be at least how far each block is turned from lying straight."""
    turn, far = 1 + 2 * len(off) + np.arange(len(off)), 1 + 3 * len(off) + np.arange(len(off))
    for sign in (1.0, -1.0):
        rows.add([(turn, np.full(len(off), sign)), (far, -np.ones(len(off)))], -sign * off)


def _keep_inside(rows: _Rows, bodies: Bodies, room_px: Room, *, way: float, may_turn: bool) -> None:
    place, owner, count = bodies.placed(), bodies.corner_owner, len(bodies.middle)
    for axis in (0, 1):
        for sign, limit in zip((-1.0, 1.0), room_px[axis], strict=True):
            near = np.flatnonzero(sign * (limit - place[:, axis]) < REACH * way)
            v, own = bodies.corner[near], owner[near]
            terms: list[tuple[Any, FloatArray]] = [
                (0, sign * v[:, axis]),
                (1 + 2 * own + axis, np.full(len(own), sign)),
            ]
            if may_turn:
                lever = -v[:, 1] if axis == 0 else v[:, 0]
                terms.append((1 + 2 * count + own, sign * bodies.scale * lever))
            rows.add(terms, np.full(len(own), sign * limit))


def _neighbours(bodies: Bodies, near_px: float) -> tuple[Numbers, Numbers, FloatArray]:
    """Return pairs of pieces of different blocks in one tile, and the way from one to the other."""
    import shapely

    place, piece = bodies.placed(), np.repeat(np.arange(len(bodies.owner)), np.diff(bodies.start))
    shape: Any = shapely.polygons(shapely.linearrings(place, indices=piece))
    first, second = shapely.STRtree(shape).query(shape, predicate="dwithin", distance=near_px)
    a, b = bodies.owner[first], bodies.owner[second]
    is_pair: BoolArray = (a < b) & (bodies.tile[a] == bodies.tile[b])
    first, second = first[is_pair], second[is_pair]
    line = shapely.get_coordinates(shapely.shortest_line(shape[first], shape[second]))
    way = np.diff(line.reshape(-1, 2, 2), axis=1)[:, 0]
    gap = np.hypot(*way.T)
    normal = way / np.maximum(gap, TOUCHING)[:, None]
    for pair in np.flatnonzero(gap < TOUCHING):
        one, other = (
            place[bodies.start[number] : bodies.start[number + 1]]
            for number in (first[pair], second[pair])
        )
        normal[pair] = _way_out(one, other)
    return first, second, normal


def _way_out(values: FloatArray, other: FloatArray) -> FloatArray:
    """Return the normal along which two overlapping convex pieces overlap least."""
    edge = np.vstack([np.roll(values, -1, axis=0) - values, other - np.roll(other, -1, axis=0)])
    length = np.hypot(*edge.T)
    edge = edge[length > 0] / length[length > 0, None]
    normal = np.stack([edge[:, 1], -edge[:, 0]], axis=1)
    gap = (normal @ other.T).min(axis=1) - (normal @ values.T).max(axis=1)
    best: FloatArray = normal[int(np.argmax(gap))]
    return best


def _foremost(
    bodies: Bodies, piece: Numbers, normal: FloatArray, most: int
) -> tuple[Numbers, FloatArray]:
    """Return (K, m) corners of pieces that lie farthest along a direction, and how far.

    -inf where a piece has fewer.
    """
    size = np.diff(bodies.start)[piece]
    number = np.arange(int(size.max(initial=most)))
    corner = bodies.start[piece][:, None] + np.minimum(number, size[:, None] - 1)
    height = np.einsum("ki,kmi->km", normal, bodies.corner[corner])
    height = np.where(number < size[:, None], height, -np.inf)
    order = np.argsort(-height, axis=1)[:, :most]
    return np.take_along_axis(corner, order, 1), np.take_along_axis(height, order, 1)
