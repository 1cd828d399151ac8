"""The three uses, end to end, in the real window over the real pipeline."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from PySide6.QtCore import QMimeData, QPoint, QPointF, QSettings, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QGuiApplication, QImage
from PySide6.QtWidgets import QApplication, QLabel, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from evenweave.check.finding import Severity
from evenweave.places import sample_assets
from evenweave.raster.look import Look
from evenweave.window.dialogs.export_dialog import ExportChoice
from evenweave.window.services.session import Session
from evenweave.window.shell.main_window import MainWindow
from evenweave.window.state.island_rows import STRETCH
from evenweave.window.state.settings import Settings
from evenweave.window.views.layout_plot import STILL_MS

LANTERN = sample_assets() / "lantern_first_pass.obj"
ANSWER_MS = 110000


@pytest.fixture
def window(qtbot: QtBot, settings: Settings) -> Iterator[MainWindow]:
    one = MainWindow(Session(look=Look(checker_squares=16.0)), settings)
    qtbot.addWidget(one)
    one.resize(780, 600)
    one.show()
    yield one
    one.close()


def opened(window: MainWindow, path: Path, qtbot: QtBot) -> None:
    """Open a file and wait until it is drawn and the window has settled."""
    session = window.session
    session.open(path)

    def is_done() -> bool:
        lanes = (session.lane, session.colouring, session.placing)
        return window.views.is_current and not any(lane.is_busy for lane in lanes)

    qtbot.waitUntil(is_done, timeout=ANSWER_MS)
    qtbot.wait(2 * STILL_MS)


def pixels(widget: QWidget) -> np.ndarray:
    image = widget.grab().toImage().convertToFormat(QImage.Format.Format_RGBA8888)
    data = np.frombuffer(image.constBits(), np.uint8)
    return data.reshape(image.height(), image.bytesPerLine() // 4, 4)[
        :, : image.width(), :3
    ].astype(int)


def test_a_mesh_is_opened_and_its_worst_island_reached_by_sorting(
    window: MainWindow, qtbot: QtBot
) -> None:
    opened(window, LANTERN, qtbot)
    table, shown = window.table, window.session.shown
    assert shown is not None
    header = table.view.horizontalHeader()
    spot = QPoint(header.sectionViewportPosition(STRETCH) + 20, header.height() // 2)
    qtbot.mouseClick(header.viewport(), Qt.MouseButton.LeftButton, pos=spot)
    first = table.view.visualRect(table.model.index(0, STRETCH)).center()
    qtbot.mouseClick(table.view.viewport(), Qt.MouseButton.LeftButton, pos=first)
    worst = int(np.nanargmax(shown.measures.island.stretch_p95))
    assert window.session.selection == (worst,)
    assert window.session.finding is not None
    assert worst in window.session.finding.islands
    assert window.explanation.page.title.text() == window.session.finding.title
    assert window.views.canvas.item.marks.selection == (worst,)
    assert window.views.solid.picture.marks.selection == (worst,)


def test_the_keyboard_alone_reaches_the_worst_island(window: MainWindow, qtbot: QtBot) -> None:
    opened(window, LANTERN, qtbot)
    shown, view = window.session.shown, window.table.view
    assert shown is not None
    view.setFocus()
    qtbot.keyClick(view, Qt.Key.Key_S, Qt.KeyboardModifier.ShiftModifier)
    worst = int(np.nanargmax(shown.measures.island.stretch_p95))
    assert window.session.selection == (worst,)
    qtbot.keyClick(view, Qt.Key.Key_S, Qt.KeyboardModifier.ShiftModifier)
    assert window.table.model.row(worst) == len(shown.layout.island_name) - 1


def test_the_checker_appears_in_both_views_and_goes_again(window: MainWindow, qtbot: QtBot) -> None:
    opened(window, LANTERN, qtbot)
    views = (window.views.canvas, window.views.solid)
    plain = [pixels(view) for view in views]
    window.commands.checker.trigger()
    qtbot.waitUntil(lambda: not window.session.colouring.is_busy)
    checked = [pixels(view) for view in views]
    for before, after in zip(plain, checked, strict=True):
        assert (np.abs(before - after).max(axis=2) > 20).mean() > 0.005
    window.commands.checker.trigger()
    qtbot.waitUntil(lambda: not window.session.colouring.is_busy)
    for before, view in zip(plain, views, strict=True):
        qtbot.waitUntil(lambda view=view, before=before: np.array_equal(before, pixels(view)))


def test_a_screenshot_is_exported_at_its_own_size_with_what_the_window_shows(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    opened(window, LANTERN, qtbot)
    path = tmp_path / "notes" / "lantern.png"
    path.parent.mkdir()
    choice = ExportChoice(view="both", width=960, height=540)
    with qtbot.waitSignal(window.pictures.told, timeout=ANSWER_MS):
        window.pictures.save(path, choice)
    first = np.asarray(Image.open(path).convert("RGB")).astype(int)
    assert first.shape == (540, 960, 3)
    assert len(np.unique(first.reshape(-1, 3), axis=0)) > 50
    window.session.change_look(colours="stretch", checker=True)
    with qtbot.waitSignal(window.pictures.told, timeout=ANSWER_MS):
        window.pictures.save(path, choice)
    second = np.asarray(Image.open(path).convert("RGB")).astype(int)
    assert (np.abs(first - second).max(axis=2) > 20).mean() > 0.02
    assert list(path.parent.iterdir()) == [path]


def test_a_picture_that_cannot_be_written_is_told_in_a_sentence(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    opened(window, LANTERN, qtbot)
    with qtbot.waitSignal(window.pictures.failed, timeout=ANSWER_MS):
        window.pictures.save(tmp_path / "missing" / "x.png", ExportChoice(width=640, height=360))
    assert "x.png" in window.notices.text_of("problem")


def test_a_copied_picture_lies_on_the_clipboard(window: MainWindow, qtbot: QtBot) -> None:
    opened(window, LANTERN, qtbot)
    with qtbot.waitSignal(window.pictures.told, timeout=ANSWER_MS):
        window.pictures.copy(ExportChoice(view="flat", width=640, height=480))
    image = QGuiApplication.clipboard().image()
    assert (image.width(), image.height()) == (640, 480)


def test_an_unreadable_file_says_why_and_what_was_open_stays(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    broken = tmp_path / "broken.obj"
    broken.write_text("v 0 0 0\nf 1 2 3\n")
    with qtbot.waitSignal(window.session.problem_met, timeout=ANSWER_MS):
        window.session.open(broken)
    assert "broken.obj" in window.start.problem.text()
    assert window.start.isVisible()
    opened(window, LANTERN, qtbot)
    review = window.session.review
    with qtbot.waitSignal(window.session.problem_met, timeout=ANSWER_MS):
        window.session.open(broken)
    assert window.session.review is review
    assert "broken.obj" in window.notices.text_of("problem")
    opened(window, LANTERN, qtbot)
    assert window.notices.text_of("problem") == ""


def test_a_dropped_file_is_opened(window: MainWindow, qtbot: QtBot) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(LANTERN))])
    at, copy = QPoint(100, 100), Qt.DropAction.CopyAction
    button, plain = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    enter = QDragEnterEvent(at, copy, data, button, plain)
    QApplication.sendEvent(window, enter)
    assert enter.isAccepted()
    with qtbot.waitSignal(window.session.review_replaced, timeout=ANSWER_MS):
        QApplication.sendEvent(window, QDropEvent(QPointF(at), copy, data, button, plain))
    assert window.session.review is not None
    assert window.session.review.asset.path == LANTERN


def test_something_that_is_no_file_is_not_taken(window: MainWindow) -> None:
    data = QMimeData()
    data.setText("just words")
    enter = QDragEnterEvent(
        QPoint(9, 9), Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )  # fmt: skip
    enter.ignore()
    QApplication.sendEvent(window, enter)
    assert not enter.isAccepted()


def test_escape_cancels_the_running_work(window: MainWindow, qtbot: QtBot) -> None:
    window.session.open(LANTERN)
    assert window.session.lane.is_busy
    qtbot.keyClick(window, Qt.Key.Key_Escape)
    assert not window.session.lane.is_busy
    qtbot.wait(50)
    assert window.session.review is None
    assert window.start.isVisible()


def test_what_is_pointed_at_in_the_table_lights_up_in_both_views(
    window: MainWindow, qtbot: QtBot
) -> None:
    opened(window, LANTERN, qtbot)
    window.session.point_at(3)
    assert window.views.canvas.item.marks.hover == 3
    assert window.views.solid.picture.marks.hover == 3


def test_a_click_in_a_view_selects_with_control_and_shift_as_everywhere(
    window: MainWindow, qtbot: QtBot
) -> None:
    opened(window, LANTERN, qtbot)
    keys, canvas, solid = Qt.KeyboardModifier, window.views.canvas, window.views.solid
    canvas.island_clicked.emit(2, keys.NoModifier)
    solid.island_clicked.emit(5, keys.ControlModifier)
    assert window.session.selection == (2, 5)
    canvas.island_clicked.emit(2, keys.ControlModifier)
    canvas.island_clicked.emit(1, keys.ShiftModifier)
    assert window.session.selection == (1, 5)
    chosen = window.table.view.selectionModel().selectedRows()
    assert sorted(window.table.model.island(index.row()) for index in chosen) == [1, 5]
    canvas.island_clicked.emit(-1, keys.NoModifier)
    assert window.session.selection == ()


def test_another_layout_changes_table_views_and_explanation_together(
    window: MainWindow, qtbot: QtBot
) -> None:
    opened(window, LANTERN, qtbot)
    window.session.select([30])
    window.layout_bar.layouts.setCurrentIndex(1)
    window.layout_bar.layouts.activated.emit(1)
    qtbot.waitUntil(lambda: window.views.is_current)
    assert window.session.review is not None
    layout = window.session.review.layouts[1].layout
    assert window.table.model.rows is not None
    assert window.table.model.rows.name == layout.island_name
    assert window.session.selection == ()
    assert window.views.canvas.item.coloured is not None
    assert window.views.canvas.item.coloured.flat.layout is layout


def test_a_layout_without_uvs_says_what_to_do(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    path = tmp_path / "bare.obj"
    path.write_text("v 0 0 0\nv 1 0 0\nv 1 1 0\nf 1 2 3\n")
    opened(window, path, qtbot)
    assert window.views.without_uvs.isVisible()
    assert "One face of this layout has no UVs" in window.views.without_uvs.text.text()
    assert window.session.shown is not None
    assert [one.severity for one in window.session.shown.findings] == [Severity.FAULT]


def test_a_brushed_range_reaches_the_views_and_is_taken_back(
    window: MainWindow, qtbot: QtBot
) -> None:
    opened(window, LANTERN, qtbot)
    before = pixels(window.views.canvas)
    window.views.bar.range_brushed.emit(0.5, 2.0)
    qtbot.waitUntil(lambda: not window.session.colouring.is_busy)
    assert not np.array_equal(before, pixels(window.views.canvas))
    window.views.bar.cleared.emit()
    qtbot.waitUntil(lambda: not window.session.colouring.is_busy)
    assert window.session.look.brush is None
    qtbot.waitUntil(lambda: np.array_equal(before, pixels(window.views.canvas)))


def test_the_status_line_tells_what_is_under_the_pointer(window: MainWindow, qtbot: QtBot) -> None:
    opened(window, LANTERN, qtbot)
    shown = window.session.shown
    assert shown is not None
    triangle = 0
    name = shown.layout.island_name[shown.layout.face_island[shown.layout.triangle_face[0]]]
    window.views.canvas.cursor_moved.emit(0.25, 0.125, triangle)
    texts = [field.text() for field in window.status.fields]
    assert texts[1] == "texel 512, 256"
    assert texts[2] == name
    assert texts[4].startswith("stretch 1")
    window.views.canvas.cursor_moved.emit(float("nan"), 0.0, -1)
    assert [field.text() for field in window.status.fields] == [""] * 5


def test_the_window_comes_back_as_it_was_left(
    qtbot: QtBot, settings: Settings, tmp_path: Path
) -> None:
    first = MainWindow(Session(look=settings.look), settings)
    qtbot.addWidget(first)
    first.resize(760, 560)
    first.show()
    opened(first, LANTERN, qtbot)
    first.session.change_look(colours="islands", checker=True)
    first.own.panels["explanation"].setChecked(False)
    first.beside.setChecked(True)
    first.splitter.setSizes([300, 460])
    first.close()
    again = Settings(QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat))
    second = MainWindow(Session(look=again.look), again)
    qtbot.addWidget(second)
    second.show()
    assert (second.session.look.colours, second.session.look.checker) == ("islands", True)
    assert not second.explanation.isVisible()
    assert second.views.splitter.orientation() == Qt.Orientation.Horizontal
    assert second.size() == first.size()
    opened(second, LANTERN, qtbot)
    assert second.splitter.sizes()[0] == 300
    assert second.own.recent.actions()[0].text() == LANTERN.name
    second.close()


def test_every_action_with_a_key_is_on_the_keyboard_sheet_once(window: MainWindow) -> None:
    keys = [
        action.shortcut().toString()
        for actions in window.commands.listed.values()
        for action in actions
        if not action.shortcut().isEmpty()
    ]
    assert len(keys) == len(set(keys))
    assert {action for action in window.actions() if not action.shortcut().isEmpty()} <= {
        action for actions in window.commands.listed.values() for action in actions
    }


def test_no_two_marked_letters_are_the_same(window: MainWindow, qtbot: QtBot) -> None:
    opened(window, LANTERN, qtbot)
    menus = [action.text() for action in window.menuBar().actions()]
    words = [one.text() for kind in (QPushButton, QLabel) for one in window.findChildren(kind)
             if one.isVisible() and (kind is QPushButton or one.buddy() is not None)]  # fmt: skip
    letters = [word[word.index("&") + 1].upper() for word in menus + words if "&" in word]
    assert len(letters) >= 14
    assert sorted(letters) == sorted(set(letters))


def test_every_control_has_a_name_for_screen_readers(window: MainWindow, qtbot: QtBot) -> None:
    from PySide6.QtWidgets import QAbstractSpinBox, QComboBox, QLineEdit

    opened(window, LANTERN, qtbot)
    for kind in (QComboBox, QAbstractSpinBox):
        for control in window.findChildren(kind):
            assert control.accessibleName(), control
    assert window.table.text_filter.accessibleName()
    assert isinstance(window.table.text_filter, QLineEdit)
