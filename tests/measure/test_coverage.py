"""Coverage against closed forms and shapely's points in polygons."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.measure.drawing import TILE, box, drawn, placed, random_convex, ring

from evenweave.layout.layout import Layout, Tile
from evenweave.measure.space import coverage
from evenweave.measure.space.coverage import measure_coverage

pytestmark = pytest.mark.kernels


def texels_of(layout: Layout, tile: Tile = TILE) -> float:
    return measure_coverage(layout, tile).total * tile.width * tile.height


def test_a_box_covers_the_centres_inside_it() -> None:
    assert texels_of(drawn([box(4, 8, 20, 24)])) == 16 * 16
    assert texels_of(drawn([box(4.4, 8.4, 20.4, 24.4)])) == 16 * 16
    assert texels_of(drawn([box(4.6, 8.6, 20.4, 24.4)])) == 15 * 15


def test_a_centre_on_an_edge_counts_at_the_left_and_below() -> None:
    assert texels_of(drawn([box(4.5, 8.5, 20.5, 24.5)])) == 16 * 16
    assert texels_of(drawn([box(4.5, 8.5, 20.5, 24.5), box(20.5, 8.5, 22.5, 24.5)])) == 18 * 16


def test_the_whole_tile_is_all_and_a_frame_leaves_its_hole() -> None:
    assert measure_coverage(drawn([box(0, 0, 64, 64)]), TILE).total == 1.0
    assert texels_of(drawn([ring(0, 0, 64, 64, 16)])) == 64 * 64 - 32 * 32


def test_what_lies_on_top_counts_once_and_mirrored_parts_count() -> None:
    mirrored = [[(40, 8), (30, 8), (30, 24), (40, 24)]]
    assert texels_of(drawn([box(4, 8, 20, 24), box(4, 8, 20, 24), mirrored])) == 26 * 16


def test_every_tile_in_use_has_its_share() -> None:
    found = measure_coverage(drawn([box(0, 0, 32, 64), box(64, 0, 128, 16)]), TILE)
    np.testing.assert_array_equal(found.tile, [[0, 0], [1, 0]])
    np.testing.assert_array_equal(found.share, [0.5, 0.25])
    assert found.total == 0.375


def test_part_of_an_island_in_the_next_tile_does_not_make_that_one_used() -> None:
    found = measure_coverage(drawn([box(0, 0, 80, 64)]), TILE)
    np.testing.assert_array_equal(found.tile, [[0, 0]])
    assert found.total == 1.0


def test_a_stray_piece_does_not_halve_the_coverage() -> None:
    found = measure_coverage(drawn([box(0, 0, 64, 32), box(4, -1000, 5, -999)]), TILE)
    np.testing.assert_array_equal(found.tile, [[0, 0]])
    assert found.total == 0.5


def test_islands_too_far_out_are_left_out() -> None:
    far = 64.0 * 300
    found = measure_coverage(drawn([box(0, 0, 64, 32), box(far, 0, far + 32, 32)]), TILE)
    np.testing.assert_array_equal(found.tile, [[0, 0]])
    assert len(measure_coverage(drawn([box(far, 0, far + 32, 32)]), TILE).tile) == 0


def test_an_empty_layout_covers_nothing() -> None:
    found = measure_coverage(drawn([]), TILE)
    assert found.total == 0.0
    assert found.tile.shape == (0, 2)


def test_a_size_that_is_neither_square_nor_a_power_of_two_is_counted_as_it_is() -> None:
    tile = Tile(100, 30)
    assert texels_of(drawn([box(10, 3, 60, 13)], tile), tile) == pytest.approx(500, abs=1e-9)


def test_many_tiles_are_counted_in_parts_and_huge_ones_at_a_smaller_size(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    layout = drawn([box(64 * k, 0, 64 * k + 8 * (k + 1), 64) for k in range(8)])
    at_once = measure_coverage(layout, TILE)
    monkeypatch.setattr(coverage, "MOST_MEMBERS", 3)
    np.testing.assert_array_equal(measure_coverage(layout, TILE).share, at_once.share)
    monkeypatch.setattr(coverage, "MOST_TEXELS", 8 * 64 * 64 // 4)
    np.testing.assert_array_equal(measure_coverage(layout, TILE).share, at_once.share)
    np.testing.assert_array_equal(at_once.share, np.arange(1, 9) / 8)


@settings(deadline=None, max_examples=20, derandomize=True)
@given(seed=st.integers(0, 10**6), dx=st.integers(-2, 2))
def test_covered_are_the_centres_shapely_finds_inside(seed: int, dx: int) -> None:
    islands: list[Any] = random_convex(12, seed, size=9.0)
    layout = drawn([placed(one, at=(64 * dx, 0)) for one in islands])
    x, y = np.meshgrid(np.arange(64) + 0.5, np.arange(64) + 0.5)
    union = shapely.union_all([shapely.Polygon(one[0]) for one in islands])
    assert texels_of(layout) == shapely.contains_xy(union, x, y).sum()


@settings(deadline=None, max_examples=20, derandomize=True)
@given(seed=st.integers(0, 10**6))
def test_a_fan_of_triangles_covers_each_texel_exactly_once(seed: int) -> None:
    random = np.random.default_rng(seed)
    # Quarter texels, so that corners and edges often run through centres.
    square = np.array([(0, 0), (16, 0), (16, 16), (0, 16)], dtype=float)
    middle = random.integers(1, 63, 2) / 4
    fan = [[middle, square[k], square[(k + 1) % 4]] for k in range(4)]
    tile = Tile(16, 16)
    assert sum(texels_of(drawn([[triangle]], tile), tile) for triangle in fan) == 256
