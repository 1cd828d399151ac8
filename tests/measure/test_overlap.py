"""Overlap against closed forms, shapely, whole numbers and published fixtures."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests import shapes
from tests.measure.drawing import TILE, box, drawn, placed, random_convex, ring, stacked
from tests.measure.overlapping import (
    brute_force,
    one_island,
    overlap_of,
    pairs_of,
    star,
    strip,
    triangle_polygons,
)

from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.overlap.overlap import counted_overlap, measure_overlap

pytestmark = pytest.mark.kernels

SEEDS = st.integers(0, 10**6)
QUIET = settings(deadline=None, max_examples=25, derandomize=True)


def assert_like_brute_force(layout: Layout, tile: Tile = TILE) -> None:
    overlap = overlap_of(layout, tile)
    areas, total = brute_force(layout, tile)
    found = pairs_of(overlap)
    assert overlap.counted_at == 0
    for pair in found.keys() | {pair for pair, area in areas.items() if area > 1e-3}:
        assert found.get(pair, 0.0) == pytest.approx(areas.get(pair, 0.0), rel=1e-9, abs=1e-5)
    assert overlap.area_px == pytest.approx(total, rel=1e-9, abs=1e-5 * (1 + len(areas)))


def test_two_squares_overlap_where_both_are() -> None:
    overlap = overlap_of(drawn([box(4, 4, 20, 20), box(14, 12, 40, 40)]))
    assert pairs_of(overlap) == {(0, 1): 48.0}
    assert overlap.area_px == 48.0
    assert overlap.counted_at == 0
    common = shapely.box(14, 12, 20, 20)
    assert common.contains(shapely.Point(overlap.pair_point[0] * 64))
    assert shapely.Polygon(overlap.pair_patch[0] * 64).equals(common)
    outline = shapely.polygonize(list(shapely.linestrings(overlap.outline * 64)))
    assert outline.geoms[0].equals(common)


def test_texels_of_a_tile_that_is_not_square_are_counted_apart() -> None:
    layout = build_layouts(
        shapes.together(
            shapes.plane(1, 1, bounds=(0.0, 0.0, 0.5, 0.5), part="a"),
            shapes.moved(
                shapes.plane(1, 1, bounds=(0.25, 0.25, 1, 1), part="b"), np.eye(3), (5, 0, 0)
            ),
        )
    )[0]
    assert overlap_of(layout, Tile(512, 256)).area_px == 512 * 256 / 16


@pytest.mark.parametrize(
    "islands",
    [
        [box(4, 4, 20, 20), box(20, 4, 40, 20)],
        [box(4, 4, 20, 20), box(20, 20, 40, 40)],
        [box(4, 4, 20, 20), box(20, 8, 40, 12), box(20, 12, 40, 31)],
        [ring(4, 4, 40, 40, 8), box(12, 12, 32, 32)],
        [box(4, 4, 20, 20)],
    ],
    ids=["side", "corner", "part of a side", "filled hole", "alone"],
)
def test_islands_that_only_touch_do_not_overlap(islands: Any) -> None:
    overlap = overlap_of(drawn(islands))
    assert pairs_of(overlap) == {}
    assert overlap.area_px == 0.0
    assert len(overlap.outline) == 0


@QUIET
@given(turn=st.floats(0.0, 6.28), cut=st.floats(0.05, 0.95))
def test_a_shared_slanting_side_stays_one_when_its_corners_are_rounded(
    turn: float, cut: float
) -> None:
    # The corner between the two small islands is rounded off the large one's side.
    large, low, high = [(0, 0), (20, 0), (20, 20), (0, 20)], cut * 20, 20.0
    small = [
        [(20, 0), (30, 0), (30, low), (20, low)],
        [(20, low), (30, low), (30, high), (20, high)],
    ]
    islands = [placed([polygon], turn=turn, at=(32, 32)) for polygon in (large, *small)]
    assert pairs_of(overlap_of(drawn(islands, Tile(4096, 4096)), Tile(4096, 4096))) == {}


@QUIET
@given(turn=st.floats(0.0, 6.28))
def test_an_overlap_of_a_hundred_thousandth_of_the_tile_is_found(turn: float) -> None:
    tile, thin = Tile(4096, 4096), 4096 * 1e-5
    islands = [
        placed(box(0, 0, 800, 900), turn=turn, at=(2000, 2000)),
        placed(box(800 - thin, 100, 1600, 500), turn=turn, at=(2000, 2000)),
    ]
    found = pairs_of(overlap_of(drawn(islands, tile), tile))
    assert found[(0, 1)] == pytest.approx(thin * 400, abs=400 * 4096 * 2**-23)


@QUIET
@given(seed=SEEDS)
def test_rectangles_on_whole_texels_overlap_in_whole_texels(seed: int) -> None:
    random = np.random.default_rng(seed)
    covered = np.zeros((60, 64, 64), dtype=bool)
    islands = []
    for k in range(60):
        x, y = random.integers(0, 50, 2)
        width, height = random.integers(1, 14, 2)
        covered[k, y : y + height, x : x + width] = True
        islands.append(box(x, y, x + width, y + height))
    overlap = overlap_of(drawn(islands))
    common = np.einsum("ayx,byx->ab", covered.astype(int), covered.astype(int))
    expected = {
        (a, b): float(common[a, b]) for a in range(60) for b in range(a + 1, 60) if common[a, b]
    }
    assert pairs_of(overlap) == expected
    assert overlap.area_px == (covered.sum(axis=0) >= 2).sum()
    for (a, b), point in zip(overlap.pair, overlap.pair_point, strict=True):
        column, row = np.floor(point * 64).astype(int)
        assert covered[a, row, column]
        assert covered[b, row, column]


@QUIET
@given(seed=SEEDS, size=st.sampled_from([3.0, 10.0, 40.0]))
def test_convex_islands_overlap_as_shapely_says(seed: int, size: float) -> None:
    extent = 2 * size + 40
    assert_like_brute_force(drawn(random_convex(30, seed, extent=extent, size=size)))


@QUIET
@given(seed=SEEDS, count=st.sampled_from([3, 12, 60]))
def test_the_folds_of_a_crumpled_island_overlap_as_shapely_says(seed: int, count: int) -> None:
    # A strip of triangles with random corners folds and crosses itself all over.
    uv = np.random.default_rng(seed).uniform(0, 1, (count, 2))
    assert_like_brute_force(one_island(uv, [[k, k + 1, k + 2] for k in range(count - 2)]))


@QUIET
@given(seed=SEEDS)
def test_frames_with_holes_overlap_as_shapely_says(seed: int) -> None:
    random = np.random.default_rng(seed)
    islands = [
        placed(
            ring(0, 0, 24, 16, random.uniform(1, 7)),
            turn=random.uniform(0, 6), at=tuple(random.uniform(10, 50, 2)),
        )
        for _ in range(8)
    ]  # fmt: skip
    assert_like_brute_force(drawn(islands))


def test_an_island_inside_another_overlaps_with_all_its_area() -> None:
    overlap = overlap_of(drawn([box(4, 4, 60, 60), box(20, 20, 30, 30), box(22, 22, 24, 24)]))
    assert pairs_of(overlap) == {(0, 1): 100.0, (0, 2): 4.0, (1, 2): 4.0}
    assert overlap.area_px == 100.0


def test_an_island_in_the_hole_of_another_does_not_overlap() -> None:
    assert pairs_of(overlap_of(drawn([ring(4, 4, 60, 60, 10), box(20, 20, 30, 30)]))) == {}


def test_common_area_with_a_hole_has_its_point_outside_the_hole() -> None:
    overlap = overlap_of(drawn([ring(10, 10, 50, 50, 4), box(0, 0, 60, 60)]))
    assert pairs_of(overlap) == {(0, 1): 1600.0 - 1024.0}
    frame = shapely.box(10, 10, 50, 50).difference(shapely.box(14, 14, 46, 46))
    assert frame.contains(shapely.Point(overlap.pair_point[0] * 64))


def test_the_worst_place_is_the_largest() -> None:
    comb = [
        [(0, 0), (60, 0), (60, 4), (0, 4)],
        [(0, 4), (4, 4), (4, 20), (0, 20)],
        [(30, 4), (60, 4), (60, 20), (30, 20)],
    ]
    comb[0] = [(0, 0), (60, 0), (60, 4), (30, 4), (4, 4), (0, 4)]
    overlap = overlap_of(drawn([comb, box(-1, 10, 61, 14)]))
    assert pairs_of(overlap) == {(0, 1): 16.0 + 120.0}
    assert shapely.box(30, 10, 60, 14).contains(shapely.Point(overlap.pair_point[0] * 64))
    assert shapely.Polygon(overlap.pair_patch[0] * 64).area == 120.0


# Folds, flips, spirals.


def test_a_strip_folded_back_overlaps_itself_once() -> None:
    overlap = overlap_of(strip((0, 0), (0.5, 0), (0.25, 0), width=0.125))
    assert pairs_of(overlap) == {(0, 0): 0.25 * 0.125 * 64**2}


def test_texture_folded_twice_is_counted_once() -> None:
    overlap = overlap_of(strip((0, 0), (0.5, 0), (0.125, 0), (0.375, 0), width=0.125))
    assert pairs_of(overlap) == {(0, 0): 0.375 * 0.125 * 64**2}
    assert overlap.area_px == 0.375 * 0.125 * 64**2


def test_a_wholly_mirrored_island_does_not_overlap_itself() -> None:
    layout = strip((0.5, 0), (0.25, 0), (0, 0), width=0.125)
    assert pairs_of(overlap_of(layout)) == {}


def test_a_spiral_overlaps_itself_where_it_crosses_itself() -> None:
    turn = np.linspace(0, 2 * np.pi + 0.5, 80)
    rim = np.column_stack([np.cos(turn), np.sin(turn)])
    uv = np.concatenate([0.5 + 0.2 * rim, 0.5 + 0.4 * rim])
    layout = one_island(uv, [[k, 80 + k, 81 + k, k + 1] for k in range(79)])
    assert_like_brute_force(layout)
    found = overlap_of(layout)
    # Half a radian of the ring between the radii 0.2 and 0.4, but for the corners cut off.
    assert pairs_of(found)[(0, 0)] == pytest.approx(0.25 * (0.16 - 0.04) * 64**2, rel=0.01)


def test_a_spiral_that_passes_above_itself_does_not_overlap() -> None:
    turn = np.linspace(0, 4 * np.pi, 160)
    rim = np.column_stack([np.cos(turn), np.sin(turn)])
    uv = np.concatenate([0.5 + (0.1 + 0.02 * turn)[:, None] * rim,
                         0.5 + (0.14 + 0.02 * turn)[:, None] * rim])  # fmt: skip
    layout = one_island(uv, [[k, 160 + k, 161 + k, k + 1] for k in range(159)])
    assert pairs_of(overlap_of(layout)) == {}


def test_the_same_face_twice_covers_its_place_twice() -> None:
    uv = [(0, 0), (0.5, 0), (0.5, 0.5), (0, 0.5)]
    layout = build_layouts(
        shapes.asset([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], [[0, 1, 2, 3]] * 2, uv)
    )[0]
    assert sum(pairs_of(overlap_of(layout)).values()) == 0.25 * 64**2


# Published fixtures: Shay, Solomon, Stein, "A dataset and benchmark for mesh parameterization",
# 2022. Their overlap is a share of the surface in which each of the two faces counts; in our
# terms each overlapping area counts with the surface per texture of both faces below it.


def test_the_published_folded_square_overlaps_half_its_texture() -> None:
    position = [(0, 0, 0), (0, 2, 0), (2, 1, 0), (-2, 1, 0)]
    uv = [(0, 0), (0, 2), (2, 1)]
    layout = build_layouts(
        shapes.asset(position, [[1, 0, 2], [3, 0, 1]], uv, uv_faces=[[1, 0, 2], [2, 0, 1]])
    )[0]
    overlap = overlap_of(layout, Tile(1, 1))
    assert list(pairs_of(overlap).values()) == [2.0]
    assert 2 * overlap.area_px / 4.0 == 1.0  # published: 1


@pytest.mark.parametrize(("last", "published"), [(2.0, 0.7), (2.5, 0.55)])
def test_the_published_folded_strips_overlap_as_published(last: float, published: float) -> None:
    # Surface widths 1, 2, 3, 4 over texture widths 1, 1, 1, 1 (or 1/2): the last folds back.
    x, u = (0, 1, 3, 6, 10), (0, 1, 2, 3, last)
    position = [(a, b, 0) for b in (0, 1) for a in x]
    uv = [(a, b) for b in (0, 1) for a in u]
    faces = [face for k in range(4) for face in ([k, k + 6, k + 5], [k, k + 1, k + 6])]
    overlap = overlap_of(build_layouts(shapes.asset(position, faces, uv))[0], Tile(1, 1))
    assert pairs_of(overlap) == {(0, 0): pytest.approx(3 - last)}
    surface_per_texture = 3.0 + 4.0 / (3 - last)
    assert overlap.area_px * surface_per_texture / 10 == pytest.approx(published)


def test_the_published_half_folded_sheet_overlaps_half() -> None:
    # The second half's texture is laid over the first half: published 0.5, each pair twice.
    position = [(0, 0, 0), (1, 0, 0), (2, 0, 0), (0, 1, 0), (1, 1, 0), (2, 1, 0)]
    uv = [(0, 0), (1, 0), (0, 1), (1, 1), (2, 0), (2.001, 0), (2.001, 0.001)]
    uv_faces = [[0, 1, 3], [0, 3, 2], [1, 2, 6], [1, 6, 3]]
    faces = [[0, 1, 4], [0, 4, 3], [1, 2, 5], [1, 5, 4]]
    layout = build_layouts(shapes.asset(position, faces, uv, uv_faces=uv_faces))[0]
    overlap = overlap_of(layout, Tile(1, 1))
    reference, total = brute_force(layout, Tile(1, 1))
    assert pairs_of(overlap) == pytest.approx(reference)
    assert overlap.area_px == pytest.approx(total)


# Each of these once gave a wrong answer in some way of computing overlap.


def test_sides_that_lie_partly_on_each_other_are_counted_from_both() -> None:
    islands = [box(0, 0, 20, 10), box(10, 0, 30, 10), box(15, 0, 40, 10), box(15, 10, 18, 20)]
    overlap = overlap_of(drawn(islands))
    assert pairs_of(overlap) == {(0, 1): 100.0, (0, 2): 50.0, (1, 2): 150.0}
    assert overlap.area_px == 200.0


def test_corners_of_a_third_island_on_a_crossing_are_the_crossing() -> None:
    islands = [box(0, 10, 30, 20), box(10, 0, 20, 30), box(20, 20, 40, 40), box(20, 0, 40, 20)]
    overlap = overlap_of(drawn(islands))
    assert pairs_of(overlap) == {(0, 1): 100.0, (0, 3): 100.0}


def test_depth_may_grow_beyond_what_lies_at_the_cells() -> None:
    islands = [box(k, k, 64 - k, 64 - k) for k in range(1, 31)]
    overlap = overlap_of(drawn(islands))
    assert len(overlap.pair) == 30 * 29 // 2
    assert overlap.area_px == 60.0**2
    assert pairs_of(overlap)[(28, 29)] == 16.0


@pytest.mark.parametrize("far", [1e3, 1e5, 9e5])
def test_an_island_far_out_does_not_blur_the_others(far: float) -> None:
    islands = [*random_convex(60, 5), box(64 * far, -64 * far, 64 * far + 5, -64 * far + 5)]
    near, all_of_them = overlap_of(drawn(islands[:-1])), overlap_of(drawn(islands))
    np.testing.assert_array_equal(near.pair, all_of_them.pair)
    np.testing.assert_allclose(near.pair_area_px, all_of_them.pair_area_px, rtol=1e-6, atol=1e-3)


def test_islands_without_area_overlap_nothing() -> None:
    line = [[(4, 4), (20, 20), (40, 40)]]
    dot = [[(10, 10), (10, 10), (10, 10)]]
    assert pairs_of(overlap_of(drawn([line]))) == {}
    assert pairs_of(overlap_of(drawn([box(4, 4, 20, 20), line]))) == {}
    assert pairs_of(overlap_of(drawn([dot]))) == {}
    assert pairs_of(overlap_of(drawn([]))) == {}


def test_copies_moved_by_single_steps_of_the_grid_are_exact() -> None:
    step = 64 * 2.0**-24
    islands = [box(4 + k * step, 4 + k * step, 20 + k * step, 20 + k * step) for k in range(8)]
    overlap = overlap_of(drawn(islands))
    for (a, b), area in pairs_of(overlap).items():
        assert area == pytest.approx((16 - (b - a) * step) ** 2, rel=1e-12)
    assert len(overlap.pair) == 28


@QUIET
@given(seed=SEEDS, cells=st.integers(2, 6), turn=st.sampled_from([0.0, 0.3, 2.0]))
def test_corners_on_few_places_give_no_wrong_overlap(seed: int, cells: int, turn: float) -> None:
    # Everything touches, crosses in corners, lies on each other; turned, but for rounding.
    random = np.random.default_rng(seed)
    corners = random.integers(0, cells + 1, (30, 3, 2)) * 8.0
    has_area = np.linalg.det(np.diff(corners, axis=1)).round() != 0
    layout = drawn([placed([one], turn=turn, at=(40, 40)) for one in corners[has_area]])
    areas, total = brute_force(layout)
    overlap = overlap_of(layout)
    found = pairs_of(overlap)
    for pair in found.keys() | areas.keys():
        assert found.get(pair, 0.0) == pytest.approx(areas.get(pair, 0.0), abs=1.1e-3)
    assert overlap.area_px == pytest.approx(total, abs=1e-3)


def test_needles_and_slivers_overlap_as_shapely_says() -> None:
    random = np.random.default_rng(4)
    start = random.uniform(0, 64, (60, 2))
    end = random.uniform(0, 64, (60, 2))
    side = random.normal(0, 0.01, (60, 2))
    islands = [[[a, b, b + c]] for a, b, c in zip(start, end, side, strict=True)]
    layout = drawn(islands)
    areas, _ = brute_force(layout)
    found = pairs_of(overlap_of(layout))
    for pair in found.keys() | areas.keys():
        assert found.get(pair, 0.0) == pytest.approx(areas.get(pair, 0.0), abs=1.001e-3)


# Stacks, tiles, invariance.


def test_an_island_across_a_stack_is_one_pair_with_its_first_island() -> None:
    layout = drawn([box(30, 0, 40, 10), *[box(4, 4, 20, 20)] * 4, box(10, 10, 30, 14)])
    overlap = measure_overlap(layout, TILE, stacked(layout, (1, 2, 3, 4)))
    assert pairs_of(overlap) == {(1, 5): 40.0}
    assert overlap.area_px == 40.0


def test_islands_in_different_tiles_do_not_overlap() -> None:
    assert pairs_of(overlap_of(drawn([box(4, 4, 20, 20), box(68, 4, 84, 20)]))) == {}
    across = drawn([box(4, 4, 80, 20), box(68, 4, 84, 20)])
    assert pairs_of(overlap_of(across)) == {(0, 1): 12.0 * 16.0}


@QUIET
@given(seed=SEEDS, turn=st.floats(0, 6.28), x=st.floats(-100, 100), y=st.floats(-100, 100))
def test_moving_everything_together_changes_no_overlap(
    seed: int, turn: float, x: float, y: float
) -> None:
    islands = random_convex(25, seed, extent=48)
    before = pairs_of(overlap_of(drawn(islands)))
    after = pairs_of(overlap_of(drawn([placed(one, turn=turn, at=(x, y)) for one in islands])))
    for pair in before.keys() | after.keys():
        # Corners are rounded to 2**-24 tile, areas to that times the length of an outline.
        assert before.get(pair, 0.0) == pytest.approx(after.get(pair, 0.0), abs=2e-3)


@QUIET
@given(seed=SEEDS)
def test_numbering_islands_anew_changes_no_overlap(seed: int) -> None:
    islands = random_convex(25, seed, extent=40)
    order = np.random.default_rng(seed).permutation(len(islands))
    before = pairs_of(overlap_of(drawn(islands)))
    after = pairs_of(overlap_of(drawn([islands[k] for k in order])))
    renamed = {
        (min(order[a], order[b]), max(order[a], order[b])): area for (a, b), area in after.items()
    }
    assert renamed.keys() == before.keys()
    for pair, area in before.items():
        assert renamed[pair] == pytest.approx(area, rel=1e-11)


# Piles.


def test_a_pile_of_unlike_islands_is_counted_and_says_so() -> None:
    layout = drawn([star(20, 14, seed) for seed in range(400)] + [box(60, 60, 62, 62)])
    overlap = overlap_of(layout)
    assert overlap.counted_at >= 1024
    polygons, island = triangle_polygons(layout)
    whole = [shapely.union_all(polygons[island == k]) for k in range(400)]
    twice, once = shapely.Polygon(), shapely.Polygon()
    for one in whole:
        twice, once = twice.union(once.intersection(one)), once.union(one)
    assert overlap.area_px == pytest.approx(twice.area * 64**2, rel=1e-3)
    assert set(overlap.pair.ravel().tolist()) == set(range(400))
    assert len(overlap.pair) < 2 * 400
    for (a, b), point in zip(overlap.pair, overlap.pair_point, strict=True):
        place = shapely.Point(point)
        assert whole[a].contains(place) or whole[b].contains(place)
    lines = shapely.linestrings(overlap.outline)
    assert shapely.polygonize(list(lines)).area == pytest.approx(twice.area, rel=1e-3)


@QUIET
@given(seed=SEEDS)
def test_counting_agrees_with_the_exact_overlap(seed: int) -> None:
    layout = drawn([*random_convex(20, seed, extent=30), *[box(60, 60, 63, 63)] * 2])
    exact, counted = overlap_of(layout), counted_overlap(layout, TILE, stacked(layout, (20, 21)))
    stack = measure_overlap(layout, TILE, stacked(layout, (20, 21)))
    assert stack.area_px == pytest.approx(exact.area_px - 9.0)
    # At 8192 a texel of 64 holds 128 x 128 samples.
    assert counted.area_px == pytest.approx(stack.area_px, abs=0.02, rel=1e-3)
    assert counted.counted_at == 8192
    named = {(a, b) for a, b in pairs_of(stack)}
    assert {island for pair in named for island in pair} >= set(counted.pair.ravel().tolist())
    largest = dict.fromkeys(range(20), 0.0)
    for (a, b), area in pairs_of(stack).items():
        largest[a], largest[b] = max(largest[a], area), max(largest[b], area)
    shown = dict.fromkeys(range(20), 0.0)
    for (a, b), area in pairs_of(counted).items():
        shown[a], shown[b] = max(shown[a], area), max(shown[b], area)
    for k in range(20):
        assert shown[k] > largest[k] * 0.999 - 0.02


def test_a_folded_strip_is_counted_as_folded() -> None:
    layout = strip((0, 0), (0.5, 0), (0.125, 0), (0.375, 0), width=0.125)
    counted = counted_overlap(layout, TILE, stacked(layout))
    assert pairs_of(counted) == {(0, 0): 0.375 * 0.125 * 64**2}
    np.testing.assert_allclose(counted.outline.min(axis=(0, 1)), (0.125, 0))
    np.testing.assert_allclose(counted.outline.max(axis=(0, 1)), (0.5, 0.125))


def test_a_pile_next_to_an_island_far_out_is_still_counted() -> None:
    islands = [star(20, 14, seed) for seed in range(300)]
    overlap = overlap_of(drawn([*islands, box(64 * 3e4, 0, 64 * 3e4 + 5, 5)]))
    assert overlap.counted_at >= 1024
    assert overlap.area_px == pytest.approx(overlap_of(drawn(islands)).area_px, rel=1e-3)


def test_many_copies_that_are_a_stack_are_no_pile() -> None:
    layout = drawn([star(20, 14, 7)] * 500)
    overlap = measure_overlap(layout, TILE, stacked(layout, tuple(range(500))))
    assert pairs_of(overlap) == {}
    assert overlap.counted_at == 0


def test_copies_that_nobody_calls_a_stack_overlap_with_all_their_area() -> None:
    layout = drawn([star(20, 14, 7)] * 12)
    overlap = overlap_of(layout)
    polygons, island = triangle_polygons(layout)
    area = shapely.area(polygons[island == 0]).sum() * 64**2
    assert len(overlap.pair) == 66
    np.testing.assert_allclose(overlap.pair_area_px, area, rtol=1e-12)
    assert overlap.area_px == pytest.approx(area, rel=1e-12)
