"""The arrangement's own proofs: windings, areas by depth, agreement round every point."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from tests.measure.drawing import box, drawn, random_convex, ring
from tests.measure.overlapping import one_island, star, triangle_polygons

from evenweave.layout.layout import Layout
from evenweave.measure.outline.residual import ResidualEdges, residual_edges
from evenweave.measure.overlap import crossing_kernels
from evenweave.measure.overlap.arrangement import (
    Arrangement,
    Segments,
    arrange,
    as_segments,
    is_sound,
    make_grid,
)

pytestmark = pytest.mark.kernels

SEEDS = st.integers(0, 10**6)
QUIET = settings(deadline=None, max_examples=25, derandomize=True)


def crumpled(seed: int, count: int = 40) -> Layout:
    """Return one island of triangles with random corners."""
    uv = np.random.default_rng(seed).uniform(0, 1, (count, 2))
    return one_island(uv, [[k, k + 1, k + 2] for k in range(count - 2)])


def arranged(layout: Layout) -> tuple[Segments, Arrangement]:
    edges = residual_edges(layout)
    segments = as_segments(edges, np.ones(layout.island_count, dtype=bool))
    arrangement = arrange(segments, make_grid(segments))
    assert arrangement is not None
    return segments, arrangement


def winding(edges: ResidualEdges, point: NDArray[np.float64]) -> int:
    """Return the winding number at a point, by crossings of the ray towards +u."""
    a, b = edges.uv[edges.start], edges.uv[edges.end]
    crosses = (a[:, 1] <= point[1]) != (b[:, 1] <= point[1])
    a, b, weight = a[crosses], b[crosses], edges.weight[crosses]
    u = a[:, 0] + (point[1] - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
    return int((np.where(b[:, 1] > a[:, 1], 1, -1) * weight)[u > point[0]].sum())


def areas_by_depth(arrangement: Arrangement) -> NDArray[np.float64]:
    """Return the area covered at least once, twice, ... in tile units squared."""
    depth = np.repeat(arrangement.depth, np.diff(arrangement.chain_start), axis=0)
    a, b = (arrangement.position[arrangement.points[:, k]] for k in range(2))
    cross = (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / 2
    return np.array(
        [
            (cross * ((depth[:, 0] >= k) * 1.0 - (depth[:, 1] >= k))).sum()
            for k in range(1, int(depth.max()) + 1)
        ]
    )


@QUIET
@given(seed=SEEDS)
def test_residual_edges_wind_once_for_each_triangle_over_a_point(seed: int) -> None:
    layout = crumpled(seed)
    polygons, _ = triangle_polygons(layout)
    edges = residual_edges(layout)
    for point in np.random.default_rng(seed).uniform(0, 1, (20, 2)):
        assert winding(edges, point) == shapely.contains_xy(polygons, *point).sum()


@QUIET
@given(seed=SEEDS, count=st.sampled_from([3, 6, 40]))
def test_areas_by_depth_sum_to_the_triangles_area(seed: int, count: int) -> None:
    layout = crumpled(seed, count)
    polygons, _ = triangle_polygons(layout)
    segments, arrangement = arranged(layout)
    areas = areas_by_depth(arrangement)
    assert is_sound(arrangement, segments)
    assert arrangement.depth.min() == 0
    assert areas.sum() == pytest.approx(shapely.area(polygons).sum(), rel=1e-12)
    assert areas.sum() == pytest.approx(residual_edges(layout).area.sum(), rel=1e-12)
    assert areas[0] == pytest.approx(shapely.union_all(polygons).area, rel=1e-9)


def test_a_wrong_depth_is_noticed() -> None:
    segments, arrangement = arranged(drawn(random_convex(20, 1, extent=30)))
    assert is_sound(arrangement, segments)
    depth = arrangement.depth.copy()
    depth[len(depth) // 2] += 1
    assert not is_sound(replace(arrangement, depth=depth), segments)


@pytest.mark.parametrize(
    "island",
    [box(4, 4, 20, 20), ring(4, 4, 40, 40, 8), star(9, 20, 3)],
    ids=["box", "ring", "star"],
)
@pytest.mark.parametrize("is_mirrored", [False, True])
def test_the_residual_edges_of_a_plain_island_are_its_outline(
    island: Any, is_mirrored: bool
) -> None:
    if is_mirrored:
        island = [np.asarray(polygon)[::-1] for polygon in island]
    layout = drawn([island])
    edges = residual_edges(layout)
    polygons, _ = triangle_polygons(layout)
    rim = shapely.union_all(polygons).normalize()
    lines = shapely.linestrings(np.stack((edges.uv[edges.start], edges.uv[edges.end]), axis=1))
    assert shapely.equals(shapely.union_all(lines).normalize(), rim.boundary.normalize())
    assert edges.winding.tolist() == [-1 if is_mirrored else 1]
    assert (edges.weight == 1).all()
    a, b = edges.uv[edges.start], edges.uv[edges.end]
    assert (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum() / 2 == pytest.approx(rim.area)


def test_a_flipped_triangle_inside_an_island_leaves_all_its_sides() -> None:
    # The middle of a fan of six is pulled out over one side: two triangles turn over.
    turn = np.pi * np.arange(6) / 3
    uv = np.concatenate([np.column_stack([np.cos(turn), np.sin(turn)]) * 0.2, [(0.3, 0.0)]]) + 0.5
    layout = one_island(uv, [[k, (k + 1) % 6, 6] for k in range(6)])
    edges = residual_edges(layout)
    polygons, _ = triangle_polygons(layout)
    assert edges.winding.tolist() == [0]
    random = np.random.default_rng(0)
    for point in random.uniform(0.2, 0.9, (200, 2)):
        assert winding(edges, point) == shapely.contains_xy(polygons, *point).sum()


@pytest.mark.parametrize("axis", [0, 1])
def test_long_needles_take_no_more_room_than_short_ones(axis: int) -> None:
    start = np.random.default_rng(1).uniform(0, 64, (3000, 2))
    end, side = start.copy(), np.full(2, 1e-3)
    end[:, axis] += 500
    layout = drawn([[[a, b, b + side]] for a, b in zip(start, end, strict=True)])
    segments = as_segments(residual_edges(layout), np.ones(layout.island_count, dtype=bool))
    grid = make_grid(segments)
    assert len(grid.span) <= 10 * 9000 + 1024
    assert len(grid.cell_segment) <= 4 * (10 * 9000 + 1024)
    assert len(grid.columns) > 2


def test_points_nearer_than_the_radius_are_one_across_cell_borders() -> None:
    random = np.random.default_rng(2)
    places = random.integers(-40, 40, (500, 2)) / 8.0
    points = places + random.uniform(-0.4, 0.4, places.shape) * 1e-3
    first = crossing_kernels.welded(points, 1e-3)
    for k in range(500):
        same = np.flatnonzero((places == places[k]).all(axis=1))
        assert first[k] == same[0]
