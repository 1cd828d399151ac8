"""The winding arrangement of residual edges: pieces that meet at ends only, with both depths."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray
from evenweave.measure.outline.residual import ResidualEdges
from evenweave.measure.overlap import crossing_kernels, grid_kernels, piece_kernels, winding_kernels

CROSSING_TESTS = 10_000_000
_MOST_LINES = 4096
_CROWDED = 16.0
# Rows that a segment may pass on average, and cells in each of them.
_ROOM, _CELLS = 10, 4
# Chains as short as rounding may be seen on the wrong side of a neighbour.
_DISAGREEMENT = 1e5


@dataclass(frozen=True, eq=False)
class Segments:
    """Directed segments with the covered side on their left.

    segment : (E, 4) float64 x0, y0, x1, y1; ends : (E, 2) int32 points
    length : (E,); weight : (E,) int32; island : (E,) int32
    point : (N, 2) float64 the points that `ends` numbers; origin : (2,) uv of the coordinates'
    origin; slack : what counts as touching
    """

    segment: FloatArray
    ends: IntArray
    length: FloatArray
    weight: IntArray
    island: IntArray
    point: FloatArray
    origin: FloatArray
    slack: float


@dataclass(frozen=True, eq=False)
class Grid:
    """See `grid_kernels`. columns, rows : lines; reference_x, reference_y : (columns,), (rows,)."""

    columns: FloatArray
    rows: FloatArray
    reference_x: FloatArray
    reference_y: FloatArray
    span: IntArray
    cell_start: IntArray
    cell_segment: IntArray
    depth: IntArray


@dataclass(frozen=True, eq=False)
class Arrangement:
    """Pieces of the segments in H chains; those with the same ends count as one piece.

    position : (N, 2) float64; points : (P, 2) int32 ends, along the chains
    chain_start : (H + 1,) int32; depth : (H, 2) int32 on the left and on the right
    longest : (H,) int32 longest piece; cell : (H,) int32 the cell of its middle
    own_start : (H + 1,), own_segment, own_sign : the segments that contain the longest piece,
    and whether they run its way (1) or the other (-1)
    """

    position: FloatArray
    points: IntArray
    chain_start: IntArray
    depth: IntArray
    longest: IntArray
    cell: IntArray
    own_start: IntArray
    own_segment: IntArray
    own_sign: IntArray


def as_segments(edges: ResidualEdges, is_kept: BoolArray) -> Segments:
    """Return the edges of the (I,) islands that are kept, about a whole-numbered origin."""
    u, v = edges.uv[:, 0], edges.uv[:, 1]
    origin = np.floor([u.min(), v.min()])
    extent = float(max(u.max() - u.min(), v.max() - v.min()))
    segment, ends, length, edge, point = grid_kernels.segments_of(
        edges.uv, edges.start, edges.end, edges.island, is_kept, origin
    )
    return Segments(
        segment=segment,
        ends=ends,
        length=length,
        weight=edges.weight[edge],
        island=edges.island[edge],
        point=point,
        origin=origin,
        slack=1e-12 * max(1.0, extent / 1000),
    )


def make_grid(segments: Segments) -> Grid:
    """Lay a grid over the segments; lines are added until its cells hold few segments each.

    There are fewer lines where the segments are so long that they would fill too many cells.
    """
    pad = 4 * segments.slack
    room = _ROOM * len(segments.segment) + 1024
    count = int(np.clip(np.sqrt(len(segments.segment) / 2), 1, _MOST_LINES))
    crowd, is_final = np.inf, False
    while True:
        columns = _lines(segments.segment[:, 0], segments.segment[:, 2], count)
        rows = _lines(segments.segment[:, 1], segments.segment[:, 3], count)
        span = grid_kernels.spans(segments.segment, columns, rows, pad, room)
        counts = grid_kernels.cell_counts(span, len(columns) - 1, len(rows) - 1)
        entries = int(counts.sum())
        if count > 1 and (entries == 0 or entries > _CELLS * room):
            count, is_final = count // 2, True
            continue
        now = float(np.dot(counts, counts)) / entries
        fullest = max(len(span), entries // _CELLS, count * count // _CELLS)
        is_final |= now < _CROWDED or now > 0.8 * crowd or 4 * fullest > 2 * room
        if is_final or 2 * count > _MOST_LINES:
            break
        crowd, count = now, 2 * count
    cell_start = np.cumsum(counts)
    reference_x = columns[:-1] + 0.4877 * np.diff(columns)
    reference_y = rows[:-1] + 0.5123 * np.diff(rows)
    return Grid(
        columns=columns,
        rows=rows,
        reference_x=reference_x,
        reference_y=reference_y,
        span=span,
        cell_start=cell_start,
        cell_segment=grid_kernels.cell_lists(span, cell_start, len(columns) - 1),
        depth=grid_kernels.reference_depths(
            segments.segment, segments.weight, span, columns, reference_x, reference_y
        ),
    )


def _lines(start: FloatArray, end: FloatArray, count: int) -> FloatArray:
    """Return ascending lines with about the same number of ends between each two."""
    values = np.sort(start[:: max(1, len(start) // (8 * count))])
    picked = values[np.linspace(0, len(values) - 1, count + 1).astype(np.int64)[1:-1]]
    above = values[np.minimum(np.searchsorted(values, picked, "right"), len(values) - 1)]
    inner = np.unique(picked + 0.382 * (above - picked))
    low, high = min(start.min(), end.min()), max(start.max(), end.max())
    margin = 0.01 * (high - low) + 1e-6
    inner = inner[(inner > low) & (inner < high)]
    return np.concatenate(([low - margin], inner, [high + margin]))


def arrange(segments: Segments, grid: Grid) -> Arrangement | None:
    """Cut the segments where they meet; None where that would take too many tests."""
    pairs, tests = crossing_kernels.meeting_pairs(
        segments.segment, segments.ends, segments.length, grid.cell_start, grid.cell_segment,
        len(grid.reference_x), segments.slack, CROSSING_TESTS,
    )  # fmt: skip
    if tests > CROSSING_TESTS:
        return None
    position, cut_points, cut_segment = _cut(segments, pairs)
    unique, own = _merge(cut_points, cut_segment)
    chain_start, order, way = piece_kernels.chains(unique, len(position))
    points = np.where(way[:, None] > 0, unique[order], unique[order][:, ::-1])
    points = np.ascontiguousarray(points)
    longest = piece_kernels.longest_pieces(chain_start, points, position)
    own_start, own_segment, own_sign = own.of(order[longest], way[longest])
    signed = own_sign * segments.weight[own_segment]
    net = np.add.reduceat(signed, own_start[:-1]).astype(np.int32)
    cell = winding_kernels.middle_cells(points[longest], position, grid.columns, grid.rows)
    depth = winding_kernels.side_depths(
        points[longest], position, net, own_start, own_segment, segments.segment,
        segments.weight, cell, grid.cell_start, grid.cell_segment, grid.reference_x,
        grid.reference_y, grid.depth,
    )  # fmt: skip
    return Arrangement(
        position, points, chain_start, depth, longest, cell, own_start, own_segment, own_sign
    )


def is_sound(arrangement: Arrangement, segments: Segments) -> bool:
    """Tell whether the depths found for the chains agree with one another round every point."""
    length = piece_kernels.disagreement(
        arrangement.chain_start, arrangement.points, arrangement.position, arrangement.depth
    )
    return bool(length <= _DISAGREEMENT * segments.slack)


def _cut(segments: Segments, pairs: IntArray) -> tuple[FloatArray, IntArray, IntArray]:
    """Return all points, and the ends and the segment of each piece."""
    count = len(segments.point)
    number = crossing_kernels.merged(pairs)
    pairs = pairs[np.diff(np.maximum.accumulate(number), prepend=-1) > 0]
    split_segment, share, split_point, crossing = crossing_kernels.splits(
        segments.segment, segments.ends, segments.length, pairs, segments.slack, count
    )
    if len(crossing):
        touched = np.unique(split_point[split_point < count])
        known = np.concatenate((touched, np.arange(count, count + len(crossing), dtype=np.int32)))
        first = crossing_kernels.welded(
            np.concatenate((segments.point[touched], crossing)), 2 * segments.slack
        )
        is_crossing = split_point >= count
        place = split_point[is_crossing] - count + len(touched)
        split_point[is_crossing] = known[first[place]]
    points, segment = crossing_kernels.pieces(segments.ends, split_segment, share, split_point)
    return np.concatenate((segments.point, crossing)), points, segment


@dataclass(frozen=True, eq=False)
class _Owners:
    """start : (P + 1,), segment, sign : the segments that contain each piece."""

    start: IntArray
    segment: IntArray
    sign: IntArray

    def of(self, piece: IntArray, way: IntArray) -> tuple[IntArray, IntArray, IntArray]:
        """Return the same three arrays for some pieces, each turned round where way is -1."""
        size = self.start[piece + 1] - self.start[piece]
        start = np.concatenate(([0], np.cumsum(size))).astype(np.int32)
        at = np.arange(start[-1]) + np.repeat(self.start[piece] - start[:-1], size)
        return start, self.segment[at], self.sign[at] * np.repeat(way, size)


def _merge(points: IntArray, segment: IntArray) -> tuple[IntArray, _Owners]:
    """Count pieces with the same ends as one."""
    number = crossing_kernels.merged(points)
    count = int(number.max()) + 1
    if count == len(points):
        start = np.arange(count + 1, dtype=np.int32)
        return points, _Owners(start, segment, np.ones(count, dtype=np.int32))
    order = np.argsort(number, kind="stable")
    start = np.searchsorted(number[order], np.arange(count + 1)).astype(np.int32)
    unique = points[order[start[:-1]]]
    runs_along = points[order, 0] == np.repeat(unique[:, 0], np.diff(start))
    sign = np.where(runs_along, 1, -1).astype(np.int32)
    return unique, _Owners(start, segment[order], sign)
