"""What the packer moves: islands, or stacks of them, as lines in texels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.outline import outlines
from evenweave.measure.residual import residual_edges
from evenweave.measure.results import Stacks


@dataclass(frozen=True, eq=False)
class Block:
    """One island, or all members of a stack, which move as one.

    islands : the members; line_px : (S, 4) float64 lines x0, y0, x1, y1 that bound it
    fill_px : (E, 4) float64 edges with the covered side on their left, fill_weight : (E,) int32
    area_px : texels it covers; outline_px : length of what bounds it
    """

    islands: tuple[int, ...]
    line_px: FloatArray
    fill_px: FloatArray
    fill_weight: IntArray
    area_px: float
    outline_px: float

    def turned(self, degrees: float) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Return lines and edges turned and moved to the origin, the (2, 2) turn's transpose, and
        the (2,) lowest corner before moving: x @ turn - low is the new place of a point.
        """
        turn = turn_matrix(degrees)
        line = (self.line_px.reshape(-1, 2) @ turn).reshape(-1, 4)
        fill = (self.fill_px.reshape(-1, 2) @ turn).reshape(-1, 4)
        low = line.reshape(-1, 2).min(axis=0)
        return line - np.tile(low, 2), fill - np.tile(low, 2), turn, low


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
    members = {group[0]: group for group in stacks.group}
    others = {island for group in stacks.group for island in group[1:]}
    found = []
    for island in range(layout.island_count):
        if island in others:
            continue
        own = slice(lines.start[island], lines.start[island + 1])
        inner = slice(edges.island_start[island], edges.island_start[island + 1])
        line = (layout.uv[lines.line[own]] * size).reshape(-1, 4)
        ends = np.stack([edges.start[inner], edges.end[inner]], axis=1)
        fill = (layout.uv[ends] * size).reshape(-1, 4)
        weight = edges.weight[inner]
        length = np.hypot(fill[:, 2] - fill[:, 0], fill[:, 3] - fill[:, 1])
        found.append(
            Block(
                islands=members.get(island, (island,)),
                line_px=frozen(line),
                fill_px=frozen(fill),
                fill_weight=frozen(weight),
                area_px=float(edges.area[island]) * tile.width * tile.height,
                outline_px=float(length.sum()),
            )
        )
    return tuple(found)
