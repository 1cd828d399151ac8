"""Trials in the session: tried on a copy, switched, undone, followed, saved and given up."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pytestqt.qtbot import QtBot
from tests.window.trial_meshes import DOME, LEFT, MIRRORED, RIGHT, SQUASHED, write_mesh

from evenweave.errors import EvenweaveError
from evenweave.mesh.read import read
from evenweave.trial import jobs
from evenweave.trial.advice.advice import advise_island
from evenweave.trial.document.change import Change, layout_changes
from evenweave.trial.flatten.island_mesh import island_mesh
from evenweave.trial.jobs import Job
from evenweave.trial.sew.sew import propose_sews
from evenweave.window.services.session import Session
from evenweave.window.state.open import followed

ANSWER_MS = 110000


@pytest.fixture
def mesh(tmp_path: Path) -> Path:
    return write_mesh(tmp_path / "mesh.obj")


@pytest.fixture
def opened(session: Session, mesh: Path, qtbot: QtBot) -> Session:
    with qtbot.waitSignal(session.review_replaced, timeout=ANSWER_MS):
        session.open(mesh)
    return session


def tried(session: Session, job: Job, qtbot: QtBot) -> None:
    with qtbot.waitSignal(session.trials.changed, timeout=ANSWER_MS):
        session.trials.try_out(job)


def changes(session: Session) -> tuple[Change, ...]:
    trial, index = session.trials.trial, session.layout_index
    assert trial is not None
    return layout_changes(trial.original.layouts[index], trial.review.layouts[index])


def stretch(session: Session, island: int) -> float:
    assert session.shown is not None
    return float(session.shown.measures.island.stretch_p95[island])


def test_a_trial_changes_what_is_shown_and_leaves_the_file_as_it_is(
    opened: Session, mesh: Path, qtbot: QtBot
) -> None:
    data, original = mesh.read_bytes(), opened.original
    assert original is not None
    before = original.asset.uv_sets[0].uv.copy()
    assert stretch(opened, SQUASHED) == pytest.approx(2.0, rel=1e-5)
    tried(opened, jobs.unwrapping(0, (SQUASHED,)), qtbot)
    assert stretch(opened, SQUASHED) == pytest.approx(1.0, abs=1e-4)
    assert opened.original is original
    assert opened.review is not original
    assert np.array_equal(original.asset.uv_sets[0].uv, before)
    assert mesh.read_bytes() == data


def test_before_and_after_are_switched_and_numbers_tell_of_both(
    opened: Session, qtbot: QtBot
) -> None:
    tried(opened, jobs.unmirroring(0, (MIRRORED,)), qtbot)
    trials = opened.trials
    change = next(one for one in changes(opened) if one.label == "flipped triangles")
    assert (change.before, change.after, change.gain) == (32, 0, 1)
    trials.switch()
    assert opened.review is opened.original
    assert not trials.can_try
    trials.switch()
    assert opened.review is not opened.original
    assert trials.can_try


def test_steps_are_undone_and_done_again(opened: Session, qtbot: QtBot) -> None:
    trials = opened.trials
    tried(opened, jobs.unwrapping(0, (SQUASHED,)), qtbot)
    tried(opened, jobs.unmirroring(0, (MIRRORED,)), qtbot)
    assert trials.trial is not None
    assert trials.trial.undo_words == "mirror mirrored"
    assert opened.shown is not None
    assert opened.shown.measures.island.flipped_triangles.sum() == 0
    opened.undo()
    assert opened.shown.measures.island.flipped_triangles[MIRRORED] > 0
    assert stretch(opened, SQUASHED) == pytest.approx(1.0, abs=1e-4)
    opened.redo()
    assert opened.shown.measures.island.flipped_triangles.sum() == 0
    opened.undo()
    opened.undo()
    assert trials.trial is None
    assert opened.review is opened.original
    assert not opened.undo_stack.canUndo()


def test_giving_up_shows_the_file_again(opened: Session, qtbot: QtBot) -> None:
    tried(opened, jobs.unwrapping(0, (SQUASHED,)), qtbot)
    opened.trials.discard()
    assert opened.trials.trial is None
    assert opened.review is opened.original
    assert stretch(opened, SQUASHED) == pytest.approx(2.0, rel=1e-5)


def test_what_is_sewn_becomes_one_island_and_the_selection_follows(
    opened: Session, qtbot: QtBot
) -> None:
    shown = opened.shown
    assert shown is not None
    sews = propose_sews(shown.layout, shown.measures, opened.trials.worker)
    opened.select((LEFT, RIGHT, DOME))
    tried(opened, jobs.sewing(0, sews), qtbot)
    after = opened.shown
    assert after is not None
    assert after.layout.island_count == shown.layout.island_count - 1
    assert len(opened.selection) == 2
    opened.trials.switch()
    assert len(opened.selection) == 2
    assert followed(shown.layout, after.layout, (LEFT, RIGHT, DOME)) == (0, 3)


def test_an_island_is_cut_open_as_proposed(opened: Session, qtbot: QtBot) -> None:
    shown = opened.shown
    assert shown is not None
    advice = advise_island(island_mesh(shown.layout, DOME), opened.trials.worker)
    before = float(shown.measures.island.dirichlet[DOME])
    tried(opened, jobs.cutting(0, {DOME: advice.cuts[0]}), qtbot)
    assert opened.shown is not None
    after = float(opened.shown.measures.island.dirichlet[DOME])
    assert after == pytest.approx(advice.cuts[0].energy.value, abs=0.01)
    assert after < before
    seams = [one.layout.edges.seam for one in (shown, opened.shown)]
    assert len(seams[1]) == len(seams[0]) + len(advice.cuts[0].edge_corner)


def test_levelling_makes_densities_alike(opened: Session, qtbot: QtBot) -> None:
    tried(opened, jobs.levelling(0, (), to_target=False), qtbot)
    assert opened.shown is not None
    density = opened.shown.measures.island.density_median
    assert density == pytest.approx(density[0], rel=1e-6)


def test_levelling_a_selection_leaves_the_others(opened: Session, qtbot: QtBot) -> None:
    assert opened.shown is not None
    before = opened.shown.measures.island.density_median
    tried(opened, jobs.levelling(0, (SQUASHED,), to_target=True), qtbot)
    after, target = opened.shown.measures.island.density_median, opened.shown.target_density
    assert after[SQUASHED] != pytest.approx(before[SQUASHED])
    assert target > 0
    others = [LEFT, RIGHT, MIRRORED, DOME]
    assert after[others] == pytest.approx(before[others], rel=1e-6)


def test_what_is_safe_is_fixed_without_asking(opened: Session, qtbot: QtBot) -> None:
    said: list[tuple[str, ...]] = []
    opened.trials.said.connect(said.append)
    tried(opened, jobs.fixing, qtbot)
    known = {one.label: one for one in changes(opened)}
    assert known["faults"].after <= known["faults"].before
    assert known["coverage"].gain == 1
    assert stretch(opened, SQUASHED) == pytest.approx(1.0, abs=1e-3)
    assert said


def test_other_limits_are_followed_by_the_trial(opened: Session, qtbot: QtBot) -> None:
    tried(opened, jobs.unwrapping(0, (SQUASHED,)), qtbot)
    limits = replace(opened.limits, stretch_p95=1.2)
    opened.edit_limits(limits, "stretch")

    def is_followed() -> bool:
        trial = opened.trials.trial
        return trial is not None and trial.review.limits == limits and not opened.lane.is_busy

    qtbot.waitUntil(is_followed, timeout=ANSWER_MS)
    assert opened.review is not None
    assert opened.review.limits == limits
    assert stretch(opened, SQUASHED) == pytest.approx(1.0, abs=1e-4)


def test_another_mesh_is_opened_only_if_the_trial_may_be_lost(
    opened: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    other = write_mesh(tmp_path / "other.obj")
    tried(opened, jobs.unwrapping(0, (SQUASHED,)), qtbot)
    asked: list[bool] = []

    def refuse() -> bool:
        asked.append(False)
        return False

    opened.may_leave = refuse
    opened.open(other)
    assert asked == [False]
    assert not opened.lane.is_busy
    opened.may_leave = lambda: True
    with qtbot.waitSignal(opened.review_replaced, timeout=ANSWER_MS):
        opened.open(other)
    assert opened.trials.trial is None
    assert opened.original is not None
    assert opened.original.asset.path == other


def test_nothing_is_asked_where_nothing_would_be_lost(
    opened: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    def refuse() -> bool:
        raise AssertionError("asked for nothing")

    opened.may_leave = refuse
    tried(opened, jobs.unwrapping(0, (SQUASHED,)), qtbot)
    assert opened.trials.trial is not None
    opened.trials.note_saved(opened.trials.trial)
    with qtbot.waitSignal(opened.review_replaced, timeout=ANSWER_MS):
        opened.open(write_mesh(tmp_path / "other.obj"))
    assert opened.trials.trial is None


def test_what_cannot_be_tried_is_told_in_a_sentence(opened: Session, qtbot: QtBot) -> None:
    met: list[EvenweaveError] = []
    opened.problem_met.connect(met.append)
    tried(opened, jobs.levelling(0, (), to_target=False), qtbot)
    with qtbot.waitSignal(opened.problem_met, timeout=ANSWER_MS):
        opened.trials.try_out(jobs.levelling(0, (SQUASHED,), to_target=True))
    assert [str(one) for one in met] == ["No advice, because it would change nothing."]
    assert opened.trials.trial is not None
    assert len(opened.trials.trial.steps) == 1


def test_a_cancelled_trial_leaves_what_was_tried_before(opened: Session, qtbot: QtBot) -> None:
    tried(opened, jobs.unwrapping(0, (SQUASHED,)), qtbot)
    review = opened.review
    opened.trials.try_out(jobs.fixing)
    opened.trials.cancel()
    assert not opened.trials.lane.is_busy
    assert opened.review is review
    assert opened.trials.can_try


def test_the_file_still_reads_as_it_did(opened: Session, mesh: Path, qtbot: QtBot) -> None:
    tried(opened, jobs.fixing, qtbot)
    again, original = read(mesh), opened.original
    assert original is not None
    assert again.digest == original.asset.digest
