"""Islands are found again by their surface after every kind of edit, and never confused."""

from collections.abc import Callable

import numpy as np
import pytest
from tests import shapes
from tests.compare import edits
from tests.compare.truth import matched, told_apart

from evenweave.compare.matching.matching import match_islands
from evenweave.layout.build import build_layouts
from evenweave.mesh.asset import Asset
from evenweave.mesh.read import read
from evenweave.places import sample_assets


def lantern() -> Asset:
    return read(sample_assets() / "lantern_second_pass.obj")


def sheets() -> Asset:
    return shapes.tori(25, cells=6)


def everything(one: Asset) -> edits.Edit:
    return (
        edits.renamed(one)
        .then(edits.reordered)
        .then(edits.moved_about())
        .then(edits.scaled(0.7))
        .then(edits.retriangulated)
        .then(lambda it: edits.bevelled(it, 20, uvs="none")[0])
    )


EDITS = {
    "nothing": edits.nothing,
    "renamed": edits.renamed,
    "reordered": edits.reordered,
    "rewritten": edits.rewritten,
    "moved and turned": edits.moved_about(),
    "scaled": edits.scaled(0.5),
    "mirrored": lambda one: edits.each_island(one, lambda uv, _: uv * [-1, 1]),
    "flattened anew": lambda one: edits.each_island(one, lambda uv, _: uv + 0.1 * np.sin(9 * uv)),
    "cut into triangles": edits.retriangulated,
    "bevelled, new faces without UVs": lambda one: edits.bevelled(one, 20, uvs="none")[0],
    "bevelled, new faces on a point": lambda one: edits.bevelled(one, 20, uvs="point")[0],
    "bevelled, UVs carried over": lambda one: edits.bevelled(one, 20, uvs="kept")[0],
    "everything at once": everything,
}


@pytest.mark.kernels
@pytest.mark.parametrize("edit", EDITS.values(), ids=EDITS.keys())
@pytest.mark.parametrize("asset", [lantern, sheets, shapes.cube_pieces, shapes.cube])
def test_every_island_is_found_again_and_none_confused(
    asset: Callable[[], Asset], edit: Callable[[Asset], edits.Edit]
) -> None:
    one = asset()
    right, wrong, count = told_apart(one, edit(one))
    assert (right, wrong) == (count, 0)


def test_islands_of_both_passes_of_the_sample_are_matched_by_name() -> None:
    first = read(sample_assets() / "lantern_first_pass.obj")
    second = lantern()
    match = matched(first, second)
    names = [
        [name for layout in build_layouts(one) for name in layout.island_name]
        for one in (first, second)
    ]
    found = {
        name: names[1][new] for name, new in zip(names[0], match.new_of_old.tolist(), strict=True)
    }
    assert found.pop("cap 3") == "cap 2"  # the face cut off is sewn on again
    assert all(old == new for old, new in found.items())
    assert [n for n, old in zip(names[1], match.old_of_new, strict=True) if old < 0] == [
        "hinge_upper"
    ]


def test_an_island_cut_in_two_is_a_recut_of_both_pieces() -> None:
    one = sheets()
    match = matched(one, edits.cut(one, 7).asset)
    assert np.flatnonzero(match.is_recut).tolist() == [7]
    assert len(match.pieces_of_old(7)) == 2
    assert match.new_share == pytest.approx(np.ones(26))


def test_two_islands_sewn_together_are_a_recut_of_both() -> None:
    one = sheets()
    match = matched(edits.cut(one, 7).asset, one)
    assert match.is_recut.sum() == 2
    assert match.new_of_old[match.is_recut].tolist() == [7, 7]
    assert sorted(match.pieces_of_new(7)) == np.flatnonzero(match.is_recut).tolist()


def test_an_island_taken_away_is_found_nowhere_and_a_new_one_comes_from_nowhere() -> None:
    one = sheets()
    faces = np.flatnonzero(one.face_part == 3)
    fewer = edits.without(one, faces).asset
    gone = matched(one, fewer)
    assert gone.new_of_old[3] == -1
    assert (np.delete(gone.new_of_old, 3) == np.arange(24)).all()
    come = matched(fewer, one)
    assert np.flatnonzero(come.old_of_new < 0).tolist() == [3]


def test_two_sheets_in_one_place_are_told_apart_by_name_then_by_coordinates() -> None:
    left = shapes.plane(part="left", bounds=(0, 0, 0.4, 0.4))
    right = shapes.plane(part="right", bounds=(0.5, 0, 0.9, 0.4))
    old, swapped = shapes.together(left, right), shapes.together(right, left)
    assert matched(old, swapped).new_of_old.tolist() == [1, 0]
    assert matched(old, edits.renamed(swapped).asset).new_of_old.tolist() == [1, 0]


def test_the_two_sides_of_a_sheet_are_not_confused() -> None:
    front = shapes.plane(part="front", bounds=(0, 0, 0.4, 0.4))
    back = shapes.asset(
        front.position,
        [[3, 2, 1, 0]],
        [(0.5, 0), (0.9, 0), (0.9, 0.4), (0.5, 0.4)],
        parts=("back",),
    )
    match = matched(shapes.together(front, back), edits.renamed(shapes.together(back, front)).asset)
    assert match.new_of_old.tolist() == [1, 0]


def test_layouts_without_faces_match_nothing() -> None:
    (empty,) = build_layouts(edits.replace(shapes.plane(), uv_sets=()))
    (sheet,) = build_layouts(shapes.plane())
    assert match_islands(empty, sheet).new_of_old.tolist() == []
    assert match_islands(sheet, empty).new_of_old.tolist() == [-1]
    assert match_islands(empty, empty).old_of_new.tolist() == []


def turned_up(one: Asset) -> Asset:
    """From y up to z up, in centimetres, somewhere else."""
    matrix = 100 * np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]])
    return shapes.moved(one, matrix, (3, 4, 5))


@pytest.mark.parametrize("asset", [lantern, sheets])
def test_an_asset_turned_scaled_and_moved_as_a_whole_is_found(
    asset: Callable[[], Asset],
) -> None:
    one = asset()
    edit = edits.renamed(turned_up(one)).then(edits.reordered)
    assert told_apart(one, edit) == (count := len(matched(one, one).share), 0, count)
    assert matched(one, edit.asset).is_carried.all()


def carried(one: Asset, parts: tuple[int, ...]) -> Asset:
    """Parts turned by 30 degrees about z and taken 50 m away."""
    turn = np.radians(30)
    matrix = np.array(
        [[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]]
    )
    is_its = np.repeat(np.isin(one.face_part, parts), np.diff(one.face_start))
    points = np.unique(one.corner_position[is_its])
    position = one.position.copy()
    position[points] = position[points] @ matrix.T + (50, 0, 0)
    return edits.replace(one, position=edits.floats(position))


def test_parts_moved_in_space_are_found_by_their_shape() -> None:
    one = lantern()
    parts = tuple(one.part_names.index(name) for name in ("door", "handle", "cap"))
    edit = edits.Edit(carried(one, parts), np.arange(one.face_count))
    right, wrong, count = told_apart(one, edit)
    assert (right, wrong) == (count, 0)
    match = matched(one, edit.asset)
    assert 0 < match.is_carried.sum() < count


def test_of_equal_parts_moved_in_space_none_is_guessed() -> None:
    pieces = [
        shapes.moved(shapes.plane(part=f"plate {k}", bounds=(k / 4, 0, k / 4 + 0.2, 0.2)),
                     np.eye(3), (3 * k, 0, 0))
        for k in range(4)
    ]  # fmt: skip
    old = shapes.together(*pieces)
    moved = carried(old, (0, 1))
    assert matched(old, moved).new_of_old.tolist() == [0, 1, 2, 3]  # told by name
    nameless = edits.replace(moved, part_names=("a", "b", "c", "d"))
    assert matched(old, nameless).new_of_old.tolist() == [-1, -1, 2, 3]
