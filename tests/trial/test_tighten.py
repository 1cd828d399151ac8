"""Tightening ends at the scale worked out by hand, and keeps shapes apart on the way."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.trial.layouts import TILE, box, ell, layout
from tests.trial.test_pack import mixed

from evenweave.arrays import ints
from evenweave.measure.stacks.stacks import find_stacks
from evenweave.trial.nest.blocks import blocks, turn_matrix
from evenweave.trial.nest.outline import block_shape, has_holes
from evenweave.trial.pack.pack import PackOptions, pack
from evenweave.trial.tighten.convex import convex_pieces
from evenweave.trial.tighten.tighten import Loose, Lying, tight, tighten

SIDE = 100.0
SQUARE = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10]])


def loose(*shapes: np.ndarray, padding: float = 4.0, may_turn: bool = False, most: float = 1e9):
    pieces = tuple(convex_pieces(shapely.Polygon(one)) for one in shapes)
    straight = np.zeros(len(shapes)) if may_turn else None
    return Loose(pieces, ((0.0, SIDE), (0.0, SIDE)), padding, most, straight)


def at(*shifts: tuple[float, float], degrees: float = 0.0, tile: tuple[int, ...] = ()) -> Lying:
    turns = np.full(len(shifts), degrees)
    return Lying(1.0, turns, np.array(shifts), ints(tile or [0] * len(shifts)))


def tightened(one: Loose, lying: Lying) -> Lying:
    return tight(one, lying, lambda: True)


def shapes(of: list[np.ndarray], lying: Lying) -> list[shapely.Polygon]:
    return [
        shapely.Polygon(lying.scale * (one @ turn_matrix(angle) + shift))
        for one, angle, shift in zip(of, lying.degrees.tolist(), lying.shift, strict=True)
    ]


def test_two_squares_side_by_side_fill_the_width() -> None:
    found = tightened(loose(SQUARE, SQUARE), at((5, 40), (60, 42)))
    assert found.scale == pytest.approx((SIDE - 4) / 20, rel=1e-4)
    a, b = shapes([SQUARE, SQUARE], found)
    assert a.distance(b) == pytest.approx(4, abs=1e-5)


def test_scales_only_grow() -> None:
    scales = [one.scale for one in tighten(loose(SQUARE, SQUARE), at((5, 40), (60, 42)))]
    assert scales == sorted(scales)
    assert len(scales) > 3


def test_a_largest_scale_is_kept() -> None:
    assert tightened(loose(SQUARE, most=1.5), at((5, 40))).scale == pytest.approx(1.5)


def test_a_bar_turns_towards_the_diagonal() -> None:
    """At 45 degrees a bar's box has the side (length + width) / sqrt 2, less than at any other."""
    bar = np.array([[0.0, 0], [50, 0], [50, 2], [0, 2]])
    start = Lying(2.4, np.array([38.0]), np.array([[1.3, 0.1]]), ints([0]))
    stays = tightened(loose(bar), start)
    turns = tightened(loose(bar, may_turn=True), start)
    assert turns.scale == pytest.approx(SIDE * math.sqrt(2) / 52, rel=1e-4)
    assert stays.scale < 0.98 * turns.scale
    assert turns.degrees[0] == pytest.approx(45.0, abs=0.1)


def test_what_has_room_turns_straight() -> None:
    """A wall to wall bar sets the scale; a small one above it has no need to lie askew."""
    wall, small = np.array([[0.0, 0], [90, 0], [90, 5], [0, 5]]), SQUARE * [1.0, 0.3]
    lying = Lying(1.0, np.array([0.0, 8.0]), np.array([[5.0, 5], [40, 60]]), ints([0, 0]))
    found = tightened(loose(wall, small, may_turn=True), lying)
    assert found.scale >= SIDE / 90 * (1 - 1e-4)
    assert found.degrees[1] == pytest.approx(0.0, abs=1e-3)


def test_overlapping_squares_are_driven_apart() -> None:
    found = tightened(loose(SQUARE, SQUARE), at((40, 40), (47, 43)))
    a, b = shapes([SQUARE, SQUARE], found)
    assert a.distance(b) >= 4 - 1e-5
    assert found.scale > 1


def test_tiles_know_nothing_of_each_other() -> None:
    found = tightened(loose(SQUARE, SQUARE), at((40, 40), (40, 40), tile=(0, 1)))
    assert found.scale == pytest.approx(SIDE / 10, rel=1e-4)


def test_what_time_does_not_allow_is_left() -> None:
    start = at((5, 40))
    assert tight(loose(SQUARE), start, lambda: False) is start


@settings(deadline=None, max_examples=25, derandomize=True)
@given(st.integers(0, 10_000), st.booleans())
def test_padding_is_kept_whatever_lies_there(seed: int, may_turn: bool) -> None:
    random = np.random.default_rng(seed)
    of = []
    for k in range(9):
        angle = np.sort(random.uniform(0, 2 * np.pi, 7))
        radius = random.uniform(3, 12, 7)[:, None] if k % 2 else 8.0
        star = np.stack([np.cos(angle), np.sin(angle)], axis=1) * radius
        of.append(star if shapely.Polygon(star).is_valid else SQUARE)
    places = [(20 + 30 * (k % 3), 20 + 30 * (k // 3)) for k in range(9)]
    found = tightened(loose(*of, may_turn=may_turn), at(*places))
    placed = shapes(of, found)
    for k, one in enumerate(placed):
        assert all(one.distance(other) >= 4 - 1e-4 for other in placed[:k])
        assert shapely.box(0, 0, SIDE, SIDE).buffer(1e-4).covers(one)


@settings(deadline=None, max_examples=60, derandomize=True)
@given(st.integers(0, 10_000), st.integers(3, 40))
def test_pieces_are_convex_and_cover_the_shape(seed: int, corners: int) -> None:
    random = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) * random.uniform(1, 9, (corners, 1))
    shape = shapely.Polygon(ring)
    pieces = [shapely.Polygon(one) for one in convex_pieces(shape)]
    assert all(one.area == pytest.approx(one.convex_hull.area) for one in pieces)
    assert sum(one.area for one in pieces) == pytest.approx(shape.area)
    assert shapely.unary_union(pieces).symmetric_difference(shape).area < 1e-9 * shape.area
    assert len(pieces) <= max(1, corners - 2)


def test_an_ell_is_two_pieces() -> None:
    corner = shapely.Polygon([(0, 0), (4, 0), (4, 1), (1, 1), (1, 4), (0, 4)])
    assert len(convex_pieces(corner)) == 2


def test_a_shape_keeps_the_holes_that_something_may_lie_in() -> None:
    t = np.linspace(0, 2 * np.pi, 40)
    circle = np.stack([np.cos(t), np.sin(t)], axis=1)
    frame, full = (
        blocks(one, TILE, find_stacks(one, TILE))[0]
        for one in (
            layout([np.vstack([0.4 * circle, 0.3 * circle[::-1]])]),
            layout([ell(0.2, 0.1)]),
        )
    )
    assert (has_holes(frame), has_holes(full)) == (True, False)
    (hole,) = block_shape(frame).interiors
    area = shapely.Polygon(hole).area
    assert area == pytest.approx(np.pi * (0.3 * 1024) ** 2, rel=0.03)
    assert area < np.pi * (0.3 * 1024) ** 2
    pieces = shapely.multipolygons([shapely.Polygon(p) for p in convex_pieces(block_shape(frame))])
    assert not pieces.contains(shapely.Polygon(hole).centroid)


def test_a_packing_is_tightened_and_still_measured() -> None:
    """Boxes of odd sizes do not lie on the cells of the grid packer."""
    one = layout([box(0.137 + 0.011 * k, 0.091, (2 * k, 0)) for k in range(12)])
    found = pack(
        one, TILE, PackOptions(8.0, 4.0, seconds=20.0, passes=3), stacks=find_stacks(one, TILE)
    )
    assert found.padding_px == pytest.approx(8.0, abs=0.01)
    assert found.padding_px >= 8.0
    assert found.margin_px >= 4.0


def test_a_tightened_packing_says_where_blocks_lie() -> None:
    one = mixed(8)
    stacks = find_stacks(one, TILE)
    found = pack(one, TILE, PackOptions(8.0, 4.0, seconds=20.0, passes=3), stacks=stacks)
    every = blocks(one, TILE, stacks)
    for block, angle, shift in zip(every, found.lying.degrees, found.lying.shift, strict=True):
        lines = found.scale * (block.line_px.reshape(-1, 2) @ turn_matrix(angle) + shift)
        assert lines.min() >= -1e-6
        assert lines.max() <= 1024 - 8 + 1e-6
