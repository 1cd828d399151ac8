"""Two passes in a window of their own, and what is handed over of a review."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox
from pytestqt.qtbot import QtBot
from tests.window.test_main_window import opened, pixels
from tests.window.test_notebook import noted
from tests.window.test_session import QUADS

from evenweave.notes.notes_file import notes_path
from evenweave.picture.difference import STATE_COLOURS
from evenweave.places import sample_assets
from evenweave.window.comparison.table import STATE
from evenweave.window.comparison.window import ComparisonWindow
from evenweave.window.dialogs.export_dialog import ExportChoice
from evenweave.window.services.session import Session
from evenweave.window.shell.main_window import MainWindow
from evenweave.window.state.settings import Settings

FIRST = sample_assets() / "lantern_first_pass.obj"
SECOND = sample_assets() / "lantern_second_pass.obj"
ANSWER_MS = 110000


@pytest.fixture
def window(qtbot: QtBot, settings: Settings) -> Iterator[MainWindow]:
    one = MainWindow(Session(), settings)
    qtbot.addWidget(one)
    one.resize(780, 600)
    one.show()
    yield one
    one.close()


@pytest.fixture
def compared(window: MainWindow, qtbot: QtBot) -> ComparisonWindow:
    opened(window, SECOND, qtbot)
    window.comparing.compare_with(FIRST)
    qtbot.waitUntil(lambda: window.comparing.shown is not None, timeout=ANSWER_MS)
    shown = window.comparing.shown
    assert shown is not None
    drawn(shown, qtbot)
    return shown


def drawn(shown: ComparisonWindow, qtbot: QtBot) -> None:
    qtbot.waitUntil(lambda: not shown._lane.is_busy, timeout=ANSWER_MS)
    qtbot.wait(300)


def test_the_verdict_is_one_line_and_the_older_pass_stands_at_the_left(
    compared: ComparisonWindow,
) -> None:
    assert compared.files.text() == "lantern_first_pass.obj → lantern_second_pass.obj"
    assert compared.verdict.text().startswith("Better: ")
    assert "fixed" in compared.verdict.text()
    before = compared.views.before.item.coloured
    assert before is not None
    assert before.scene.review.asset.path == FIRST


def test_islands_are_coloured_by_what_became_of_them(compared: ComparisonWindow) -> None:
    old = pixels(compared.views.before)
    for state in ("unchanged", "moved", "scaled", "re-flattened"):
        colour = np.array(STATE_COLOURS[state])  # type: ignore[index]
        assert (np.abs(old - colour).max(axis=2) == 0).sum() > 20, state
    compared.colours.setCurrentIndex(1)


def test_a_row_outlines_the_island_in_both_and_moves_both_to_it(
    compared: ComparisonWindow, qtbot: QtBot
) -> None:
    model = compared.model
    texts = [model.index(row, STATE).data() for row in range(model.rowCount())]
    assert "Unchanged" not in texts
    row = texts.index("Scaled")
    compared.table.selectRow(row)
    qtbot.wait(400)
    marks = (compared.views.before.item.marks, compared.views.after.item.marks)
    assert [len(one.selection) for one in marks] == [1, 1]
    assert compared.views.before.bounds == pytest.approx(compared.views.after.bounds, abs=1e-6)
    index = model.row(row)
    name = compared._one.island_name(index)
    assert model.index(row, 0).data() == name


def test_a_click_on_an_island_chooses_its_row(compared: ComparisonWindow) -> None:
    model = compared.model
    texts = [model.index(row, STATE).data() for row in range(model.rowCount())]
    row = model.row(texts.index("Moved"))
    layout, island = compared._one.new_place(int(compared._one.islands.new[row]))
    assert layout == compared.change.new
    compared.views.after.island_clicked.emit(island, Qt.KeyboardModifier.NoModifier)
    chosen = compared.table.selectionModel().currentIndex().row()
    assert model.row(chosen) == row
    compared.views.after.island_clicked.emit(-1, Qt.KeyboardModifier.NoModifier)
    assert compared.views.after.item.marks.selection == ()


def test_both_canvases_look_at_the_same_place(compared: ComparisonWindow) -> None:
    compared.views.before.frame_bounds((0.1, 0.1, 0.3, 0.3), is_sudden=True)
    assert compared.views.after.bounds == pytest.approx(compared.views.before.bounds, abs=1e-6)


def test_space_shows_the_passes_in_turn_at_one_place(
    compared: ComparisonWindow, qtbot: QtBot
) -> None:
    compared.activateWindow()
    qtbot.keyClick(compared, Qt.Key.Key_Space)
    assert compared.views.is_blinking
    assert compared.views.shows_before
    assert not compared.views.left.isVisible()
    qtbot.wait(50)
    canvas = compared.views.after
    old, bounds = pixels(canvas), canvas.bounds
    assert canvas.item.coloured is compared.views.before.item.coloured
    qtbot.keyClick(compared, Qt.Key.Key_Space)
    assert not compared.views.shows_before
    assert canvas.bounds == bounds
    assert not np.array_equal(old, pixels(canvas))


def test_warnings_stand_under_what_became_of_them(compared: ComparisonWindow) -> None:
    texts = [compared.findings.item(row).text() for row in range(compared.findings.count())]
    fixed = next(row for row, text in enumerate(texts) if text.startswith("Fixed"))
    assert any(text.startswith("Islands overlap") for text in texts[fixed:])
    compared.findings.setCurrentRow(fixed + texts[fixed:].index("Islands overlap: 2 islands"))
    assert len(compared.views.before.item.marks.selection) == 2
    compared.table.selectRow(0)
    assert compared.findings.selectedItems() == []
    compared.findings.setCurrentRow(fixed + 1)
    assert not compared.table.selectionModel().hasSelection()


def test_the_colours_of_the_main_window_can_be_had_too(
    compared: ComparisonWindow, qtbot: QtBot
) -> None:
    compared.colours.setCurrentIndex(2)
    compared.colours.activated.emit(2)
    drawn(compared, qtbot)
    for canvas in (compared.views.before, compared.views.after):
        assert canvas.item.coloured is not None
        assert canvas.item.coloured.look.colours == "stretch"
    assert not compared.legend.isVisible()


def test_an_older_pass_that_cannot_be_read_is_told(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    opened(window, SECOND, qtbot)
    with qtbot.waitSignal(window.comparing.failed, timeout=ANSWER_MS):
        window.comparing.compare_with(tmp_path / "missing.obj")
    assert "missing.obj" in window.notices.text_of("problem")


@pytest.mark.parametrize("ending", ["html", "pdf"])
def test_the_review_is_written_with_its_notes(
    window: MainWindow, qtbot: QtBot, tmp_path: Path, ending: str
) -> None:
    mesh = tmp_path / "quads.obj"
    mesh.write_text(QUADS)
    opened(window, mesh, qtbot)
    qtbot.waitUntil(lambda: window.session.notebook.is_ready)
    noted(window.session, "Straighten the gutter")
    path = tmp_path / f"review.{ending}"
    window.review_export.save_review(path)
    qtbot.waitUntil(lambda: not window.review_export.is_busy, timeout=ANSWER_MS)
    data = path.read_bytes()
    if ending == "html":
        assert b"Straighten the gutter" in data
    else:
        assert data.startswith(b"%PDF-")


def test_outlines_are_written_as_svg_and_as_a_picture_of_the_tile(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    opened(window, SECOND, qtbot)
    for ending in ("svg", "png"):
        window.review_export.save_outlines(tmp_path / f"outlines.{ending}")
        qtbot.waitUntil(lambda: not window.review_export.is_busy, timeout=ANSWER_MS)
    assert "<svg" in (tmp_path / "outlines.svg").read_text()
    picture = Image.open(tmp_path / "outlines.png")
    assert picture.size == (2048, 2048)
    assert picture.getchannel("A").getextrema() == (0, 255)


def test_a_layout_without_uvs_offers_no_outlines(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    mesh = tmp_path / "half.obj"
    mesh.write_text(QUADS.replace("f 5/5 6/6 7/7 8/8", "f 5 6 7 8"))
    opened(window, mesh, qtbot)
    outlines = window.pass_actions.outlines
    assert outlines.isEnabled()
    window.session.choose_layout(1)
    assert not outlines.isEnabled()


def test_a_picture_carries_notes_and_dots_per_inch(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    mesh = tmp_path / "quads.obj"
    mesh.write_text(QUADS)
    opened(window, mesh, qtbot)
    qtbot.waitUntil(lambda: window.session.notebook.is_ready)
    noted(window.session, "Straighten the gutter")
    qtbot.waitUntil(lambda: len(window.session.notebook.found) == 1)
    images = []
    for has_notes in (True, False):
        choice = ExportChoice(width=800, height=500, has_notes=has_notes, dpi=300)
        with qtbot.waitSignal(window.pictures.told, timeout=ANSWER_MS):
            window.pictures.save(tmp_path / "p.png", choice)
        images.append(Image.open(tmp_path / "p.png"))
        images[-1].load()
    assert images[0].info["dpi"] == pytest.approx((300, 300), abs=0.1)
    first, second = (np.asarray(one.convert("RGB")).astype(int) for one in images)
    assert (np.abs(first - second).max(axis=2) > 40).sum() > 500


def test_notes_that_no_file_holds_are_asked_about_before_the_window_closes(
    window: MainWindow, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mesh = tmp_path / "quads.obj"
    mesh.write_text(QUADS)
    notes_path(mesh).write_text("{")
    opened(window, mesh, qtbot)
    qtbot.waitUntil(lambda: window.notices.text_of("notes") != "")
    assert "kept in memory" in window.notices.text_of("notes")
    noted(window.session)
    answers = [QMessageBox.StandardButton.Cancel, QMessageBox.StandardButton.Discard]
    monkeypatch.setattr(QMessageBox, "warning", lambda *_: answers.pop(0))
    assert not window.close()
    assert window.isVisible()
    assert window.close()
    assert notes_path(mesh).read_text() == "{"


def test_notes_kept_elsewhere_are_found_there_next_time(
    window: MainWindow, qtbot: QtBot, tmp_path: Path, settings: Settings
) -> None:
    mesh = tmp_path / "quads.obj"
    mesh.write_text(QUADS)
    notes_path(mesh).mkdir()
    opened(window, mesh, qtbot)
    qtbot.waitUntil(lambda: window.notices.text_of("notes") != "")
    noted(window.session)
    other = tmp_path / "mine.json"
    with qtbot.waitSignal(window.session.notebook.kept):
        window.passes.keep_elsewhere(other)
    assert window.notices.text_of("notes") == ""
    assert window.close()
    again = MainWindow(Session(), settings)
    qtbot.addWidget(again)
    opened(again, mesh, qtbot)
    qtbot.waitUntil(lambda: len(again.session.notebook.store.notes) == 1)
    assert again.session.notebook.path == other
    again.close()
