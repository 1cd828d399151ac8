"""Trials in the window: the bar, its keys, the packing what-if, saving a copy, leaving."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage, QKeySequence
from PySide6.QtWidgets import QAbstractButton, QLabel, QWidget
from pytestqt.qtbot import QtBot
from tests.window.trial_meshes import MIRRORED, SQUASHED, write_mesh

from evenweave.errors import EvenweaveError
from evenweave.mesh.read import read
from evenweave.pipeline import review
from evenweave.trial import jobs
from evenweave.window.advice.pack_dialog import PackDialog
from evenweave.window.services.session import Session
from evenweave.window.shell.main_window import MainWindow
from evenweave.window.shell.side_panel import ADVICE, FINDINGS, NOTES
from evenweave.window.state.settings import Settings

ANSWER_MS = 110000


@pytest.fixture
def mesh(tmp_path: Path) -> Path:
    return write_mesh(tmp_path / "mesh.obj")


@pytest.fixture
def window(qtbot: QtBot, settings: Settings, mesh: Path) -> Iterator[MainWindow]:
    one = MainWindow(Session(), settings)
    one.session.may_leave = lambda: True
    qtbot.addWidget(one)
    one.resize(1280, 720)
    one.show()
    one.session.open(mesh)
    qtbot.waitUntil(lambda: is_settled(one), timeout=ANSWER_MS)
    yield one
    one.close()


def is_settled(window: MainWindow) -> bool:
    session = window.session
    lanes = (session.lane, session.colouring, session.placing, session.trials.lane)
    return window.views.is_current and not any(lane.is_busy for lane in lanes)


def tried(window: MainWindow, qtbot: QtBot, island: int = SQUASHED) -> None:
    job = jobs.unwrapping(0, (island,))
    if island == MIRRORED:
        job = jobs.unmirroring(0, (island,))
    with qtbot.waitSignal(window.session.trials.changed, timeout=ANSWER_MS):
        window.session.trials.try_out(job)
    qtbot.waitUntil(lambda: is_settled(window), timeout=ANSWER_MS)


def pixels(widget: QWidget) -> np.ndarray:
    image = widget.grab().toImage().convertToFormat(QImage.Format.Format_RGBA8888)
    data = np.frombuffer(image.constBits(), np.uint8)
    return data.reshape(image.height(), -1)[:, : 4 * image.width()].astype(int)


def test_no_key_is_given_to_two_actions(window: MainWindow) -> None:
    listed = [one for group in window.commands.listed.values() for one in group]
    keys = [one.shortcut().toString() for one in listed if not one.shortcut().isEmpty()]
    assert len(set(keys)) == len(keys)


def test_no_letter_leads_to_two_places(window: MainWindow, qtbot: QtBot) -> None:
    tried(window, qtbot)
    window.session.trials.said.emit(("Something was done.",))
    for page in (FINDINGS, NOTES, ADVICE):
        window.side.show_page(page)
        for kind in range(4):
            window.advice.show_kind(kind)
            keys = letters(window)
            assert len(set(keys)) == len(keys), sorted(keys)


def letters(window: MainWindow) -> list[str]:
    """Return the keys of all mnemonics that can be seen."""
    labels = [one for one in window.findChildren(QLabel) if one.buddy() is not None]
    widgets = [*labels, *window.findChildren(QAbstractButton)]
    texts = [one.text() for one in window.menuBar().actions()]
    texts += [one.text() for one in widgets if one.isVisible()]
    keys = (QKeySequence.mnemonic(text).toString() for text in texts)
    return [key for key in keys if key]


def test_the_bar_comes_with_the_first_change_and_goes_with_the_trial(
    window: MainWindow, qtbot: QtBot
) -> None:
    bar = window.trial_bar
    assert not bar.isVisible()
    tried(window, qtbot, MIRRORED)
    assert bar.isVisible()
    assert bar.title.text() == "Trial: 1 change"
    assert bar.after.isChecked()
    findings = bar.numbers.figures["warnings"]
    assert findings.isVisible()
    assert "flipped triangles: 32 → 0" in bar.numbers.toolTip()
    tried(window, qtbot)
    assert bar.title.text() == "Trial: 2 changes"
    window.trial_actions.discard.trigger()
    assert not bar.isVisible()


def test_the_bar_counts_no_changes_before_there_is_one(window: MainWindow, qtbot: QtBot) -> None:
    with qtbot.waitSignal(window.session.trials.changed, timeout=ANSWER_MS):
        window.session.trials.try_out(jobs.unwrapping(0, (SQUASHED,)))
        qtbot.waitUntil(window.trial_bar.work.isVisible, timeout=ANSWER_MS)
        assert window.trial_bar.title.text() == "Trial"


def test_nothing_of_the_bar_is_cut_off(window: MainWindow, qtbot: QtBot) -> None:
    assert window.session.shown is not None
    qtbot.waitUntil(lambda: window.session.notebook.is_ready, timeout=ANSWER_MS)
    window.session.notebook.waive(window.session.shown.findings[0], "Meant")
    tried(window, qtbot)
    bar = window.trial_bar
    qtbot.waitUntil(bar.numbers.figures["waived"].isVisible, timeout=ANSWER_MS)
    qtbot.wait(100)
    for piece in (bar.title, bar.before, bar.after, bar.undo, *bar.numbers.figures.values()):
        assert piece.isVisible()
        corner = piece.mapTo(window, piece.rect().bottomRight())
        assert corner.x() < window.width()
        assert piece.width() >= piece.minimumSizeHint().width()


def test_the_key_shows_the_file_as_it_is_and_the_views_follow(
    window: MainWindow, qtbot: QtBot
) -> None:
    before = pixels(window.views.canvas)
    tried(window, qtbot)
    after = pixels(window.views.canvas)
    assert not np.array_equal(before, after)
    window.views.canvas.setFocus()
    qtbot.keyClick(window, Qt.Key.Key_B)
    assert window.trial_bar.before.isChecked()
    qtbot.waitUntil(lambda: is_settled(window), timeout=ANSWER_MS)
    assert window.session.review is window.session.original
    assert not window.trial_actions.fix.isEnabled()


def test_the_keys_undo_and_redo_a_trial_like_anything_else(
    window: MainWindow, qtbot: QtBot
) -> None:
    trials = window.session.trials
    tried(window, qtbot)
    assert window.own.undo.text() == "&Undo unwrap squashed again (trial)"
    with qtbot.waitSignal(trials.changed, timeout=ANSWER_MS):
        qtbot.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert trials.trial is None
    assert window.own.redo.text() == "Re&do unwrap squashed again (trial)"
    both = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
    with qtbot.waitSignal(trials.changed, timeout=ANSWER_MS):
        qtbot.keyClick(window, Qt.Key.Key_Z, both)
    assert trials.trial is not None
    assert len(trials.trial.steps) == 1


def test_the_ghost_is_drawn_on_the_canvas(window: MainWindow, qtbot: QtBot) -> None:
    session = window.session
    window.side.show_page(ADVICE)
    qtbot.waitUntil(lambda: session.advising.is_complete, timeout=ANSWER_MS)
    session.select((SQUASHED,))
    qtbot.waitUntil(lambda: len(window.views.canvas.item.ghost) == 1, timeout=ANSWER_MS)
    with_ghost = pixels(window.views.canvas)
    session.advising.show_ghost(None)
    assert not np.array_equal(with_ghost, pixels(window.views.canvas))


def test_try_it_unwraps_the_selected_island(window: MainWindow, qtbot: QtBot) -> None:
    session, islands = window.session, window.advice.islands
    window.side.show_page(ADVICE)
    qtbot.waitUntil(lambda: session.advising.is_complete, timeout=ANSWER_MS)
    session.select((SQUASHED,))
    with qtbot.waitSignal(session.trials.changed, timeout=ANSWER_MS):
        qtbot.mouseClick(islands.try_it, Qt.MouseButton.LeftButton)
    assert session.trials.trial is not None
    assert session.trials.trial.undo_words == "unwrap squashed again"
    qtbot.waitUntil(lambda: session.advising.is_complete, timeout=ANSWER_MS)
    assert session.selection == (SQUASHED,)


def test_all_that_is_mirrored_is_turned_by_the_menu(window: MainWindow, qtbot: QtBot) -> None:
    session, islands = window.session, window.advice.islands
    window.side.show_page(ADVICE)
    qtbot.waitUntil(lambda: session.advising.is_complete, timeout=ANSWER_MS)
    menu = islands.try_all.menu()
    menu.aboutToShow.emit()
    action = next(one for one in menu.actions() if one.text().startswith("Mirror"))
    with qtbot.waitSignal(session.trials.changed, timeout=ANSWER_MS):
        action.trigger()
    assert session.shown is not None
    assert session.shown.measures.island.flipped_triangles.sum() == 0


def test_a_packing_keeps_its_promises_and_can_be_tried(window: MainWindow, qtbot: QtBot) -> None:
    session = window.session
    dialog = PackDialog(session, window)
    qtbot.addWidget(dialog)
    dialog.open()
    qtbot.waitUntil(lambda: dialog.best is not None, timeout=ANSWER_MS)
    best = dialog.best
    assert best is not None
    assert best.coverage <= best.bound
    assert best.padding_px >= session.limits.required_padding_px
    assert best.margin_px >= session.limits.required_margin_px
    assert not dialog.picture.pixmap().isNull()
    with qtbot.waitSignal(session.trials.changed, timeout=ANSWER_MS):
        dialog.try_it.click()
    assert session.shown is not None
    assert session.shown.measures.coverage.total == pytest.approx(best.coverage, abs=1e-6)


def test_a_longer_search_stopped_keeps_the_best(window: MainWindow, qtbot: QtBot) -> None:
    dialog = PackDialog(window.session, window)
    qtbot.addWidget(dialog)
    dialog.open()
    qtbot.waitUntil(lambda: dialog.best is not None, timeout=ANSWER_MS)
    qtbot.waitUntil(lambda: dialog.longer.isEnabled(), timeout=ANSWER_MS)
    first = dialog.best
    dialog.longer.click()
    assert dialog.stop.isEnabled()
    dialog.stop.click()
    assert dialog.best is first
    assert dialog.try_it.isEnabled()
    assert not dialog.stop.isEnabled()
    dialog.reject()


def test_another_wish_is_packed_anew(window: MainWindow, qtbot: QtBot) -> None:
    dialog = PackDialog(window.session, window)
    qtbot.addWidget(dialog)
    dialog.open()
    qtbot.waitUntil(lambda: dialog.best is not None, timeout=ANSWER_MS)
    dialog.form.padding.setValue(40.0)
    assert dialog.best is None
    qtbot.waitUntil(lambda: dialog.best is not None, timeout=ANSWER_MS)
    assert dialog.best is not None
    assert dialog.best.padding_px >= 40.0
    assert dialog.best.scale > 1
    assert dialog.told.text() == ""
    dialog.form.padding.setValue(250.0)
    dialog.form.margin.setValue(250.0)
    qtbot.waitUntil(lambda: dialog.best is not None, timeout=ANSWER_MS)
    assert dialog.best.scale < 1
    assert "closer to each other or to the edge now than is wished" in dialog.told.text()
    dialog.reject()


def test_a_copy_is_saved_beside_the_mesh_and_holds_the_trial(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    data, session = mesh.read_bytes(), window.session
    tried(window, qtbot)
    target = mesh.with_name("copy.obj")
    with qtbot.waitSignal(window.trial_dialogs.told, timeout=ANSWER_MS):
        window.trial_dialogs.save(target, replace=False)
    assert mesh.read_bytes() == data
    assert not session.trials.is_unsaved
    saved = review(read(target), session.limits).layouts[0]
    assert saved.measures.island.stretch_p95[SQUASHED] == pytest.approx(1.0, abs=1e-3)


def test_the_mesh_itself_is_never_written_over(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    data, met = mesh.read_bytes(), list[EvenweaveError]()
    window.session.problem_met.connect(met.append)
    tried(window, qtbot)
    with qtbot.waitSignal(window.session.problem_met, timeout=ANSWER_MS):
        window.trial_dialogs.save(mesh, replace=True)
    assert mesh.read_bytes() == data
    assert window.session.trials.is_unsaved
    assert "meshes are never changed" in str(met[0])
    assert window.notices.text_of("problem") == str(met[0])
    assert window.advice.no_copy.isHidden()
    with qtbot.waitSignal(window.trial_dialogs.saved, timeout=ANSWER_MS):
        window.trial_dialogs.save(mesh.with_name("copy.obj"), replace=False)
    assert window.notices.text_of("problem") == ""


def test_formats_that_no_copy_is_written_in_are_refused_in_a_sentence(
    window: MainWindow, tmp_path: Path, qtbot: QtBot
) -> None:
    path = tmp_path / "quad.ply"
    path.write_text(
        "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\n"
        "property float z\nproperty float s\nproperty float t\nelement face 1\n"
        "property list uchar int vertex_indices\nend_header\n"
        "0 0 0 0.1 0.1\n2 0 0 0.3 0.1\n2 1 0 0.3 0.4\n0 1 0 0.1 0.4\n4 0 1 2 3\n"
    )
    with qtbot.waitSignal(window.session.review_replaced, timeout=ANSWER_MS):
        window.session.open(path)
    with qtbot.waitSignal(window.session.trials.changed, timeout=ANSWER_MS):
        window.session.trials.try_out(jobs.unwrapping(0, (0,)))
    window.trial_actions.save.trigger()
    assert "copies in this format cannot be saved" in window.notices.text_of("problem")
    assert not window.advice.no_copy.isHidden()
    assert sorted(one.name for one in tmp_path.glob("*.ply")) == ["quad.ply"]


def test_closing_asks_once_whether_a_trial_may_be_lost(window: MainWindow, qtbot: QtBot) -> None:
    tried(window, qtbot)
    asked: list[bool] = []

    def refuse() -> bool:
        asked.append(False)
        return False

    window.session.may_leave = refuse
    window.close()
    assert asked == [False]
    assert window.isVisible()
    window.session.may_leave = lambda: True


def test_the_last_thing_done_is_undone_whichever_it_was(window: MainWindow, qtbot: QtBot) -> None:
    session, trials, undo = window.session, window.session.trials, window.own.undo
    qtbot.waitUntil(lambda: session.notebook.is_ready, timeout=ANSWER_MS)
    tried(window, qtbot)
    session.select((SQUASHED,))
    window.note_actions.put.trigger()
    tried(window, qtbot, MIRRORED)
    assert undo.text() == "&Undo mirror mirrored (trial)"
    trials.switch()
    undo.trigger()
    qtbot.waitUntil(lambda: trials.trial is not None and len(trials.trial.steps) == 1)
    assert trials.is_after
    assert undo.text() == "&Undo new note A"
    undo.trigger()
    assert session.notebook.store.notes == ()
    assert undo.text() == "&Undo unwrap squashed again (trial)"
    assert window.own.redo.text() == "Re&do new note A"
    window.own.redo.trigger()
    assert len(session.notebook.store.notes) == 1
    assert window.own.redo.text() == "Re&do mirror mirrored (trial)"
    trials.discard()
    assert trials.trial is None
    assert undo.text() == "&Undo giving the trial up (trial)"
    undo.trigger()
    assert trials.trial is not None
    assert undo.text() == "&Undo new note A"


def test_the_bars_undo_is_the_same_history(window: MainWindow, qtbot: QtBot) -> None:
    session, trials, bar = window.session, window.session.trials, window.trial_bar
    qtbot.waitUntil(lambda: session.notebook.is_ready, timeout=ANSWER_MS)
    tried(window, qtbot)
    session.select((SQUASHED,))
    window.note_actions.put.trigger()
    assert bar.undo.toolTip() == "Undo new note A"
    bar.undo.click()
    assert session.notebook.store.notes == ()
    assert bar.undo.toolTip() == "Undo unwrap squashed again (trial)"
    bar.undo.click()
    assert trials.trial is None


def test_a_note_made_on_the_copy_is_pinned_to_the_place_in_the_file(
    window: MainWindow, qtbot: QtBot
) -> None:
    """The sheet is squashed to half its width in the file; on the copy it is a square again."""
    session, notebook = window.session, window.session.notebook
    qtbot.waitUntil(lambda: notebook.is_ready, timeout=ANSWER_MS)
    assert session.shown is not None
    file = session.shown.layout
    tried(window, qtbot)
    copy = session.shown.layout
    triangle = int(np.flatnonzero(copy.face_island[copy.triangle_face] == SQUASHED)[5])
    corner = copy.triangle_corner[triangle]
    u, v = copy.uv[copy.corner_uv[corner]].mean(axis=0)
    window.views.canvas.cursor_moved.emit(float(u), float(v), triangle)
    window.note_actions.put.trigger()
    note = notebook.chosen
    assert note is not None
    # The sheet lies from x 3 to 4 and y 0 to 1; its texture from 0.65 to 0.75 and 0.05 to 0.25.
    x, y, _ = note.place.point_m
    assert note.place.point_m == pytest.approx(copy.point_m[copy.corner_point[corner]].mean(axis=0))
    assert note.place.uv == pytest.approx((0.65 + 0.1 * (x - 3), 0.05 + 0.2 * y), abs=1e-6)
    assert note.place.island.name == file.island_name[SQUASHED]
    spot = notebook.spot(note)
    assert spot is not None
    assert spot.uv == pytest.approx((u, v), abs=1e-6)
    session.select((SQUASHED,))
    window.noting.move_to_selected()
    assert notebook.chosen is not None
    x, y, _ = notebook.chosen.place.point_m
    assert notebook.chosen.place.uv == pytest.approx((0.65 + 0.1 * (x - 3), 0.05 + 0.2 * y))
    session.trials.show_after(False)
    qtbot.waitUntil(lambda: len(notebook.found) == 1, timeout=ANSWER_MS)
    assert notebook.found[0].spot is not None
    assert notebook.found[0].spot.uv == pytest.approx(notebook.chosen.place.uv, abs=1e-6)
