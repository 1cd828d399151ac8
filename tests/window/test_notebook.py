"""Notes and waivers in the session: edits, undo, keeping, and finding them again."""

import errno
import json
import os
import shutil
import signal
import subprocess
import sys
import textwrap
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pytestqt.qtbot import QtBot
from tests.window.test_session import QUADS, opened

from evenweave import writing
from evenweave.notes.fingerprint import Fingerprint
from evenweave.notes.locating import Spot
from evenweave.notes.notes_file import notes_path, read_notes
from evenweave.notes.place import Place, place_of_face, place_of_island
from evenweave.notes.store import Note, NoteStore, new_note
from evenweave.window.services.notebook import Notebook
from evenweave.window.services.notes_merging import merged
from evenweave.window.services.session import Session


@pytest.fixture
def mesh(tmp_path: Path) -> Path:
    path = tmp_path / "mesh" / "quads.obj"
    path.parent.mkdir()
    path.write_text(QUADS)
    return path


def ready(session: Session, mesh: Path, qtbot: QtBot) -> Notebook:
    opened(session, mesh, qtbot)
    notebook = session.notebook
    qtbot.waitUntil(lambda: notebook.waiving is not None)
    return notebook


def noted(session: Session, text: str = "Straighten it") -> Note:
    """Put a note on the first island of the layout shown."""
    assert session.shown is not None
    layout = session.shown.layout
    place = place_of_island(layout, 0)
    spot = Spot(session.layout_index, 0, 0, 0, place.point_m, place.uv)
    note = session.notebook.add("island", place, spot)
    session.notebook.write(note.id, text)
    return session.notebook.store.note(note.id)


def kept(mesh: Path, qtbot: QtBot, text: str) -> None:
    qtbot.waitUntil(lambda: text in [one.text for one in read_notes(notes_path(mesh)).notes])


def test_a_note_is_kept_beside_the_mesh_which_stays_as_it_was(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    before = mesh.read_bytes()
    ready(session, mesh, qtbot)
    noted(session)
    kept(mesh, qtbot, "Straighten it")
    assert mesh.read_bytes() == before
    assert sorted(mesh.parent.iterdir()) == [mesh, notes_path(mesh)]


def test_without_notes_no_file_is_made(session: Session, mesh: Path, qtbot: QtBot) -> None:
    ready(session, mesh, qtbot)
    session.notebook.close()
    assert list(mesh.parent.iterdir()) == [mesh]


def test_typing_is_undone_in_one_go_and_apart_from_what_came_before(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    notebook = ready(session, mesh, qtbot)
    note = noted(session, "")
    for end in range(1, 6):
        notebook.write(note.id, "relax"[:end])
    notebook.end_typing()
    notebook.write(note.id, "relax more")
    notebook.set_state(note.id, "done")
    texts = []
    while session.undo_stack.canUndo():
        session.undo_stack.undo()
        texts.append([(one.text, one.state) for one in notebook.store.notes])
    assert texts == [[("relax more", "to do")], [("relax", "to do")], [("", "to do")], []]
    session.undo_stack.setIndex(session.undo_stack.count())
    assert [(one.text, one.state) for one in notebook.store.notes] == [("relax more", "done")]


def test_a_reading_that_fails_leaves_notes_made_since(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    notebook = ready(session, mesh, qtbot)
    noted(session)
    mesh.unlink()
    with qtbot.waitSignal(session.problem_met):
        session.reread()
    assert [one.text for one in notebook.store.notes] == ["Straighten it"]


def test_a_note_and_a_waiver_come_back_with_the_mesh(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    notebook = ready(session, mesh, qtbot)
    session.choose_layout(1)
    assert session.shown is not None
    finding = next(one for one in session.shown.findings if one.check == "stretch")
    notebook.waive(finding, "meant: it is a gradient")
    noted(session)
    session.close()
    again = Session()
    fresh = ready(again, mesh, qtbot)
    again.choose_layout(1)
    qtbot.waitUntil(lambda: len(fresh.found) == 1)
    assert fresh.found[0].spot is not None
    assert fresh.found[0].spot.layout == 1
    assert again.shown is not None
    assert [one.check for one in again.shown.findings if fresh.is_waived(one)] == ["stretch"]
    assert fresh.waiving is not None
    assert fresh.waiving.waived_count == 1
    again.close()


def test_waiving_is_undone_and_taken_back(session: Session, mesh: Path, qtbot: QtBot) -> None:
    notebook = ready(session, mesh, qtbot)
    session.choose_layout(1)
    assert session.shown is not None
    finding = next(one for one in session.shown.findings if one.check == "stretch")
    with qtbot.waitSignal(notebook.waiving_changed):
        notebook.waive(finding, "meant")
    assert notebook.is_waived(finding)
    with qtbot.waitSignal(notebook.waiving_changed):
        session.undo_stack.undo()
    assert not notebook.is_waived(finding)
    with qtbot.waitSignal(notebook.waiving_changed):
        session.undo_stack.redo()
    standing = notebook.standing(finding)
    assert standing is not None
    with qtbot.waitSignal(notebook.waiving_changed):
        notebook.unwaive(standing.waivers)
    assert not notebook.is_waived(finding)
    assert finding in session.shown.findings


def test_a_note_whose_surface_is_gone_is_adrift_and_not_lost(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    notebook = ready(session, mesh, qtbot)
    note = noted(session)
    moved = QUADS.replace("v 0 ", "v 50 ").replace("v 1 ", "v 57 ")
    mesh.write_text(moved)
    with qtbot.waitSignal(session.review_replaced):
        session.reread()
    qtbot.waitUntil(lambda: len(notebook.found) == 1)
    assert notebook.found[0].is_adrift
    assert notebook.store.note(note.id).text == "Straighten it"
    assert session.shown is not None
    place = place_of_face(session.shown.layout, 0)
    notebook.move(note.id, place, Spot(0, 0, 0, 0, place.point_m, place.uv))
    assert not notebook.found[0].is_adrift


def test_where_notes_cannot_be_kept_that_is_told_once_and_they_are_kept_elsewhere(
    session: Session, mesh: Path, tmp_path: Path, qtbot: QtBot
) -> None:
    notebook = ready(session, mesh, qtbot)
    told = []
    notebook.failed.connect(lambda path, error: told.append(str(error)))
    shutil.rmtree(mesh.parent)
    note = noted(session)
    qtbot.waitUntil(lambda: len(told) == 1)
    assert notebook.is_unkept
    notebook.write(note.id, "Straighten it, please")
    qtbot.wait(600)
    assert len(told) == 1
    assert notes_path(mesh).name in told[0]
    other = tmp_path / "kept.json"
    with qtbot.waitSignal(notebook.kept):
        notebook.keep_in(other)
    assert not notebook.is_unkept
    assert [one.text for one in read_notes(other).notes] == ["Straighten it, please"]


def test_a_damaged_file_of_notes_is_told_and_not_written_over(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    notes_path(mesh).write_text("{")
    notebook = session.notebook
    with qtbot.waitSignal(notebook.failed):
        opened(session, mesh, qtbot)
    qtbot.waitUntil(lambda: notebook.waiving is not None)
    noted(session)
    notebook.close()
    assert notes_path(mesh).read_text() == "{"


def test_another_mesh_has_its_own_notes(session: Session, mesh: Path, qtbot: QtBot) -> None:
    notebook = ready(session, mesh, qtbot)
    noted(session)
    other = mesh.with_name("other.obj")
    other.write_text(QUADS)
    ready(session, other, qtbot)
    assert notebook.store.notes == ()
    kept(mesh, qtbot, "Straighten it")
    ready(session, mesh, qtbot)
    qtbot.waitUntil(lambda: len(notebook.store.notes) == 1)


def test_closing_keeps_the_last_letters(session: Session, mesh: Path, qtbot: QtBot) -> None:
    notebook = ready(session, mesh, qtbot)
    note = noted(session)
    notebook.write(note.id, "the last word")
    session.close()
    assert [one.text for one in read_notes(notes_path(mesh)).notes] == ["the last word"]


def test_other_warnings_than_the_waived_count_as_open(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    notebook = ready(session, mesh, qtbot)
    session.choose_layout(1)
    assert session.shown is not None
    finding = session.shown.findings[0]
    with qtbot.waitSignal(notebook.waiving_changed):
        notebook.waive(finding, "meant")
    assert notebook.waiving is not None
    assert notebook.waiving.waived_count == 1
    assert notebook.waiving.by_finding[finding].is_waived


def test_a_kill_while_saving_leaves_the_old_or_the_new_file(tmp_path: Path) -> None:
    """A child saves ever other notes as fast as it can and is killed at no particular moment."""
    path = tmp_path / "quads.obj.evenweave-notes.json"
    child = textwrap.dedent(
        """
        import sys
        from pathlib import Path
        from evenweave.notes.fingerprint import Fingerprint
        from evenweave.notes.notes_file import save_notes
        from evenweave.notes.place import Place
        from evenweave.notes.store import NoteStore, new_note
        at = (0.0, 0.0, 0.0)
        island = Fingerprint("roof", 1.0, at, 1.0, (at,), (at,))
        place = Place("brass", island, at, at, (0.5, 0.5))
        notes = tuple(new_note("point", place, "x" * 500) for _ in range(200))
        for count in range(1, 10**6):
            save_notes(Path(sys.argv[1]), NoteStore(notes[: 1 + count % 200]))
            if count == 3:
                print("going", flush=True)
        """
    )
    environment = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1"}
    wait = np.random.default_rng(1).uniform(0.0, 0.05, 3)
    for seconds in wait:
        process = subprocess.Popen(
            [sys.executable, "-c", child, str(path)], stdout=subprocess.PIPE, env=environment
        )
        assert process.stdout is not None
        process.stdout.readline()
        with pytest.raises(subprocess.TimeoutExpired):
            process.wait(float(seconds) + 0.001)
        process.send_signal(signal.SIGKILL)
        process.wait()
        process.stdout.close()
        count = len(read_notes(path).notes)
        assert count == len(json.loads(path.read_text())["notes"]) >= 1


def test_notes_of_another_hand_are_taken_in_and_none_is_lost(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    notebook = ready(session, mesh, qtbot)
    noted(session, "ours")
    kept(mesh, qtbot, "ours")
    other = Session()
    theirs = ready(other, mesh, qtbot)
    qtbot.waitUntil(lambda: len(theirs.store.notes) == 1)
    noted(other, "theirs")
    kept(mesh, qtbot, "theirs")
    noted(session, "ours again")
    qtbot.waitUntil(lambda: len(notebook.store.notes) == 3)
    written = {one.text for one in read_notes(notes_path(mesh)).notes}
    assert written == {"ours", "theirs", "ours again"}
    qtbot.waitUntil(lambda: notebook.keeper.pending(notes_path(mesh)) is None)
    theirs.look_again()
    qtbot.waitUntil(lambda: {one.text for one in theirs.store.notes} == written)
    other.close()
    assert {one.text for one in read_notes(notes_path(mesh)).notes} == written


def test_both_hands_at_one_note_keep_ours_and_removals_give_way_to_changes() -> None:
    at = (0.0, 0.0, 0.0)
    place = Place("brass", Fingerprint("roof", 1.0, at, 1.0, (at,), (at,)), at, at, (0.5, 0.5))
    a, b, c, d = (new_note("point", place, text) for text in "abcd")
    before = NoteStore((a, b, c))
    ours = NoteStore((replace(a, text="ours"), c))
    theirs = NoteStore((replace(a, text="theirs"), replace(b, text="changed"), d))
    both = merged(before, ours, theirs)
    assert [one.text for one in both.notes] == ["ours", "changed", "d"]


@pytest.mark.parametrize("reason", [errno.EROFS, errno.ENOSPC, errno.EACCES])
def test_notes_that_could_not_be_kept_are_tried_again_by_themselves(
    session: Session, mesh: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch, reason: int
) -> None:
    notebook = ready(session, mesh, qtbot)
    notebook.keeper._again.setInterval(200)
    told = []
    notebook.failed.connect(lambda path, error: told.append(str(error)))

    def refuse(descriptor: int) -> None:
        raise OSError(reason, os.strerror(reason))

    with monkeypatch.context() as patch:
        patch.setattr(writing.os, "fsync", refuse)
        noted(session)
        qtbot.waitUntil(lambda: len(told) == 1)
        qtbot.wait(700)
        assert told == [
            f"{notes_path(mesh).name}: it cannot be written, {os.strerror(reason).lower()};"
            " choose another place or free some space."
        ]
        assert notebook.is_unkept
        assert list(mesh.parent.iterdir()) == [mesh]
    with qtbot.waitSignal(notebook.kept):
        pass
    assert [one.text for one in read_notes(notes_path(mesh)).notes] == ["Straighten it"]
    assert not notebook.is_unkept


def test_a_file_of_notes_damaged_meanwhile_is_left_alone_until_it_is_restored(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    notebook = ready(session, mesh, qtbot)
    note = noted(session)
    kept(mesh, qtbot, "Straighten it")
    sound = notes_path(mesh).read_bytes()
    notes_path(mesh).write_text("{")
    with qtbot.waitSignal(notebook.failed):
        notebook.write(note.id, "Straighten it, please")
    assert notes_path(mesh).read_text() == "{"
    notes_path(mesh).write_bytes(sound)
    with qtbot.waitSignal(notebook.kept):
        notebook.keeper.try_again()
    kept(mesh, qtbot, "Straighten it, please")


def test_a_file_that_was_damaged_from_the_start_is_taken_in_once_it_is_restored(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    other = Session()
    ready(other, mesh, qtbot)
    noted(other, "theirs")
    other.close()
    sound = notes_path(mesh).read_bytes()
    notes_path(mesh).write_text("{")
    notebook = ready(session, mesh, qtbot)
    noted(session, "ours")
    assert notebook.is_unkept
    notes_path(mesh).write_bytes(sound)
    with qtbot.waitSignal(notebook.kept):
        notebook.look_again()
    assert {one.text for one in read_notes(notes_path(mesh)).notes} == {"ours", "theirs"}
    assert {one.text for one in notebook.store.notes} == {"ours", "theirs"}
    assert not notebook.is_unkept


def test_failing_notes_of_a_mesh_are_kept_in_memory_while_another_is_open(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    notebook = ready(session, mesh, qtbot)
    notes_path(mesh).mkdir()
    with qtbot.waitSignal(notebook.failed):
        noted(session)
    other = mesh.parent / "deep" / "other.obj"
    other.parent.mkdir()
    other.write_text(QUADS)
    ready(session, other, qtbot)
    assert notebook.keeper.failing_meshes == (mesh.name,)
    assert notebook.is_unkept
    with qtbot.waitSignal(notebook.failed):
        ready(session, mesh, qtbot)
    assert [one.text for one in notebook.store.notes] == ["Straighten it"]
    notes_path(mesh).rmdir()
    with qtbot.waitSignal(notebook.kept):
        notebook.keeper.try_again()
    assert not notebook.is_unkept
