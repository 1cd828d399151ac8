"""Shape of islands: strips and how far they bend, turn from the texel grid, slimness."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.islands.shape_kernels import dominant_angles, short_sides, trace_loops
from evenweave.measure.islands.strip_kernels import measure_strips
from evenweave.measure.outline.outline import Outlines, outlines
from evenweave.measure.results import Shape

SLENDERNESS = 4.0
"""A strip is at least this many times as long as it is wide."""

DOMINANT = 0.25
"""Share of the outline that must run one way, or across it, to be called a direction."""

HOLES = 0.01
"""An island whose holes take more than this share of it is no strip."""


def measure_shape(layout: Layout, tile: Tile) -> Shape:
    """Return the shape of every island, see `island_shapes`."""
    return island_shapes(outlines(layout), tile)


def island_shapes(outlines: Outlines, tile: Tile) -> Shape:
    """Return strips, dominant direction and shorter side of every island, in texels.

    A strip has one loop whose two long outlines run side by side at an even distance, without
    corners or jags, at least four times as long as wide; its width is area over length, its
    bow the greatest distance of its middle line from the straight line between its ends, over
    its length. A strip bent to an arc of angle t has the bow (1 - cos(t / 2)) / t.

    The grid angle is that of the direction, modulo 90 degrees, that most of the outline runs
    along, NaN where less than a quarter does. The shorter side is that of the least-area
    rectangle round the island.
    """
    xy = outlines.uv * np.array([tile.width, tile.height], dtype=np.float64)
    line_xy = np.ascontiguousarray(xy[outlines.line].reshape(-1, 4))
    start, end = outlines.start[:-1], outlines.folded_start
    length, width, bow = _strips(outlines, xy)
    return Shape(
        strip_length_px=frozen(length),
        strip_width_px=frozen(width),
        bow=frozen(bow),
        grid_angle_degrees=frozen(dominant_angles(line_xy, start, end, DOMINANT)),
        short_side_px=frozen(short_sides(line_xy, outlines.start)),
    )


def _strips(outlines: Outlines, xy: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return (I,) length, width and bow of islands that are strips."""
    order, loop_start, loop_island, is_closed = trace_loops(
        outlines.line, outlines.start[:-1], outlines.folded_start, len(xy)
    )
    corner = xy[outlines.line[order, 0]]
    is_outer = _outer_loops(_loop_areas(corner, loop_start), loop_island, is_closed)
    found = measure_strips(np.ascontiguousarray(corner), loop_start, is_outer, SLENDERNESS)
    result = []
    for values in found:
        island_values = np.full(outlines.island_count, np.nan)
        island_values[loop_island[is_outer]] = values[is_outer]
        result.append(island_values)
    return result[0], result[1], result[2]


def _loop_areas(corner: FloatArray, loop_start: IntArray) -> FloatArray:
    """Return (L,) absolute area of loops of corners, (N, 2)."""
    if len(corner) == 0:
        return np.zeros(0)
    following = np.arange(1, len(corner) + 1)
    following[loop_start[1:] - 1] = loop_start[:-1]
    origin = np.repeat(corner[loop_start[:-1]], np.diff(loop_start), axis=0)
    here, after = corner - origin, corner[following] - origin
    cross = here[:, 0] * after[:, 1] - here[:, 1] * after[:, 0]
    return np.abs(np.add.reduceat(cross, loop_start[:-1])) / 2.0


def _outer_loops(area: FloatArray, island: IntArray, is_closed: BoolArray) -> BoolArray:
    """Return (L,) bool: the only loop, or by far the largest, of an island of closed loops."""
    if len(area) == 0:
        return np.zeros(0, dtype=np.bool_)
    count = int(island.max()) + 1
    total = np.bincount(island, weights=area, minlength=count)
    is_open = np.bincount(island, weights=~is_closed, minlength=count) > 0
    return (area > 0.0) & (area >= (1.0 - HOLES) * total[island]) & ~is_open[island]
