"""Layouts drawn in texels: islands as lists of convex polygons."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from tests import shapes

from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.results import Overlap, Stacks

Polygons = Sequence[ArrayLike]

TILE = Tile(64, 64)


def drawn(islands: Sequence[Polygons], tile: Tile = TILE) -> Layout:
    """Return a layout whose island k consists of the polygons islands[k], corners in texels.

    Every island lies flat at a height of its own, so that no two share an edge.
    """
    if not islands:
        return build_layouts(shapes.asset([(0, 0, 0), (1, 0, 0), (0, 1, 0)], [(0, 1, 2)]))[0]
    position: list[NDArray[Any]] = []
    faces: list[list[int]] = []
    count = 0
    for k, polygons in enumerate(islands):
        for polygon in polygons:
            corners = np.asarray(polygon, dtype=np.float64) / (tile.width, tile.height)
            position.append(np.column_stack([corners, np.full(len(corners), float(k))]))
            faces.append(list(range(count, count + len(corners))))
            count += len(corners)
    points = np.concatenate(position)
    layouts = build_layouts(shapes.asset(points, faces, points[:, :2]))
    assert sum(layout.island_count for layout in layouts) == len(islands)
    return layouts[0]


def box(x0: float, y0: float, x1: float, y1: float) -> list[list[tuple[float, float]]]:
    """Return an island that is a rectangle."""
    return [[(x0, y0), (x1, y0), (x1, y1), (x0, y1)]]


def ring(x0: float, y0: float, x1: float, y1: float, width: float) -> list[Any]:
    """Return an island that is a rectangular frame."""
    inner = np.array([(x0 + width, y0 + width), (x1 - width, y0 + width),
                      (x1 - width, y1 - width), (x0 + width, y1 - width)])  # fmt: skip
    outer = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    following = np.roll(np.arange(4), -1)
    return [
        [outer[k], outer[n], inner[n], inner[k]] for k, n in zip(range(4), following, strict=True)
    ]


def bent_strip(
    angle: float, *, length: float = 40.0, width: float = 4.0, cells: int = 48
) -> list[Any]:
    """Return a strip of this length along its middle, bent to an arc of this angle (radians)."""
    along = np.linspace(-0.5, 0.5, cells + 1)
    sides = []
    for offset in (-width / 2, width / 2):
        if angle == 0.0:
            sides.append(np.column_stack([along * length, np.full(cells + 1, offset)]))
        else:
            radius = length / angle
            turn = along * angle
            sides.append(
                np.column_stack(
                    [(radius - offset) * np.sin(turn), radius - (radius - offset) * np.cos(turn)]
                )
            )
    low, high = sides
    return [[low[k], low[k + 1], high[k + 1], high[k]] for k in range(cells)]


def placed(island: Polygons, *, turn: float = 0.0, at: tuple[float, float] = (0, 0)) -> list[Any]:
    """Return the island turned (radians, about the origin) and then moved."""
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return [np.asarray(polygon) @ matrix.T + np.asarray(at) for polygon in island]


def random_convex(count: int, seed: int, *, extent: float = 64.0, size: float = 6.0) -> list[Any]:
    """Return islands that are random convex polygons somewhere in a square of `extent`."""
    random = np.random.default_rng(seed)
    islands = []
    for _ in range(count):
        turn = np.sort(random.uniform(0, 2 * np.pi, random.integers(3, 9)))
        while len(turn) < 3 or np.diff(turn, append=turn[0] + 2 * np.pi).max() > 3.0:
            turn = np.sort(random.uniform(0, 2 * np.pi, random.integers(3, 9)))
        radius = random.uniform(0.3, 1.0) * size
        middle = random.uniform(size, extent - size, 2)
        islands.append([np.column_stack([np.cos(turn), np.sin(turn)]) * radius + middle])
    return islands


def no_stacks(layout: Layout) -> Stacks:
    """Return that no islands are stacked."""
    return stacked(layout)


def stacked(layout: Layout, *groups: tuple[int, ...]) -> Stacks:
    """Return that these groups of islands are stacks."""
    count = layout.island_count
    return Stacks(groups, (), (), np.zeros(count, dtype=bool), np.arange(count, dtype=np.int32))


def no_overlap() -> Overlap:
    """Return that nothing overlaps."""
    return Overlap(
        np.zeros((0, 2), dtype=np.int32), np.zeros(0), np.zeros((0, 2)), (),
        np.zeros((0, 2, 2)), 0.0, 0,
    )  # fmt: skip
