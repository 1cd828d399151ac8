"""What the packer moves: islands, or stacks of them, as lines in texels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.islands.shape import island_shapes
from evenweave.measure.outline.outline import outlines
from evenweave.measure.outline.residual import residual_edges
from evenweave.measure.results import Stacks


@dataclass(frozen=True, eq=False)
class Block:
    """One island, or all members of a stack, which move as one.

    islands : the members; line_px : (S, 4) float64 lines x0, y0, x1, y1 that bound it
    fill_px : (E, 4) float64 edges with the covered side on their left, fill_weight : (E,) int32
    area_px : texels it covers; outline_px : length of what bounds them
    grid_degrees : turn of its dominant edges from the texel grid, NaN where it has none
    """

    islands: tuple[int, ...]
    line_px: FloatArray
    fill_px: FloatArray
    fill_weight: IntArray
    area_px: float
    outline_px: float
    grid_degrees: float

    def turned(self, degrees: float) -> TurnedBlock:
        """Return the block turned counter-clockwise, its lowest corner at the origin."""
        turn = turn_matrix(degrees)
        line = (self.line_px.reshape(-1, 2) @ turn).reshape(-1, 4)
        fill = (self.fill_px.reshape(-1, 2) @ turn).reshape(-1, 4)
        corners = line.reshape(-1, 2)
        low = corners.min(axis=0)
        size = corners.max(axis=0) - low
        return TurnedBlock(line - np.tile(low, 2), fill - np.tile(low, 2), turn, low, size)

    def straight_degrees(self) -> float:
        """Return the turn, from -45 to 45, that lays it parallel to the texel grid.

        By its dominant edges, or else by its smallest rectangle.
        """
        if np.isfinite(self.grid_degrees):
            return -self.grid_degrees
        import shapely

        box = shapely.minimum_rotated_rectangle(shapely.MultiPoint(self.line_px.reshape(-1, 2)))
        corner = shapely.get_coordinates(box)
        if len(corner) < 2:
            return 0.0
        along = corner[1] - corner[0]
        angle = float(np.degrees(np.arctan2(along[1], along[0])))
        return -((angle + 45.0) % 90.0 - 45.0)


@dataclass(frozen=True, eq=False)
class TurnedBlock:
    """A block's copy: a point x, (2,) row in texels, has become x @ turn - low.

    line_px, fill_px : as in `Block`; size_px : (2,) width and height
    """

    line_px: FloatArray
    fill_px: FloatArray
    turn: FloatArray
    low: FloatArray
    size_px: FloatArray


def turn_matrix(degrees: float) -> FloatArray:
    """Return (2, 2) float64: rows @ it are turned counter-clockwise; exact at quarter turns."""
    quarters, rest = divmod(degrees, 90.0)
    angle = np.radians(rest)
    c, s = float(np.cos(angle)), float(np.sin(angle))
    for _ in range(int(quarters) % 4):
        c, s = -s, c
    return np.array([[c, s], [-s, c]])


def blocks(layout: Layout, tile: Tile, stacks: Stacks) -> tuple[Block, ...]:
    """Return the blocks of a layout, by first island. A stack is told by its first member."""
    size = np.array([tile.width, tile.height], dtype=np.float64)
    lines, edges = outlines(layout), residual_edges(layout)
    grid_degrees = island_shapes(lines, tile).grid_angle_degrees
    members = {group[0]: group for group in stacks.group}
    others = {island for group in stacks.group for island in group[1:]}
    found = []
    for island in range(layout.island_count):
        if island in others:
            continue
        own = slice(lines.start[island], lines.start[island + 1])
        inner = slice(edges.island_start[island], edges.island_start[island + 1])
        ends = np.stack([edges.start[inner], edges.end[inner]], axis=1)
        fill = (layout.uv[ends] * size).reshape(-1, 4)
        length = np.hypot(fill[:, 2] - fill[:, 0], fill[:, 3] - fill[:, 1])
        found.append(
            Block(
                islands=members.get(island, (island,)),
                line_px=frozen((layout.uv[lines.line[own]] * size).reshape(-1, 4)),
                fill_px=frozen(fill),
                fill_weight=frozen(edges.weight[inner]),
                area_px=float(edges.area[island]) * tile.width * tile.height,
                outline_px=float(length.sum()),
                grid_degrees=float(grid_degrees[island]),
            )
        )
    return tuple(found)
