"""Plain references for overlap, and islands that overlap."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from tests import shapes
from tests.measure.drawing import TILE, no_stacks

from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.overlap.overlap import measure_overlap
from evenweave.measure.results import Overlap

Pairs = dict[tuple[int, int], float]


def overlap_of(layout: Layout, tile: Tile = TILE) -> Overlap:
    """Return the overlap of a layout without stacks."""
    return measure_overlap(layout, tile, no_stacks(layout))


def pairs_of(overlap: Overlap) -> Pairs:
    """Return the areas by pair."""
    rows = zip(overlap.pair.tolist(), overlap.pair_area_px.tolist(), strict=True)
    return {(a, b): area for (a, b), area in rows}


def one_island(uv: ArrayLike, faces: Sequence[Sequence[int]]) -> Layout:
    """Return faces that are one island whatever their texture, given in tile units.

    In 3D they stand on a parabola of their own, so that no two points share a place.
    """
    uv = np.asarray(uv, dtype=np.float64)
    number = np.arange(len(uv), dtype=np.float64)
    position = np.column_stack([number, number**2 / len(uv), number % 3])
    layout = build_layouts(shapes.asset(position, faces, uv))[0]
    assert layout.island_count == 1
    return layout


def strip(*corners: tuple[float, float], width: float) -> Layout:
    """Return an island of quads from a line of corners: each quad reaches up by `width`."""
    low = np.asarray(corners, dtype=np.float64)
    uv = np.concatenate([low, low + np.array([0.0, width])])
    n = len(low)
    return one_island(uv, [[k, k + 1, n + k + 1, n + k] for k in range(n - 1)])


def triangle_polygons(layout: Layout) -> tuple[NDArray[Any], NDArray[np.int32]]:
    """Return the triangles with area as shapely polygons in tile units, and their islands."""
    corner = layout.uv[layout.corner_uv[layout.triangle_corner]]
    polygons = shapely.polygons(corner)
    has_area = shapely.area(polygons) > 0
    return polygons[has_area], layout.face_island[layout.triangle_face][has_area]


def brute_force(layout: Layout, tile: Tile = TILE) -> tuple[Pairs, float]:
    """Return the areas by pair, and in all, from every intersection of two triangles."""
    polygons, island = triangle_polygons(layout)
    one, other = shapely.STRtree(polygons).query(polygons, predicate="intersects")
    one, other = one[one < other], other[one < other]
    common = shapely.intersection(polygons[one], polygons[other])
    is_area = shapely.area(common) > 1e-15
    parts: dict[tuple[int, int], list[Any]] = {}
    for a, b, part in zip(
        island[one[is_area]].tolist(), island[other[is_area]].tolist(), common[is_area], strict=True
    ):
        parts.setdefault((min(a, b), max(a, b)), []).append(part)
    px = tile.width * tile.height
    areas = {pair: shapely.union_all(some).area * px for pair, some in parts.items()}
    return areas, shapely.union_all(common[is_area]).area * px


def star(corners: int, reach: float, seed: int, middle: tuple[float, float] = (32, 32)) -> Any:
    """Return a star-shaped island of triangles round its middle, unlike others of other seeds."""
    random = np.random.default_rng(seed)
    turn = 2 * np.pi * np.arange(corners) / corners
    radius = reach * random.uniform(0.75, 1.0, corners)
    rim = np.column_stack([np.cos(turn), np.sin(turn)]) * radius[:, None] + middle
    return [[middle, rim[k], rim[(k + 1) % corners]] for k in range(corners)]
