"""Safe mip levels against a mip pyramid computed block by block with shapely."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from tests.measure.drawing import (
    TILE,
    box,
    drawn,
    no_stacks,
    random_convex,
    ring,
    stacked,
)

from evenweave.layout.layout import Layout, Tile
from evenweave.measure.overlap.overlap import measure_overlap
from evenweave.measure.space import mips
from evenweave.measure.space.mips import measure_mips, mip_picture, top_level

pytestmark = pytest.mark.kernels


def levels_of(layout: Layout, tile: Tile = TILE, **given: Any) -> list[int]:
    stacks = given.pop("stacks", no_stacks(layout))
    overlap = measure_overlap(layout, tile, stacks)
    found: list[int] = measure_mips(layout, tile, stacks=stacks, overlap=overlap).safe_mip.tolist()
    return found


def pyramid(islands: Any, tile: Tile) -> list[NDArray[Any]]:
    """Which islands (a set each) every block holds, level by level, by brute force."""
    shapes_px = []
    for island in islands:
        polygons = [
            shapely.Polygon(np.floor(np.asarray(p) * 256 + 0.5) / 256).buffer(0) for p in island
        ]
        shapes_px.append(shapely.union_all(polygons))
    content = np.empty((tile.height, tile.width), dtype=object)
    for row in range(tile.height):
        for column in range(tile.width):
            texel = shapely.box(column, row, column + 1, row + 1)
            areas = shapely.area(shapely.intersection(shapes_px, texel))
            content[row, column] = frozenset(np.flatnonzero(areas > 1e-9).tolist())
    levels = [content]
    while levels[-1].size > 1:
        below = levels[-1]
        rows, columns = -(-below.shape[0] // 2), -(-below.shape[1] // 2)
        above = np.empty((rows, columns), dtype=object)
        for row in range(rows):
            for column in range(columns):
                block = below[2 * row : 2 * row + 2, 2 * column : 2 * column + 2]
                above[row, column] = frozenset().union(*block.ravel())
        levels.append(above)
    return levels


def safe_in(levels: list[NDArray[Any]], island: int) -> int:
    """The level below the first at which a block holds this island and another."""
    for level, content in enumerate(levels):
        if any(island in held and len(held) > 1 for held in content.ravel()):
            return level - 1
    return len(levels) - 1


def picture_of(content: NDArray[Any]) -> NDArray[np.int32]:
    picture = [
        -1 if not held else next(iter(held)) if len(held) == 1 else -2 for held in content.ravel()
    ]
    return np.array(picture, dtype=np.int32).reshape(content.shape)


def test_islands_on_block_edges_are_safe_up_to_that_block() -> None:
    # Either side of x = 32, where blocks of 32 texels, of level 5, meet.
    assert levels_of(drawn([box(8, 8, 24, 24), box(32, 8, 48, 24)])) == [5, 5]
    assert levels_of(drawn([box(8, 8, 32, 24), box(32, 8, 48, 24)])) == [5, 5]
    assert levels_of(drawn([box(8, 8, 33, 24), box(35, 8, 48, 24)])) == [1, 1]
    # Either side of x = 16 and of x = 48, where blocks of 16 texels, of level 4, meet.
    assert levels_of(drawn([box(8, 8, 15, 24), box(17, 8, 47, 24), box(49, 8, 60, 24)])) == [4] * 3


def test_a_texel_that_both_touch_is_not_safe_at_all() -> None:
    assert levels_of(drawn([box(8, 8, 20.3, 24), box(20.6, 8, 40, 24)])) == [-1, -1]


def test_an_island_alone_is_safe_to_the_last_level() -> None:
    assert levels_of(drawn([box(8, 8, 20, 24)])) == [6]
    assert levels_of(drawn([box(8, 8, 20, 24)], Tile(100, 30)), Tile(100, 30)) == [7]


def test_overlapping_islands_are_never_safe_even_without_a_common_outline_texel() -> None:
    assert levels_of(drawn([box(4, 4, 60, 60), box(30, 30, 34, 34)])) == [-1, -1]


def test_an_island_in_a_hole_is_safe_while_the_hole_is_there() -> None:
    assert levels_of(drawn([ring(0, 0, 32, 32, 8), box(12, 12, 20, 20)])) == [3, 3]


def test_a_stack_counts_as_one_island() -> None:
    layout = drawn([box(8, 8, 24, 24), box(8, 8, 24, 24), box(32, 8, 48, 24)])
    assert levels_of(layout, stacks=stacked(layout, (0, 1))) == [5, 5, 5]


def test_tiles_are_looked_at_apart() -> None:
    assert levels_of(drawn([box(8, 8, 63, 24), box(65, 8, 80, 24)])) == [6, 6]
    assert levels_of(drawn([box(8, 8, 70, 24), box(73, 8, 80, 24)])) == [3, 3]


def test_rounding_of_six_digits_does_not_push_an_island_over_a_block_edge() -> None:
    exact = [box(8, 8, 24, 24), box(24, 8, 40, 24)]
    rounded = [[np.round(np.asarray(p) / 64, 6) * 64 for p in one] for one in exact]
    assert levels_of(drawn(rounded)) == levels_of(drawn(exact)) == [3, 3]


def test_an_empty_layout_has_no_levels() -> None:
    assert levels_of(drawn([])) == []


@pytest.mark.parametrize(("size", "level"), [((1, 1), 0), ((2048, 2048), 11), ((3000, 5), 12)])
def test_the_top_level_is_one_texel(size: tuple[int, int], level: int) -> None:
    assert top_level(Tile(*size)) == level


@settings(deadline=None, max_examples=6, derandomize=True)
@given(
    seed=st.integers(0, 10**6),
    tile=st.sampled_from([Tile(32, 32), Tile(64, 16), Tile(24, 20)]),
)
def test_levels_and_pictures_are_those_of_a_brute_force_pyramid(seed: int, tile: Tile) -> None:
    scale = np.array([tile.width, tile.height]) / 64.0
    islands = [[np.asarray(p) * scale for p in one] for one in random_convex(9, seed, size=7.0)]
    layout = drawn(islands, tile)
    levels = pyramid(islands, tile)
    assert levels_of(layout, tile) == [safe_in(levels, k) for k in range(9)]
    for level, content in enumerate(levels):
        np.testing.assert_array_equal(mip_picture(layout, tile, level), picture_of(content))


def test_the_picture_shows_one_tile_and_counts_a_stack_once() -> None:
    layout = drawn([box(64, 0, 80, 16), box(64, 0, 80, 16)])
    here = mip_picture(layout, TILE, 4, stacks=stacked(layout, (0, 1)), at=(1, 0))
    expected = np.full((4, 4), -1)
    expected[0, 0] = 0
    np.testing.assert_array_equal(here, expected)
    assert (mip_picture(layout, TILE, 4) == -1).all()
    assert mip_picture(layout, TILE, 4, at=(1, 0))[0, 0] == -2
    assert (mip_picture(layout, TILE, 4, at=(1 - 201, 1)) == -1).all()


def test_outlines_too_long_for_the_finest_levels_are_judged_at_coarser_ones_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    near = [box(8, 40, 15.2, 48), box(15.6, 40, 24, 48)]
    apart = [box(8 * k, 0, 8 * k + 2, 6) for k in range(8)]
    layout = drawn([*near, *apart])
    found = levels_of(layout)
    assert found == [-1, -1, *[3] * 8]
    # Enough for the two that are near, not for all: the others are judged from level 1 on.
    monkeypatch.setattr(mips, "MOST_STEPS", 160)
    assert levels_of(layout) == found
    for most in (100, 75, 40, 20, 1):
        monkeypatch.setattr(mips, "MOST_STEPS", most)
        assert all(a <= b for a, b in zip(levels_of(layout), found, strict=True))


def test_turning_the_tile_by_a_quarter_or_mirroring_it_keeps_every_level() -> None:
    islands = random_convex(12, 11, size=5.0)
    here = levels_of(drawn(islands))
    for change in (
        lambda p: np.column_stack([64 - p[:, 1], p[:, 0]]),
        lambda p: np.column_stack([64 - p[:, 0], p[:, 1]]),
    ):
        there = [[change(np.round(np.asarray(p) * 256) / 256) for p in one] for one in islands]
        assert levels_of(drawn(there)) == here
