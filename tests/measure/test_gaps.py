"""Padding and margin against closed forms, shapely's distances and scipy's distance transform."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import distance_transform_edt
from tests.measure.drawing import (
    TILE,
    box,
    drawn,
    no_overlap,
    no_stacks,
    placed,
    random_convex,
    ring,
    stacked,
)

from evenweave.layout.layout import Layout, Tile
from evenweave.measure.overlap.overlap import measure_overlap
from evenweave.measure.results import Gaps
from evenweave.measure.space import gaps
from evenweave.measure.space.gaps import measure_gaps
from evenweave.measure.space.mips import mip_picture

pytestmark = pytest.mark.kernels


def gaps_of(layout: Layout, tile: Tile = TILE, **given: Any) -> Gaps:
    stacks = given.pop("stacks", no_stacks(layout))
    overlap = measure_overlap(layout, tile, stacks)
    return measure_gaps(layout, tile, stacks=stacks, overlap=overlap, **given)


def test_two_squares_are_as_far_apart_as_their_sides() -> None:
    found = gaps_of(drawn([box(4, 4, 20, 20), box(30, 10, 40, 40)]))
    np.testing.assert_array_equal(found.padding_px, [10.0, 10.0])
    np.testing.assert_array_equal(found.padding_to, [1, 0])
    on_this, on_other = found.padding_points[0] * 64
    assert on_this[0] == 20.0
    assert on_other[0] == 30.0
    assert on_this[1] == on_other[1]
    np.testing.assert_array_equal(found.padding_points[1], found.padding_points[0][::-1])


def test_corners_are_as_far_apart_as_pythagoras_says() -> None:
    found = gaps_of(drawn([box(4, 4, 10, 10), box(13, 14, 20, 20)]))
    np.testing.assert_array_equal(found.padding_px, [5.0, 5.0])


def test_texels_of_a_tile_that_is_not_square_count_apart() -> None:
    tile = Tile(128, 32)
    layout = drawn([box(4, 4, 20, 8), box(23, 12, 40, 20)], tile)
    found = gaps_of(layout, tile)
    np.testing.assert_allclose(found.padding_px, [5.0, 5.0], rtol=1e-15)
    np.testing.assert_array_equal(found.margin_px, [4.0, 12.0])


@pytest.mark.parametrize(
    "other",
    [box(20, 4, 30, 20), box(20, 20, 30, 30), box(20, 10, 30, 12), box(4, 20, 8, 30)],
    ids=["side", "corner", "part of a side", "top"],
)
def test_islands_that_touch_have_no_padding(other: Any) -> None:
    found = gaps_of(drawn([box(4, 4, 20, 20), other]))
    np.testing.assert_array_equal(found.padding_px, [0.0, 0.0])
    np.testing.assert_array_equal(found.padding_to, [1, 0])


def test_a_corner_on_a_slanted_side_touches_it() -> None:
    triangle = [[(3.0, 4.0), (40.0, 4.0), (40.0, 37.0)]]
    on_side = np.array([3.0, 4.0]) + np.array([37.0, 33.0]) / 3.0
    other = [on_side + np.array([(0.0, 0.0), (0.0, 9.0), (-7.0, 5.0)])]
    np.testing.assert_array_equal(gaps_of(drawn([triangle, other])).padding_px, [0.0, 0.0])


def test_overlapping_islands_have_no_padding_even_inside_one_another() -> None:
    found = gaps_of(drawn([box(4, 4, 40, 40), box(10, 10, 20, 20), box(50, 4, 60, 20)]))
    np.testing.assert_array_equal(found.padding_px, [0.0, 0.0, 10.0])
    np.testing.assert_array_equal(found.padding_to, [1, 0, 0])
    point = found.padding_points[0, 0] * 64
    assert (point >= 10).all()
    assert (point <= 20).all()


def test_an_island_in_a_hole_has_the_room_that_is_there() -> None:
    found = gaps_of(drawn([ring(4, 4, 44, 44, 5), box(12, 12, 33, 38)]))
    np.testing.assert_array_equal(found.padding_px, [1.0, 1.0])


def test_what_lies_beyond_the_reach_is_not_near() -> None:
    layout = drawn([box(4, 4, 8, 8), box(50, 4, 60, 8)])
    found = gaps_of(layout, reach_px=40.0)
    assert np.isinf(found.padding_px).all()
    np.testing.assert_array_equal(found.padding_to, [-1, -1])
    assert found.reach_px == 40.0
    np.testing.assert_array_equal(gaps_of(layout, reach_px=43.0).padding_px, [42.0, 42.0])


def test_a_stack_is_one_island() -> None:
    layout = drawn([box(4, 4, 20, 20), box(4, 4, 20, 20), box(30, 4, 40, 20)])
    found = gaps_of(layout, stacks=stacked(layout, (0, 1)))
    np.testing.assert_array_equal(found.padding_px, [10.0, 10.0, 10.0])
    np.testing.assert_array_equal(found.padding_to, [2, 2, 0])


def test_tiles_are_textures_of_their_own() -> None:
    layout = drawn([box(50, 4, 62, 20), box(65, 4, 80, 20), box(30, 4, 45, 20)])
    found = gaps_of(layout)
    np.testing.assert_array_equal(found.padding_px, [5.0, np.inf, 5.0])
    np.testing.assert_array_equal(found.margin_px, [2.0, 1.0, 4.0])
    np.testing.assert_array_equal(found.margin_points[1] * 64, [[65, 4], [64, 4]])


def test_an_island_ending_at_the_tiles_edge_lies_in_the_tile_on_its_side() -> None:
    found = gaps_of(drawn([box(40, 4, 64, 20), box(64, 4, 80, 20)]))
    assert np.isinf(found.padding_px).all()
    np.testing.assert_array_equal(found.margin_px, [0.0, 0.0])


def test_an_island_across_two_tiles_has_neighbours_in_both() -> None:
    across = box(50, 4, 90, 20)
    found = gaps_of(drawn([across, box(30, 4, 46, 20), box(93, 4, 99, 20)]))
    np.testing.assert_array_equal(found.padding_px, [3.0, 4.0, 3.0])
    assert found.margin_px[0] == -14.0
    np.testing.assert_array_equal(found.margin_points[0] * 64, [[50, 4], [64, 4]])


def test_an_island_far_outside_is_left_out_with_care() -> None:
    far = 64.0 * 5000
    found = gaps_of(drawn([box(4, 4, 8, 8), box(far, 4, far + 4, 8), box(10, -far, 12, 8)]))
    assert found.padding_px[0] == 2.0
    assert np.isinf(found.padding_px[1])


def test_the_fold_of_an_island_counts_not_only_its_outline() -> None:
    # The sheet runs right to x = 30 and folds back to x = 20: its outline ends there.
    sheet = [[(4, 4), (30, 4), (30, 20), (4, 20)], [(30, 4), (20, 4), (20, 20), (30, 20)]]
    found = gaps_of(drawn([sheet, box(33, 4, 40, 20)]))
    np.testing.assert_array_equal(found.padding_px, [3.0, 3.0])


def test_an_empty_layout_has_empty_gaps() -> None:
    found = gaps_of(drawn([]))
    assert found.padding_px.shape == (0,)
    assert found.padding_points.shape == (0, 2, 2)
    assert found.margin_points.shape == (0, 2, 2)


def test_islands_without_area_have_a_place() -> None:
    point = [[(30, 12), (30, 12), (30, 12)]]
    line = [[(4, 40), (20, 40), (12, 40)]]
    found = gaps_of(drawn([box(4, 4, 20, 20), point, line]))
    np.testing.assert_array_equal(found.padding_px, [10.0, 10.0, 20.0])


def test_a_search_beyond_its_budget_says_how_far_it_went(monkeypatch: pytest.MonkeyPatch) -> None:
    layout = drawn(random_convex(30, 1, size=4.0))
    whole = measure_gaps(layout, TILE, stacks=no_stacks(layout), overlap=no_overlap())
    monkeypatch.setattr(gaps, "SEARCHES", ((1.0, 1), (0.125, 10**6), (0.0, 1)))
    shorter = measure_gaps(layout, TILE, stacks=no_stacks(layout), overlap=no_overlap())
    assert (whole.reach_px, shorter.reach_px) == (64.0, 8.0)
    np.testing.assert_array_equal(
        shorter.padding_px, np.where(whole.padding_px < 8.0, whole.padding_px, np.inf)
    )
    monkeypatch.setattr(gaps, "SEARCHES", ((1.0, 1), (0.125, 1), (0.0, 1)))
    nothing = measure_gaps(layout, TILE, stacks=no_stacks(layout), overlap=no_overlap())
    assert nothing.reach_px == 0.0
    assert np.isinf(nothing.padding_px).all()


def polygons_of(islands: Any) -> list[shapely.Polygon]:
    """The islands as the layout keeps them: snapped to 2**-24 of the tile."""
    step = 64 * 2.0**-24
    return [shapely.Polygon(np.round(np.asarray(island[0]) / step) * step) for island in islands]


@settings(deadline=None, max_examples=25, derandomize=True)
@given(seed=st.integers(0, 10**6), count=st.integers(2, 40))
def test_padding_is_the_distance_shapely_finds(seed: int, count: int) -> None:
    islands = random_convex(count, seed, size=5.0)
    found = gaps_of(drawn(islands))
    polygons = polygons_of(islands)
    distance = np.array([[a.distance(b) for b in polygons] for a in polygons])
    np.fill_diagonal(distance, np.inf)
    np.testing.assert_allclose(found.padding_px, distance.min(axis=1), atol=1e-5)
    apart = found.padding_px > 0
    np.testing.assert_allclose(
        found.padding_px[apart], distance.min(axis=1)[apart], rtol=1e-9, atol=1e-9
    )
    ends = found.padding_points * 64
    np.testing.assert_allclose(
        np.linalg.norm(ends[apart, 0] - ends[apart, 1], axis=1),
        found.padding_px[apart],
        atol=1e-9,
    )
    for k in np.flatnonzero(apart):
        assert polygons[k].distance(shapely.Point(ends[k, 0])) < 1e-9
        assert polygons[found.padding_to[k]].distance(shapely.Point(ends[k, 1])) < 1e-9


def test_long_slanted_slivers_are_measured_to_the_last_digit() -> None:
    islands = [[[(1.0 + k, 1.0), (40.3 + k, 61.0), (40.5 + k, 61.0)]] for k in range(0, 20, 2)]
    found = gaps_of(drawn(islands))
    polygons = polygons_of(islands)
    distance = np.array([[a.distance(b) for b in polygons] for a in polygons])
    np.fill_diagonal(distance, np.inf)
    np.testing.assert_allclose(found.padding_px, distance.min(axis=1), rtol=1e-12)


def test_padding_agrees_with_scipys_distance_transform_of_the_texels() -> None:
    tile = Tile(512, 512)
    islands = [placed(one) for one in random_convex(60, 5, extent=512.0, size=24.0)]
    layout = drawn(islands, tile)
    found = gaps_of(layout, tile, reach_px=512.0)
    picture = mip_picture(layout, tile, 0)
    for k in np.flatnonzero(found.padding_px > 2.0):
        others = (picture != k) & (picture != -1)
        between = distance_transform_edt(~others)[picture == k].min()
        # Texels reached by an outline count whole: both ends may be off by a texel's diagonal.
        assert found.padding_px[k] - 2 * np.sqrt(2) <= between - 1 + 1e-9
        assert between - np.sqrt(2) <= found.padding_px[k] + 1e-9


@settings(deadline=None, max_examples=20, derandomize=True)
@given(seed=st.integers(0, 10**6), dx=st.integers(-3, 3), dy=st.integers(-3, 3))
def test_moving_by_whole_tiles_and_renumbering_change_nothing(seed: int, dx: int, dy: int) -> None:
    islands = random_convex(20, seed, size=4.0)
    order = np.random.default_rng(seed).permutation(20)
    there = [placed(islands[k], at=(64 * dx, 64 * dy)) for k in order]
    here, moved = gaps_of(drawn(islands)), gaps_of(drawn(there))
    np.testing.assert_allclose(moved.padding_px, here.padding_px[order], atol=1e-5)
    np.testing.assert_allclose(moved.margin_px, here.margin_px[order], atol=1e-4)


def test_a_rigid_turn_of_the_whole_layout_keeps_the_padding() -> None:
    islands = [placed(one, at=(-32, -32)) for one in random_convex(16, 3, size=3.0)]
    small = [[np.asarray(p) * 0.6 for p in one] for one in islands]
    here = gaps_of(drawn([placed(one, at=(32, 32)) for one in small]))
    turned = gaps_of(drawn([placed(one, turn=0.7, at=(32, 32)) for one in small]))
    np.testing.assert_allclose(turned.padding_px, here.padding_px, atol=1e-4)
