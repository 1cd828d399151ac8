"""The 3D view: turns, moves, picks, and shares the canvas's colours."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QImage, QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from tests import shapes

from evenweave.limits.limits import DEFAULT
from evenweave.picture.coloured import coloured
from evenweave.picture.scene.scene import Scene, prepare_scene
from evenweave.pipeline import review
from evenweave.raster.colour.colours import ACCENT
from evenweave.raster.look import Look
from evenweave.window.views.solid_view import SolidView


@pytest.fixture(scope="module")
def scene() -> Scene:
    return prepare_scene(review(shapes.cube_pieces(), DEFAULT))


@pytest.fixture
def view(qtbot: QtBot, scene: Scene) -> SolidView:
    one = SolidView()
    qtbot.addWidget(one)
    one.resize(480, 400)
    with qtbot.waitExposed(one):
        one.show()
    one.show_layout(coloured(scene, 0, Look()))
    one.grab()
    return one


def pixels(widget) -> np.ndarray:
    image = widget.grab().toImage().convertToFormat(QImage.Format.Format_RGB888)
    data = np.frombuffer(image.constBits(), dtype=np.uint8)
    return (
        data.reshape(image.height(), image.bytesPerLine())[:, : image.width() * 3]
        .copy()
        .reshape(image.height(), image.width(), 3)
    )


def drag(qtbot: QtBot, view: SolidView, way: QPoint, button, modifier=None) -> None:
    start = QPoint(240, 200)
    modifiers = modifier or Qt.KeyboardModifier.NoModifier
    qtbot.mousePress(view, button, modifiers, pos=start)
    for share in (0.3, 0.7, 1.0):
        place = QPointF(start) + QPointF(way) * share
        moved = QMouseEvent(
            QMouseEvent.Type.MouseMove,
            place,
            view.mapToGlobal(place),
            Qt.MouseButton.NoButton,
            button,
            modifiers,
        )
        QApplication.sendEvent(view, moved)
    qtbot.mouseRelease(view, button, modifiers, pos=start + way)


def told(view) -> tuple[list[int], list[tuple[float, float, int]]]:
    """Lists that fill with what the view says of the pointer."""
    hovered, places = [], []
    view.island_hovered.connect(hovered.append)
    view.cursor_moved.connect(lambda u, v, triangle: places.append((u, v, triangle)))
    return hovered, places


def test_the_whole_asset_is_in_the_picture(view: SolidView) -> None:
    picture = pixels(view).astype(int)[4:-4, 4:-4]  # within the frame that shows the focus
    covered = np.abs(picture - picture[2, 2]).sum(axis=2) > 12
    assert covered[200, 240]
    assert not covered[[0, -1]].any()
    assert not covered[:, [0, -1]].any()
    assert 0.1 < covered.mean() < 0.8


def test_a_left_drag_turns_and_a_click_does_not(qtbot: QtBot, view: SolidView) -> None:
    before = view.picture.camera
    with qtbot.assertNotEmitted(view.island_clicked):
        drag(qtbot, view, QPoint(60, 20), Qt.MouseButton.LeftButton)
    assert view.picture.camera.yaw != before.yaw
    assert view.picture.camera.pitch > before.pitch
    assert view.picture.camera.target == before.target
    turned = view.picture.camera
    with qtbot.waitSignal(view.island_clicked) as caught:
        qtbot.mouseClick(view, Qt.MouseButton.LeftButton, pos=QPoint(240, 200))
    assert view.picture.camera == turned
    assert caught.args[0] >= 0


@pytest.mark.parametrize(
    ("button", "modifier"),
    [
        (Qt.MouseButton.MiddleButton, Qt.KeyboardModifier.NoModifier),
        (Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ShiftModifier),
    ],
)
def test_middle_and_shift_drag_move_the_object_with_the_pointer(
    qtbot, view, button, modifier
) -> None:
    before = view.picture.camera
    drag(qtbot, view, QPoint(50, 0), button, modifier)
    assert view.picture.camera.yaw == before.yaw
    right = before.axes()[0]
    moved = np.array(view.picture.camera.target) - np.array(before.target)
    assert moved @ right == pytest.approx(-50 * before.distance / before.focal_px(400))


def test_the_wheel_zooms(view: SolidView) -> None:
    before = view.picture.camera.distance
    event = QWheelEvent(
        QPointF(240, 200), view.mapToGlobal(QPointF(240, 200)), QPoint(), QPoint(0, 120),
        Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase,
        False,
    )  # fmt: skip
    QApplication.sendEvent(view, event)
    assert view.picture.camera.distance < before


def test_the_pointer_tells_island_triangle_and_texture_place(qtbot, view, scene) -> None:
    hovered, places = told(view)
    qtbot.mouseMove(view, QPoint(240, 200))
    u, v, triangle = places[-1]
    flat = scene.flats[0]
    assert hovered == [flat.triangle_island[triangle]]
    u0, v0, u1, v1 = flat.bounds(tuple(hovered))
    assert u0 <= u <= u1
    assert v0 <= v <= v1
    corner = flat.layout.triangle_corner[triangle]
    a, b, c = flat.layout.uv[flat.layout.corner_uv[corner]]
    weights = np.linalg.solve(np.stack((b - a, c - a), axis=1), np.array([u, v]) - a)
    assert weights.min() > -1e-6
    assert weights.sum() < 1 + 1e-6


def test_beside_the_object_there_is_nothing(qtbot: QtBot, view: SolidView) -> None:
    hovered, places = told(view)
    qtbot.mouseMove(view, QPoint(230, 190))
    qtbot.mouseMove(view, QPoint(3, 3))
    assert hovered[-1] == -1
    assert math.isnan(places[-1][0])
    assert places[-1][2] == -1


def test_framing_an_island_brings_it_nearer_and_home_brings_all_back(qtbot, view) -> None:
    home = view.picture.camera
    view.frame((0,))
    qtbot.waitUntil(lambda: view.picture.camera.distance < 0.99 * home.distance, timeout=2000)
    qtbot.wait(250)
    view.home()
    qtbot.waitUntil(
        lambda: view.picture.camera.distance == pytest.approx(home.distance, rel=1e-9), timeout=2000
    )
    assert view.picture.camera.target == pytest.approx(home.target)


def test_the_selection_shows_even_where_the_object_hides_it(view: SolidView) -> None:
    def violet() -> int:
        picture = pixels(view).astype(int)
        return int(((picture[:, :, 2] - picture[:, :, 1]) > 25).sum())

    base = violet()
    for island in range(6):
        view.set_selection((island,))
        assert violet() > base + 20, f"island {island}"
    view.set_selection(())
    assert violet() == base
    assert ACCENT[2] - ACCENT[1] > 25


def test_keys_turn_move_zoom_and_reset(qtbot: QtBot, view: SolidView) -> None:
    home = view.picture.camera
    qtbot.keyClick(view, Qt.Key.Key_Right)
    assert view.picture.camera.yaw != home.yaw
    qtbot.keyClick(view, Qt.Key.Key_Up, Qt.KeyboardModifier.ShiftModifier)
    assert view.picture.camera.target != home.target
    qtbot.keyClick(view, Qt.Key.Key_Plus)
    assert view.picture.camera.distance < home.distance
    qtbot.keyClick(view, Qt.Key.Key_Home)
    qtbot.waitUntil(lambda: view.picture.camera.target == pytest.approx(home.target), timeout=2000)


def test_another_look_keeps_the_camera_and_changes_the_picture(view, scene) -> None:
    camera, before = view.picture.camera, pixels(view)
    view.set_colours(coloured(scene, 0, Look(checker=True)))
    assert view.picture.camera == camera
    assert (pixels(view) != before).any()


def test_a_z_up_asset_stands_upright(qtbot: QtBot) -> None:
    asset = replace(shapes.cylinder(radius=0.2, height=3.0), up_axis="z")
    tall_axis = int(np.argmax(np.ptp(asset.position, axis=0)))
    turn = np.eye(3)[[2, 0, 1]] if tall_axis == 1 else np.eye(3)
    view = SolidView()
    qtbot.addWidget(view)
    view.resize(300, 300)
    view.show()
    standing = shapes.moved(asset, turn)
    assert int(np.argmax(np.ptp(standing.position, axis=0))) == 2
    view.show_layout(coloured(prepare_scene(review(standing, DEFAULT)), 0, Look()))
    picture = pixels(view).astype(int)[4:-4, 4:-4]
    covered = np.abs(picture - picture[1, 1]).sum(axis=2) > 12
    rows, columns = np.flatnonzero(covered.any(axis=1)), np.flatnonzero(covered.any(axis=0))
    assert np.ptp(rows) > 2 * np.ptp(columns)


def test_slow_pictures_are_coarse_while_moving_and_full_when_still(qtbot, view) -> None:
    view.picture.seconds = 1.0
    qtbot.keyClick(view, Qt.Key.Key_Right)
    view.grab()
    assert view.picture.is_coarse
    qtbot.waitUntil(lambda: not view.picture.is_coarse, timeout=2000)


def test_a_small_mesh_is_smoother_when_still_than_while_it_moves(qtbot, view) -> None:
    def tones() -> int:
        view.picture.seconds = 0.001
        return len(np.unique(pixels(view)[20:-20, 20:-20].reshape(-1, 3), axis=0))

    qtbot.keyClick(view, Qt.Key.Key_Right)
    moving = tones()
    qtbot.waitUntil(lambda: not view.picture.is_moving, timeout=2000)
    assert tones() > moving


def test_the_whole_asset_stays_in_the_picture_when_the_view_becomes_narrow(view) -> None:
    before = view.picture.camera.distance
    view.resize(150, 400)
    assert view.picture.camera.distance > 1.5 * before
