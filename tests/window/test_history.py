"""One history: whatever is done and undone, what was there comes back; bugs end nothing."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import hypothesis.strategies as st
import pytest
from hypothesis import HealthCheck, given, settings
from pytestqt.exceptions import capture_exceptions
from pytestqt.qtbot import QtBot
from tests.window.trial_meshes import MIRRORED, SQUASHED, write_mesh

from evenweave.notes.locating import Spot
from evenweave.notes.notes_file import notes_path, read_notes
from evenweave.notes.place import middle_triangle, place_of_island
from evenweave.trial import jobs
from evenweave.window.services import notes_held, notes_keeper, reading
from evenweave.window.services.session import Session
from evenweave.window.state.lane import Bug

ANSWER_MS = 60000
ACTIONS = ("limits", "tile", "unit", "purpose", "note", "text", "state", "accept", "try", "give up")


@pytest.fixture
def opened(session: Session, tmp_path: Path, qtbot: QtBot) -> Session:
    session.open(write_mesh(tmp_path / "mesh.obj"))
    idle(session, qtbot)
    return session


def idle(session: Session, qtbot: QtBot) -> None:
    """Wait until nothing is being worked on and the review follows what is in force."""

    def is_idle() -> bool:
        now, notebook = session.now, session.notebook
        lanes = (session.lane, session.trials.lane, notebook._finding, notebook._reading)
        return (
            now.file is not None
            and not any(lane.is_busy for lane in lanes)
            and now.file.review.limits == now.limits
            and now.file.review.asset.unit.metres == now.metres
            and (now.tried is None or now.tried.trial.original is now.file.review)
            and notebook.is_ready
        )

    qtbot.waitUntil(is_idle, timeout=ANSWER_MS)


def state(session: Session) -> tuple[Any, ...]:
    """Everything that can be undone, and what the views show of it."""
    now, review = session.now, session.now.review
    assert review is not None
    steps = now.tried.trial.steps if now.tried else ()
    findings = tuple((f.check, f.islands, f.value) for one in review.layouts for f in one.findings)
    uv = tuple(one.uv.tobytes() for one in review.asset.uv_sets)
    return now.limits, now.metres, now.notes.notes, now.notes.waivers, steps, findings, uv


def act(session: Session, action: str, number: int) -> None:
    notebook, shown = session.notebook, session.shown
    assert shown is not None
    if action == "limits":
        session.edit_limits(replace(session.limits, coverage=0.1 + 0.01 * number), "coverage")
    elif action == "tile":
        session.edit_limits(replace(session.limits, tile_width=512 + number), "tile")
    elif action == "unit":
        session.choose_unit(0.5 + number)
    elif action == "purpose":
        session.choose_purpose("tiling" if number % 2 else "unique")
    elif action == "note":
        island = number % shown.layout.island_count
        place = place_of_island(shown.layout, island)
        triangle = middle_triangle(shown.layout, island)
        face = int(shown.layout.asset_face[shown.layout.triangle_face[triangle]])
        spot = Spot(session.layout_index, island, triangle, face, (0.0, 0.0, 0.0), (0.0, 0.0))
        notebook.add("island", place, spot)
    elif action == "text" and notebook.store.notes:
        notebook.write(notebook.store.notes[-1].id, f"text {number}")
        notebook.end_typing()
    elif action == "state" and notebook.store.notes:
        notebook.set_state(notebook.store.notes[0].id, "done" if number % 2 else "to do")
    elif action == "accept" and shown.findings:
        notebook.waive(shown.findings[number % len(shown.findings)], "meant")
    elif action == "try":
        session.trials.try_out(jobs.unmirroring(0, (MIRRORED, SQUASHED)[number % 2 :][:1]))
    elif action == "give up":
        session.trials.discard()


@settings(
    max_examples=30,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.lists(st.tuples(st.sampled_from(ACTIONS), st.integers(0, 9)), min_size=1, max_size=7))
def test_undoing_all_leads_back_and_doing_all_again_leads_on(
    opened: Session, qtbot: QtBot, done: list[tuple[str, int]]
) -> None:
    start = state(opened)
    states = [start]
    for action, number in done:
        before = opened.undo_stack.index()
        act(opened, action, number)
        idle(opened, qtbot)
        assert opened.undo_stack.index() <= before + 1, "an act is one step"
        if opened.undo_stack.index() > before:
            states.append(state(opened))
    for expected in reversed(states[:-1]):
        opened.undo()
        idle(opened, qtbot)
        assert state(opened) == expected
    assert state(opened) == start
    for expected in states[1:]:
        opened.redo()
        idle(opened, qtbot)
        assert state(opened) == expected
    while opened.undo_stack.canUndo():
        opened.undo()
    idle(opened, qtbot)
    assert state(opened) == start


def test_a_new_unit_keeps_what_is_being_tried(opened: Session, qtbot: QtBot) -> None:
    act(opened, "try", 0)
    idle(opened, qtbot)
    opened.choose_unit(0.01)
    idle(opened, qtbot)
    assert opened.now.tried is not None
    assert opened.review is not None
    assert opened.review.asset.unit.metres == 0.01
    assert opened.review is not opened.original
    opened.undo()
    idle(opened, qtbot)
    assert opened.review is not None
    assert opened.review.asset.unit.metres == 1.0


def failing_once(monkeypatch: pytest.MonkeyPatch, module: Any, name: str) -> None:
    """Let a function of a module fail in a way nobody expects, the first time it is called."""
    real, left = getattr(module, name), [1]

    def broken(*arguments: Any, **more: Any) -> Any:
        if left:
            left.pop()
            raise RuntimeError("nobody expected this")
        return real(*arguments, **more)

    monkeypatch.setattr(module, name, broken)


def test_a_bug_while_notes_are_kept_is_told_and_they_are_kept_all_the_same(
    opened: Session, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert opened.review is not None
    path = notes_path(opened.review.asset.path)
    monkeypatch.setattr(opened.notebook.keeper._again, "start", opened.notebook.keeper.try_again)
    failing_once(monkeypatch, notes_keeper, "_saved")
    with capture_exceptions() as met:
        act(opened, "note", 1)
        qtbot.waitUntil(lambda: path.exists(), timeout=ANSWER_MS)
        qtbot.waitUntil(lambda: bool(met), timeout=ANSWER_MS)
    ((kind, error, _),) = met
    assert kind is Bug
    assert "nobody expected this" in str(error)
    act(opened, "note", 2)
    qtbot.waitUntil(lambda: len(read_notes(path).notes) == 2, timeout=ANSWER_MS)


@pytest.mark.parametrize(
    ("module", "name", "action"),
    [(reading, "rejudged", "limits"), (reading, "remeasured", "unit")],
)
def test_a_bug_while_the_review_follows_takes_the_step_back(
    opened: Session, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch, module: Any, name: str,
    action: str,
) -> None:  # fmt: skip
    start = state(opened)
    failing_once(monkeypatch, module, name)
    with capture_exceptions() as met:
        act(opened, action, 3)
        qtbot.waitUntil(lambda: bool(met), timeout=ANSWER_MS)
    assert met[0][0] is Bug
    idle(opened, qtbot)
    assert state(opened) == start
    act(opened, action, 4)
    idle(opened, qtbot)
    assert state(opened) != start


def test_a_bug_while_places_are_sought_leaves_notes_and_window_usable(
    opened: Session, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    failing_once(monkeypatch, notes_held, "apply_waivers")
    with capture_exceptions() as met:
        act(opened, "accept", 0)
        qtbot.waitUntil(lambda: bool(met), timeout=ANSWER_MS)
    act(opened, "accept", 1)
    idle(opened, qtbot)
    assert opened.notebook.waiving is not None
    assert opened.notebook.waiving.waived_count >= 1


def test_a_bug_in_a_trial_leaves_what_was_there(opened: Session, qtbot: QtBot) -> None:
    start = state(opened)

    def broken(*_: Any) -> Any:
        raise RuntimeError("nobody expected this")

    with capture_exceptions() as met:
        opened.trials.try_out(broken)
        qtbot.waitUntil(lambda: bool(met), timeout=ANSWER_MS)
    assert state(opened) == start
    act(opened, "try", 0)
    idle(opened, qtbot)
    assert state(opened) != start
