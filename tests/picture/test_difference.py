"""The picture of two passes: the same colour for an island before and after."""

from dataclasses import replace

import numpy as np
import pytest
from tests import shapes
from tests.compare import edits

from evenweave.arrays import ByteArray
from evenweave.compare.comparison import Comparison, compare
from evenweave.compare.states import STATES
from evenweave.limits.limits import DEFAULT
from evenweave.picture.difference import (
    STATE_COLOURS,
    difference,
    layout_named,
    new_states,
    old_states,
)
from evenweave.picture.lettering.sheet import sheet
from evenweave.pipeline import review
from evenweave.raster.colour.colours import Colour

WIDTH, HEIGHT = 800, 500


def changed(edit: edits.Edit) -> Comparison:
    return compare(review(shapes.tori(9), DEFAULT), review(edit.asset, DEFAULT))


def drawn(one: Comparison) -> ByteArray:
    return difference(one, layout_named(one, None), WIDTH, HEIGHT)


def count(picture: ByteArray, colour: Colour) -> int:
    return int((picture == np.array(colour, dtype=np.uint8)).all(axis=2).sum())


def test_a_moved_island_has_one_colour_on_both_sides_and_the_others_none() -> None:
    one = changed(edits.each_island(shapes.tori(9), lambda uv, i: uv - 0.1 * (i == 0)))
    picture = drawn(one)
    assert picture.shape == (HEIGHT, WIDTH, 3)
    left, right = picture[:, : WIDTH // 2], picture[:, WIDTH // 2 :]
    moved = STATE_COLOURS["moved"]
    assert count(left, moved) > 1000
    assert count(right, moved) > 1000
    assert count(picture, STATE_COLOURS["turned"]) == 0


def test_a_picture_is_the_same_bytes_twice() -> None:
    one = changed(edits.cut(shapes.tori(9), 4))
    assert drawn(one).tobytes() == drawn(one).tobytes()


def test_all_pieces_of_a_cut_island_are_recut() -> None:
    one = changed(edits.cut(shapes.tori(9), 4))
    recut = STATES.index("re-cut")
    assert (old_states(one, 0) == recut).sum() == 1
    assert np.flatnonzero(new_states(one, 0) == recut).tolist() == [*one.match.pieces_of_old(4)]


def test_layouts_without_faces_are_drawn_empty() -> None:
    bare = review(replace(shapes.plane(), uv_sets=()), DEFAULT)
    assert drawn(compare(bare, bare)).shape == (HEIGHT, WIDTH, 3)


@pytest.mark.parametrize("size", [(320, 320), (1280, 720)])
def test_pictures_of_any_size_can_be_drawn(size: tuple[int, int]) -> None:
    one = changed(edits.bevelled(shapes.tori(9), 5, uvs="point")[0])
    assert difference(one, one.layouts[0], *size).shape == (size[1], size[0], 3)


def test_every_state_has_a_colour_of_its_own() -> None:
    assert set(STATE_COLOURS) == set(STATES)
    assert len(set(STATE_COLOURS.values())) == len(STATES)


def test_a_layout_that_one_pass_lacks_is_said_to_be_missing() -> None:
    """Its half is not left blank, so that nobody takes it for a fault of the picture."""
    other = review(shapes.cone(), DEFAULT)
    one = compare(review(shapes.with_material(shapes.tori(9), "brass"), DEFAULT), other)
    assert [(change.old, change.new) for change in one.layouts] == [(-1, 0), (0, -1)]
    picture = difference(one, one.layouts[0], WIDTH, HEIGHT)
    box = sheet(WIDTH, HEIGHT, views=2).views[0]
    middle = slice(box.top + box.height // 2 - 40, box.top + box.height // 2 + 40)
    assert len(np.unique(picture[middle, box.left : box.left + box.width].reshape(-1, 3))) > 2
