"""The trial document: the original stays, steps are taken back and done again."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests import shapes

from evenweave.check.finding import Severity
from evenweave.limits.limits import DEFAULT, Limits
from evenweave.mesh.asset import Asset
from evenweave.notes.store import EMPTY, with_waiver
from evenweave.notes.waiving import apply_waivers, new_waiver
from evenweave.pipeline import Review, review
from evenweave.trial.document import document
from evenweave.trial.document.change import (
    Change,
    island_changes,
    layout_changes,
    open_changes,
    successors,
)
from evenweave.trial.flatten.island_mesh import island_corners
from evenweave.trial.uvs.asset_uvs import corner_values, trial_asset
from evenweave.trial.uvs.corner_uvs import CornerUvs


@pytest.fixture(scope="module")
def pieces() -> Review:
    return review(shapes.cube_pieces(), DEFAULT)


def moved(
    judged: Review, island: int, offset: tuple[float, float], layout: int = 0
) -> document.Step:
    """A step that moves one island."""
    one = judged.layouts[layout].layout
    corner = island_corners(one, island)
    change = CornerUvs.of(corner, one.uv[one.corner_uv[corner]] + offset)
    return document.step(f"move {one.island_name[island]}", layout, [change])


def uvs(asset: Asset) -> NDArray[np.float64]:
    return corner_values(asset.uv_sets[0])


def test_a_trial_leaves_the_original_as_it_is(pieces: Review) -> None:
    before = uvs(pieces.asset).copy()
    trial = document.applied(document.begin(pieces), moved(pieces, 0, (0.25, 0.0)))
    assert trial.original is pieces
    assert (uvs(pieces.asset) == before).all()
    assert not (uvs(trial.asset) == before).all()


def test_what_is_not_changed_keeps_its_row_and_value(pieces: Review) -> None:
    trial = document.applied(document.begin(pieces), moved(pieces, 0, (0.25, 0.0)))
    old, new = pieces.asset.uv_sets[0], trial.asset.uv_sets[0]
    assert len(new.uv) == len(old.uv)
    assert (new.corner_uv == old.corner_uv).all()
    assert np.flatnonzero((new.uv != old.uv).any(axis=1)).tolist() == [0, 1, 2, 3]


def test_undo_and_redo_lead_through_the_same_states(pieces: Review) -> None:
    first = document.applied(document.begin(pieces), moved(pieces, 0, (0.25, 0.0)))
    second = document.applied(first, moved(pieces, 1, (0.0, 0.25)))
    back = document.undone(second)
    assert (uvs(back.asset) == uvs(first.asset)).all()
    assert (back.undo_words, back.redo_words) == (first.undo_words, second.undo_words)
    again = document.redone(back)
    assert (uvs(again.asset) == uvs(second.asset)).all()
    assert again.undone == ()
    start = document.undone(document.undone(again))
    assert start.review is pieces
    assert len(start.undone) == 2


def test_a_new_step_forgets_what_was_undone(pieces: Review) -> None:
    first = document.applied(document.begin(pieces), moved(pieces, 0, (0.25, 0.0)))
    other = document.applied(document.undone(first), moved(pieces, 1, (0.0, 0.25)))
    assert other.undone == ()
    assert document.redone(other) is other


def test_undoing_nothing_changes_nothing(pieces: Review) -> None:
    trial = document.begin(pieces)
    assert document.undone(trial) is trial
    assert trial.undo_words == trial.redo_words == ""


def test_the_review_of_the_copy_is_that_of_a_file_with_its_coordinates(pieces: Review) -> None:
    trial = document.applied(document.begin(pieces), moved(pieces, 0, (2.0, 0.0)))
    fresh = review(trial.asset, pieces.limits)
    ours = [w.what for w in trial.review.layouts[0].findings]
    assert ours == [w.what for w in fresh.layouts[0].findings]
    assert ours != [w.what for w in pieces.layouts[0].findings]


def two_materials() -> Asset:
    one = shapes.cube_pieces()
    material = np.array([0, 0, 0, 1, 1, 1], np.int32)
    return replace(one, face_material=material, material_names=("oak", "tin"))


def test_layouts_that_nothing_was_tried_on_keep_their_measures() -> None:
    judged = review(two_materials(), DEFAULT)
    trial = document.applied(document.begin(judged), moved(judged, 1, (0.0, 0.5), layout=1))
    assert trial.review.layouts[0] is judged.layouts[0]
    assert trial.review.layouts[1] is not judged.layouts[1]
    assert trial.changed_layouts == (1,)


def test_steps_on_two_layouts_are_undone_one_by_one() -> None:
    judged = review(two_materials(), DEFAULT)
    first = document.applied(document.begin(judged), moved(judged, 0, (0.5, 0.0), layout=0))
    second = document.applied(first, moved(judged, 0, (0.0, 0.5), layout=1))
    back = document.undone(second)
    assert back.review.layouts[0] is second.review.layouts[0]
    assert (uvs(back.asset) == uvs(first.asset)).all()


def test_a_trial_moves_on_to_other_limits(pieces: Review) -> None:
    trial = document.applied(document.begin(pieces), moved(pieces, 0, (2.0, 0.0)))
    wider = review(pieces.asset, Limits(udim=True))
    moved_on = document.rebased(trial, wider)
    assert moved_on.review.limits.udim
    assert (uvs(moved_on.asset) == uvs(trial.asset)).all()


def test_a_coordinate_shared_by_two_islands_is_parted() -> None:
    # Two faces that touch nowhere on the object lie on one another, row by row.
    one = shapes.asset(
        [[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 5], [1, 0, 5], [0, 1, 5]],
        [[0, 1, 2], [3, 4, 5]],
        [[0.1, 0.1], [0.4, 0.1], [0.1, 0.4]],
        uv_faces=[[0, 1, 2], [0, 1, 2]],
    )
    judged = review(one, DEFAULT)
    new = document.applied(document.begin(judged), moved(judged, 1, (0.5, 0.0))).asset.uv_sets[0]
    assert new.corner_uv.tolist() == [0, 1, 2, 3, 4, 5]
    assert new.uv[:3] == pytest.approx(one.uv_sets[0].uv)
    assert new.uv[3:] == pytest.approx(one.uv_sets[0].uv + np.array([0.5, 0.0]))


def test_a_row_whose_corners_all_move_apart_goes_to_the_first_of_them() -> None:
    one = shapes.asset(
        [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]],
        [[0, 1, 2], [0, 2, 3]],
        [[0.1, 0.1], [0.4, 0.1], [0.4, 0.4], [0.1, 0.4]],
    )
    layout = review(one, DEFAULT).layouts[0].layout
    uv = layout.uv[layout.corner_uv]
    uv[:3] += [0.0, 0.2]
    uv[3:] += [0.0, 0.3]
    new = trial_asset(one, layout, CornerUvs.of(np.arange(6, dtype=np.int32), uv)).uv_sets[0]
    assert new.uv[new.corner_uv] == pytest.approx(uv)
    assert new.corner_uv.tolist() == [0, 1, 2, 4, 5, 3]


def test_absent_coordinates_stay_absent() -> None:
    one = shapes.asset(
        [[0, 0, 0], [1, 0, 0], [0, 1, 0]],
        [[0, 1, 2], [0, 1, 2]],
        [[0.1, 0.1], [0.4, 0.1], [0.1, 0.4]],
        uv_faces=[[0, 1, 2], [-1, -1, -1]],
    )
    judged = review(one, DEFAULT)
    new = document.applied(document.begin(judged), moved(judged, 0, (0.5, 0.0))).asset.uv_sets[0]
    assert new.corner_uv.tolist() == [0, 1, 2, -1, -1, -1]


def test_before_and_after_are_told_in_numbers(pieces: Review) -> None:
    trial = document.applied(document.begin(pieces), moved(pieces, 0, (2.0, 0.0)))
    before, after = pieces.layouts[0], trial.review.layouts[0]
    rows = {row.label: row for row in layout_changes(before, after)}
    assert rows["faults"].before == 0
    assert rows["faults"].after > 0
    assert rows["faults"].gain == -1
    assert rows["islands"].words() == ("6", "6")
    (margin,) = (r for r in island_changes(before, after, 0) if r.label == "margin")
    # Two tiles to the right it lies in another tile as it lay in its own.
    assert margin.after == pytest.approx(margin.before)


@pytest.mark.parametrize(
    ("change", "gain"),
    [
        (Change("faults", 4001.0, 4000.0, "", -1), 1),  # counts are exact
        (Change("stretch", 429.6, 429.3, "", -1), 0),
        (Change("coverage", 0.61, 0.6095, "%", 1), 0),
        (Change("coverage", 0.61, 0.606, "%", 1), -1),
        (Change("overlap", 0.0, 0.5, "px²", -1), -1),
    ],
)
def test_only_what_can_be_seen_is_called_better_or_worse(change: Change, gain: int) -> None:
    assert change.gain == gain


def test_next_to_nothing_is_written_as_0() -> None:
    assert Change("spread", 0.9827, 0.0001, "octaves", -1).words() == ("0.983 octaves", "0 octaves")


def test_open_warnings_are_counted_and_waived_ones_apart(pieces: Review) -> None:
    trial = document.applied(document.begin(pieces), moved(pieces, 0, (2.0, 0.0)))
    before, after = pieces.layouts[0], trial.review.layouts[0]
    fault = next(one for one in after.findings if one.severity is Severity.FAULT)
    plain = {row.label: row for row in layout_changes(before, after)}
    assert "waived" not in plain
    store = with_waiver(EMPTY, new_waiver(after, fault, "meant"))
    both = [apply_waivers(one, store).layouts[0] for one in (pieces, trial.review)]
    rows = {row.label: row for row in open_changes(before, after, (both[0], both[1]))}
    assert rows["faults"].after == plain["faults"].after - 1
    assert (rows["waived"].before, rows["waived"].after) == (0, 1)
    assert list(rows)[:4] == ["faults", "warnings", "remarks", "waived"]


def test_a_cut_island_is_followed_into_its_larger_half() -> None:
    judged = review(shapes.plane(3, 1, columns=3, rows=1), DEFAULT)
    layout = judged.layouts[0].layout
    corner = np.arange(4, dtype=np.int32)
    change = CornerUvs.of(corner, layout.uv[layout.corner_uv[corner]] + [0.0, 1.0])
    trial = document.applied(
        document.begin(judged), document.step("cut the first face off", 0, [change])
    )
    after = trial.review.layouts[0]
    assert after.layout.island_count == 2
    assert successors(judged.layouts[0].layout, after.layout).tolist() == [1]
    assert successors(after.layout, judged.layouts[0].layout).tolist() == [0, 0]
