"""Notes in the window: pins, the list, the editor, and waiving from a warning's page."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QMessageBox
from pytestqt.qtbot import QtBot
from tests.window.test_main_window import opened, pixels
from tests.window.test_session import QUADS

from evenweave.notes.notes_file import notes_path, read_notes
from evenweave.picture.lettering.callouts import Callout
from evenweave.window.notes.notes_list import Heading
from evenweave.window.services.session import Session
from evenweave.window.shell.main_window import MainWindow
from evenweave.window.shell.side_panel import FINDINGS, NOTES
from evenweave.window.state.settings import Settings
from evenweave.window.views.layout_plot import STILL_MS
from evenweave.window.views.pins import RADIUS, draw_pins, pin_at, placed_pins

ROOM = QRectF(0, 0, 400, 300)


@pytest.fixture
def mesh(tmp_path: Path) -> Path:
    path = tmp_path / "mesh" / "quads.obj"
    path.parent.mkdir()
    path.write_text(QUADS)
    return path


@pytest.fixture
def window(qtbot: QtBot, settings: Settings, mesh: Path) -> Iterator[MainWindow]:
    one = MainWindow(Session(), settings)
    qtbot.addWidget(one)
    one.resize(780, 600)
    one.show()
    opened(one, mesh, qtbot)
    qtbot.waitUntil(lambda: one.session.notebook.waiving is not None)
    yield one
    one.close()


def point_at(window: MainWindow, triangle: int = 0) -> tuple[float, float]:
    """Bring the pointer over a triangle of the canvas."""
    shown = window.session.shown
    assert shown is not None
    corner = shown.layout.triangle_corner[triangle]
    u, v = shown.layout.uv[shown.layout.corner_uv[corner]].mean(axis=0)
    window.views.canvas.cursor_moved.emit(float(u), float(v), triangle)
    return float(u), float(v)


def rows(window: MainWindow) -> list[str]:
    model = window.notes.list.model()
    return [model.index(row, 0).data() for row in range(model.rowCount())]


def test_the_key_puts_a_note_where_the_pointer_is_and_one_types_at_once(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    u, v = point_at(window)
    qtbot.keyClick(window, Qt.Key.Key_N)
    note = window.session.notebook.chosen
    assert note is not None
    assert note.kind == "point"
    assert note.place.uv == pytest.approx((u, v))
    assert window.side.tabs.currentIndex() == NOTES
    qtbot.keyClicks(window.notes.editor.text, "Straighten")
    assert rows(window) == ["To do  1", "Straighten"]
    qtbot.waitUntil(lambda: [n.text for n in read_notes(notes_path(mesh)).notes] == ["Straighten"])


def test_without_a_pointer_the_selected_island_gets_the_note(
    window: MainWindow, qtbot: QtBot
) -> None:
    with qtbot.waitSignal(window.noting.told):
        qtbot.keyClick(window, Qt.Key.Key_N)
    assert window.session.notebook.store.notes == ()
    window.session.select([0])
    qtbot.keyClick(window, Qt.Key.Key_N)
    note = window.session.notebook.chosen
    assert note is not None
    assert (note.kind, note.place.island.name) == ("island", "roof")


def test_a_pin_stands_on_canvas_and_object_and_a_click_reads_its_note(
    window: MainWindow, qtbot: QtBot
) -> None:
    views = (window.views.canvas, window.views.solid)
    before = [pixels(view) for view in views]
    point_at(window)
    window.note_actions.put.trigger()
    window.session.notebook.choose("")
    qtbot.wait(2 * STILL_MS)
    for view, old in zip(views, before, strict=True):
        assert (np.abs(pixels(view) - old).max(axis=2) > 20).sum() > 0.9 * np.pi * RADIUS**2
    for placed, view in (
        (window.views.canvas.item.placed, window.views.canvas.viewport()),
        (window.views.solid.picture.placed, window.views.solid),
    ):
        assert [one.callout.mark for one in placed] == ["A"]
        window.session.notebook.choose("")
        window.side.show_page(FINDINGS)
        qtbot.mouseClick(view, Qt.MouseButton.LeftButton, pos=placed[0].middle.toPoint())
        assert window.session.notebook.chosen is window.session.notebook.store.notes[0]
        assert window.side.tabs.currentIndex() == NOTES


def test_the_menu_of_a_place_offers_point_face_and_island(window: MainWindow, qtbot: QtBot) -> None:
    u, v = point_at(window)
    menu = window.noting.menu(u, v, 0, "")
    texts = [action.text().replace("&", "") for action in menu.actions() if action.isEnabled()]
    assert [text for text in texts if text] == [
        "Note on this point", "Note on this face", "Note on this island",
    ]  # fmt: skip
    next(one for one in menu.actions() if "face" in one.text()).trigger()
    assert [note.kind for note in window.session.notebook.store.notes] == ["face"]
    menu.deleteLater()


def test_a_right_click_asks_for_the_menu_with_the_place(window: MainWindow, qtbot: QtBot) -> None:
    canvas = window.views.canvas
    asked = []
    window.views.menu_asked.disconnect()
    window.views.menu_asked.connect(lambda *args: asked.append(args))
    place = canvas.getPlotItem().getViewBox().mapViewToScene(QPointF(0.2, 0.2)).toPoint()
    qtbot.mouseClick(canvas.viewport(), Qt.MouseButton.RightButton, pos=place)
    assert len(asked) == 1
    assert asked[0][1:3] == pytest.approx((0.2, 0.2), abs=0.01)
    assert asked[0][3] in (0, 1)


def test_state_and_removal_follow_the_keys_and_are_undone(window: MainWindow, qtbot: QtBot) -> None:
    point_at(window)
    actions, notebook = window.note_actions, window.session.notebook
    actions.put.trigger()
    qtbot.keyClicks(window.notes.editor.text, "door")
    actions.states[2].trigger()
    assert rows(window) == ["Deliberate  1", "door"]
    actions.remove.trigger()
    assert rows(window) == []
    window.own.undo.trigger()
    window.own.undo.trigger()
    assert rows(window) == ["To do  1", "door"]
    notebook.choose(notebook.store.notes[0].id)
    window.own.undo.trigger()
    assert window.notes.editor.text.toPlainText() == ""


def test_undo_in_the_text_field_is_the_windows(window: MainWindow, qtbot: QtBot) -> None:
    point_at(window)
    window.note_actions.put.trigger()
    field = window.notes.editor.text
    qtbot.keyClicks(field, "door")
    qtbot.keyClick(field, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert field.toPlainText() == ""
    qtbot.keyClick(
        field, Qt.Key.Key_Z,
        Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier,
    )  # fmt: skip
    assert field.toPlainText() == "door"


def test_choosing_a_note_of_another_layout_shows_its_place_there(
    window: MainWindow, qtbot: QtBot
) -> None:
    session = window.session
    point_at(window)
    window.note_actions.put.trigger()
    session.choose_layout(1)
    qtbot.waitUntil(lambda: window.views.is_current)
    before = window.views.bounds
    session.notebook.ask_place()
    qtbot.waitUntil(lambda: session.layout_index == 0 and window.views.is_current)
    qtbot.waitUntil(lambda: window.views.bounds != before)
    qtbot.wait(300)
    u0, v0, u1, v1 = window.views.bounds
    note = session.notebook.store.notes[0]
    assert u0 < note.place.uv[0] < u1
    assert v0 < note.place.uv[1] < v1
    assert v1 - v0 < 0.6


def test_a_waived_warning_stays_in_the_list_under_its_own_heading(
    window: MainWindow, qtbot: QtBot
) -> None:
    session = window.session
    session.choose_layout(1)
    assert session.shown is not None
    finding = next(one for one in session.shown.findings if one.check == "stretch")
    session.choose_finding(finding)
    page = window.explanation.page.waiving
    assert not page.waive.isEnabled()
    window.note_actions.waive.trigger()
    assert page.reason.hasFocus()
    qtbot.keyClicks(page.reason, "a gradient")
    qtbot.keyClick(page.reason, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: session.notebook.is_waived(finding))
    model = window.explanation.list.model()
    texts = [model.index(row, 0).data() for row in range(model.rowCount())]
    assert texts[-2:] == ["Waived  1", finding.title]
    assert session.finding is finding
    assert "a gradient" in page.told.text()
    assert "1 waived" in window.explanation.overview.title.text()
    assert window.side.tabs.tabText(FINDINGS).endswith(", 1 waived")
    page.take_back.click()
    qtbot.waitUntil(lambda: not session.notebook.is_waived(finding))
    assert page.reason.isVisible()


def test_waivers_without_a_warning_are_listed_and_can_be_taken_back(
    window: MainWindow, qtbot: QtBot, mesh: Path
) -> None:
    session = window.session
    session.choose_layout(1)
    assert session.shown is not None
    finding = next(one for one in session.shown.findings if one.check == "stretch")
    session.notebook.waive(finding, "a gradient")
    qtbot.waitUntil(lambda: session.notebook.is_waived(finding))
    mesh.write_text(QUADS.replace("vt 0.9 0.6", "vt 0.9 0.9").replace("vt 0.5 0.6", "vt 0.5 0.9"))
    with qtbot.waitSignal(session.review_replaced):
        session.reread()
    qtbot.waitUntil(lambda: rows(window) == ["Waivers not needed now  1", "Stretched: a gradient"])
    view = window.notes.list
    view.setCurrentIndex(view.model().index(1, 0))
    assert window.notes.waiver.waiver is not None
    window.notes.waiver.take_back.click()
    assert session.notebook.store.waivers == ()


def test_badges_keep_off_each_other_and_inside_the_room() -> None:
    crowd = [Callout(200 + k, 4, mark, style="to do") for k, mark in enumerate("ABCDE")]
    placed = placed_pins([*crowd, Callout(-5, 10, "Z")], ROOM)
    assert [one.callout.mark for one in placed] == list("ABCDE")
    for k, one in enumerate(placed):
        assert ROOM.contains(one.box)
        assert not any(one.box.intersects(other.box) for other in placed[:k])
        assert pin_at(placed, one.middle) == one.callout.mark
    assert pin_at(placed, QPointF(20, 280)) == ""


@pytest.mark.parametrize("style", ["to do", "done", "deliberate"])
def test_states_are_told_apart_without_colour(style: str, qtbot: QtBot) -> None:
    def drawn(state: str) -> np.ndarray:
        image = QImage(60, 60, QImage.Format.Format_Grayscale8)
        image.fill(Qt.GlobalColor.gray)
        painter = QPainter(image)
        pin = Callout(30, 50, "A", style=state)  # type: ignore[arg-type]
        draw_pins(painter, placed_pins([pin], QRectF(0, 0, 60, 60)), "")
        painter.end()
        return np.frombuffer(image.constBits(), np.uint8).reshape(60, -1)[:, :60].astype(int)

    others = {"to do", "done", "deliberate"} - {style}
    for other in others:
        assert (np.abs(drawn(style) - drawn(other)) > 40).sum() >= 8


def test_headings_cannot_be_chosen(window: MainWindow) -> None:
    point_at(window)
    window.note_actions.put.trigger()
    model = window.notes.list.model()
    assert isinstance(window.notes.list._model.row_at(0), Heading)
    assert model.flags(model.index(0, 0)) == Qt.ItemFlag.NoItemFlags


def test_closing_asks_about_notes_that_were_typed_a_moment_ago_and_cannot_be_kept(
    window: MainWindow, mesh: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def cancel(*words: object) -> QMessageBox.StandardButton:
        asked.append(words[2])
        return QMessageBox.StandardButton.Cancel

    monkeypatch.setattr(QMessageBox, "warning", cancel)
    notes_path(mesh).mkdir()
    point_at(window)
    window.note_actions.put.trigger()
    window.close()
    assert asked == ["The notes on quads.obj are only in memory."]
    assert window.isVisible()
    notes_path(mesh).rmdir()
    window.close()
    assert len(asked) == 1
    assert len(read_notes(notes_path(mesh)).notes) == 1


def test_esc_ends_typing(window: MainWindow, qtbot: QtBot) -> None:
    point_at(window)
    window.note_actions.put.trigger()
    field = window.notes.editor.text
    field.setFocus()
    qtbot.keyClicks(field, "door")
    qtbot.keyClick(field, Qt.Key.Key_Escape)
    assert not field.hasFocus()
    assert field.toPlainText() == "door"
    assert window.session.notebook.chosen is not None


def test_a_strip_tells_of_notes_set_adrift_and_leads_to_them(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    notebook, notices = window.session.notebook, window.notices
    point_at(window)
    window.note_actions.put.trigger()
    mesh.write_text(QUADS.replace("v 0 ", "v 50 ").replace("v 1 ", "v 57 "))
    window.side.show_page(FINDINGS)
    window.session.reread()
    qtbot.waitUntil(lambda: notices.text_of("adrift").startswith("1 note is adrift: "))
    notices._strips["adrift"].offer.click()
    assert window.side.tabs.currentIndex() == NOTES
    assert [one.is_adrift for one in notebook.found] == [True]
    mesh.write_text(QUADS)
    window.session.reread()
    qtbot.waitUntil(lambda: notices.text_of("adrift") == "")


def test_the_strip_of_notes_that_cannot_be_kept_goes_when_they_are(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    window.session.notebook.keeper._again.setInterval(200)
    notes_path(mesh).mkdir()
    point_at(window)
    window.note_actions.put.trigger()
    qtbot.waitUntil(lambda: "kept in memory" in window.notices.text_of("notes"))
    notes_path(mesh).rmdir()
    qtbot.waitUntil(lambda: window.notices.text_of("notes") == "")
    assert len(read_notes(notes_path(mesh)).notes) == 1


def test_many_notes_on_one_place_do_not_hide_each_other() -> None:
    crowd = [Callout(200 + k % 4, 150 + k // 4, str(k), style="to do") for k in range(40)]
    placed = placed_pins(crowd, ROOM)
    shared = [one.box & other.box for k, one in enumerate(placed) for other in placed[:k]]
    assert max(box.width() * box.height() for box in shared) == 0


def test_where_there_is_no_room_badges_cover_as_little_as_can_be() -> None:
    narrow = QRectF(0, 0, 70, 70)
    placed = placed_pins([Callout(35, 35, mark, style="to do") for mark in "ABCDEFGHIJ"], narrow)
    middles = {(one.middle.x(), one.middle.y()) for one in placed}
    assert len(middles) == 8
