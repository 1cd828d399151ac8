"""Congruent islands: exact stacks, near misses, and copies apart."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.measure.drawing import TILE, box, drawn, placed, random_convex, ring
from tests.measure.overlapping import pairs_of, star, strip

from evenweave.layout.layout import Layout, Tile
from evenweave.measure.overlap.overlap import measure_overlap
from evenweave.measure.results import Stacks
from evenweave.measure.stacks.stacks import find_stacks

pytestmark = pytest.mark.kernels

SEEDS = st.integers(0, 10**6)
QUIET = settings(deadline=None, max_examples=20, derandomize=True)
SMALL = Tile(1024, 1024)


def stacks_of(islands: list[Any], tile: Tile = TILE, **given: float) -> Stacks:
    return find_stacks(drawn(islands, tile), tile, **given)


def mirrored(island: Any) -> list[Any]:
    """Return the island mirrored in v."""
    return [np.asarray(polygon) * (1, -1) for polygon in island]


def turned_over(island: Any) -> list[Any]:
    """Return the same island with its faces winding the other way."""
    return [np.asarray(polygon)[::-1] for polygon in island]


def tetromino(cells: str) -> list[Any]:
    """Return an island of squares of four texels; "00 10" are the cells' columns and rows."""
    return [
        box(4 * int(c[0]), 4 * int(c[1]), 4 * int(c[0]) + 4, 4 * int(c[1]) + 4)[0]
        for c in cells.split()
    ]


L, J = tetromino("00 10 20 21"), tetromino("00 10 20 01")
S, Z = tetromino("00 10 11 21"), tetromino("01 11 10 20")
I, O, T = tetromino("00 10 20 30"), tetromino("00 10 01 11"), tetromino("00 10 20 11")  # noqa: E741


def test_islands_in_one_place_are_one_stack() -> None:
    island = star(9, 10, 1)
    found = stacks_of([island, box(50, 50, 60, 55), island, turned_over(island)])
    assert found.group == ((0, 2, 3),)
    assert found.misaligned == ()
    assert found.shareable == ()
    assert found.is_mirrored.tolist() == [False, False, False, True]
    assert found.congruent.tolist() == [0, 1, 0, 0]


@pytest.mark.parametrize(("far", "is_stack"), [(0.2, True), (0.3, False)])
def test_a_stack_may_be_off_by_a_quarter_texel(far: float, is_stack: bool) -> None:
    island = box(100, 100, 300, 250)
    found = stacks_of([island, placed(island, at=(far, 0))], SMALL)
    assert bool(found.group) == is_stack
    assert bool(found.misaligned) == (not is_stack)


def test_the_tolerance_can_be_chosen() -> None:
    island = star(9, 200, 1, (500, 500))
    pair = [island, placed(island, at=(0.6, 0))]
    assert stacks_of(pair, SMALL, tolerance_px=0.7).group == ((0, 1),)
    assert stacks_of(pair, SMALL, tolerance_px=0.5).group == ()


def test_a_square_turned_by_a_right_angle_lies_on_itself() -> None:
    island = box(-8, -8, 8, 8)
    islands = [placed(island, turn=k * np.pi / 2, at=(32, 32)) for k in range(4)]
    assert stacks_of(islands).group == ((0, 1, 2, 3),)


def test_outlines_count_and_not_the_faces_inside() -> None:
    whole = box(4, 4, 36, 20)
    cut = [box(4, 4, 20, 20)[0], box(20, 4, 36, 20)[0]]
    assert stacks_of([whole, cut]).group == ((0, 1),)


def test_islands_nearly_in_one_place_are_a_near_miss_with_the_offset() -> None:
    island = star(11, 100, 3, (400, 400))
    found = stacks_of(
        [island, placed(island, at=(3, 4)), placed(island, at=(300, 0)), island], SMALL
    )
    assert found.group == ((0, 3),)
    [(islands, offset)] = found.misaligned
    assert islands == (0, 1, 3)
    assert offset == pytest.approx(5.0, abs=1e-3)
    assert found.shareable == ((0, 2),)


def test_a_slightly_turned_copy_is_a_near_miss_by_its_farthest_corner() -> None:
    island = box(-100, -60, 100, 60)
    islands = [placed(island, turn=turn, at=(500, 500)) for turn in (0.3, 0.32)]
    [(_, offset)] = stacks_of(islands, SMALL).misaligned
    assert offset == pytest.approx(2 * np.hypot(100, 60) * np.sin(0.01), abs=1e-3)


def test_a_square_is_off_by_its_shift_whichever_way_it_was_turned() -> None:
    island = box(-40, -40, 40, 40)
    islands = [
        placed(island, at=(200, 200)),
        placed(turned_over(island), turn=np.pi / 2, at=(203, 200)),
    ]
    [(_, offset)] = stacks_of(islands, SMALL).misaligned
    assert offset == pytest.approx(3.0, abs=1e-3)


def test_small_neighbours_side_by_side_are_no_near_miss() -> None:
    found = stacks_of([box(6 * k, 0, 6 * k + 5, 5) for k in range(5)])
    assert found.misaligned == ()
    assert found.shareable == ((0, 1, 2, 3, 4),)


def test_shapes_are_told_from_their_mirror_images() -> None:
    moves = [
        (L, 0.0, (100, 100)), (L, 2.1, (300, 100)), (J, 0.7, (500, 100)),
        (S, 0.3, (100, 300)), (Z, 4.0, (300, 300)), (S, 5.0, (500, 300)),
    ]  # fmt: skip
    islands = [placed([p * 10 for p in map(np.asarray, one)], turn=turn, at=at)
               for one, turn, at in moves]  # fmt: skip
    found = stacks_of(islands, SMALL)
    assert found.congruent.tolist() == [0, 0, 0, 1, 1, 1]
    assert found.is_mirrored.tolist() == [False, False, True, False, True, False]
    assert found.shareable == ((0, 1, 2), (3, 4, 5))


def test_unlike_shapes_of_one_area_are_not_congruent() -> None:
    islands = [placed(one, at=(15 * k, 0)) for k, one in enumerate((L, S, I, O, T))]
    assert stacks_of(islands).congruent.tolist() == [0, 1, 2, 3, 4]


def test_mirror_images_in_one_place_are_no_stack() -> None:
    found = stacks_of([L, J])
    assert found.group == found.misaligned == ()
    assert found.congruent.tolist() == [0, 0]
    assert found.is_mirrored.tolist() == [False, True]


def test_holes_count() -> None:
    frames = [ring(0, 0, 20, 20, 4), ring(0, 0, 20, 20, 6), box(0, 0, 20, 20)]
    islands = [placed(one, at=(22 * k, 0)) for k, one in enumerate([*frames, frames[0][::-1]])]
    assert stacks_of(islands, SMALL).congruent.tolist() == [0, 1, 2, 0]


def test_a_round_island_fits_however_it_was_turned() -> None:
    turn = 2 * np.pi * np.arange(64) / 64
    disk = [np.column_stack([np.cos(turn), np.sin(turn)]) * 100]
    islands = [placed(disk, turn=0.01 * k, at=(250 + 400 * (k % 2), 250)) for k in range(2)]
    assert stacks_of(islands, SMALL).congruent.tolist() == [0, 0]


@QUIET
@given(seed=SEEDS)
def test_planted_copies_are_found_with_their_handedness(seed: int) -> None:
    random = np.random.default_rng(seed)
    islands: list[Any] = []
    expected, is_mirrored = [], []
    for k in range(30):
        island = star(12, 60, seed + k, (0, 0))
        for copy in range(random.integers(1, 4)):
            flip = copy > 0 and random.random() < 0.5
            islands.append(
                placed(
                    mirrored(island) if flip else island,
                    turn=random.uniform(0, 6.28), at=tuple(random.uniform(100, 900, 2)),
                )
            )  # fmt: skip
            expected.append(k)
            is_mirrored.append(flip)
    found = stacks_of(islands, SMALL)
    assert found.congruent.tolist() == expected
    assert found.is_mirrored.tolist() == is_mirrored


@QUIET
@given(seed=SEEDS)
def test_random_islands_are_alike_only_to_themselves(seed: int) -> None:
    found = stacks_of(random_convex(60, seed, extent=900, size=60), SMALL)
    assert found.congruent.tolist() == list(range(60))
    assert found.group == found.misaligned == found.shareable == ()
    assert not found.is_mirrored.any()


@QUIET
@given(seed=SEEDS, turn=st.floats(0, 6.28))
def test_stacks_do_not_depend_on_numbers_or_place(seed: int, turn: float) -> None:
    random = np.random.default_rng(seed)
    some = [star(10, 50, seed + k, tuple(random.uniform(100, 900, 2))) for k in range(8)]
    islands = [some[k] for k in random.integers(0, 8, 30)]
    plain = stacks_of(islands, SMALL)
    order = random.permutation(30)
    moved = stacks_of([placed(islands[k], turn=turn, at=(30, 40)) for k in order], SMALL)
    renamed = {tuple(sorted(order[list(group)].tolist())) for group in moved.group}
    assert renamed == set(plain.group)


def test_a_turned_copy_is_no_copy_where_texels_are_not_square() -> None:
    tile = Tile(1024, 512)
    islands = [box(0, 0, 100, 40), box(200, 0, 240, 100)]
    assert stacks_of(islands, tile).congruent.tolist() == [0, 0]
    # In tile units the second is the first turned, but not in texels.
    islands = [box(0, 0, 100, 40), box(200, 0, 280, 50)]
    assert stacks_of(islands, tile).congruent.tolist() == [0, 1]


def test_two_thousand_copies_are_one_stack_without_overlap() -> None:
    layout = drawn([star(12, 20, 5)] * 2000)
    found = find_stacks(layout, TILE)
    assert found.group == (tuple(range(2000)),)
    overlap = measure_overlap(layout, TILE, found)
    assert pairs_of(overlap) == {}
    assert overlap.counted_at == 0


def test_an_island_across_a_stack_is_one_pair() -> None:
    layout = drawn([star(12, 20, 5)] * 5 + [box(30, 30, 63, 34)])
    overlap = measure_overlap(layout, TILE, find_stacks(layout, TILE))
    assert overlap.pair.tolist() == [[0, 5]]


def test_copies_too_small_to_share_are_not_listed() -> None:
    found = stacks_of([box(8 * k, 0, 8 * k + 1.5, 1.5) for k in range(6)])
    assert found.shareable == ()
    assert found.congruent.tolist() == list(range(6))


def test_islands_without_area_are_alike_to_none() -> None:
    line = [[(4, 4), (20, 20), (40, 40)]]
    found = stacks_of([line, line, box(0, 0, 9, 9), box(0, 0, 9, 9)])
    assert found.group == ((2, 3),)
    empty = find_stacks(drawn([]), TILE)
    assert empty.group == empty.misaligned == empty.shareable == ()
    assert len(empty.congruent) == len(empty.is_mirrored) == 0


def test_a_folded_strip_is_not_the_strip_it_seems_to_be() -> None:
    folded: Layout = strip((0, 0), (0.5, 0), (0.25, 0), width=0.125)
    found = find_stacks(folded, TILE)
    assert found.congruent.tolist() == [0]
    assert found.group == ()
