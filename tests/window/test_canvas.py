"""The UV canvas: shows, moves, picks, and says what lies outside."""

from __future__ import annotations

import math

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QImage
from pytestqt.qtbot import QtBot
from tests import shapes
from tests.window.reviews import sheet_review, some_findings

from evenweave.limits.limits import DEFAULT
from evenweave.picture.coloured import coloured
from evenweave.picture.scene.scene import Scene, prepare_scene
from evenweave.pipeline import review
from evenweave.raster.colour.colours import ACCENT
from evenweave.raster.look import Look
from evenweave.window.views.canvas import UvCanvas


@pytest.fixture(scope="module")
def scene() -> Scene:
    return prepare_scene(sheet_review())


@pytest.fixture
def canvas(qtbot: QtBot, scene: Scene) -> UvCanvas:
    one = UvCanvas()
    qtbot.addWidget(one)
    one.resize(640, 560)
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


def where(canvas: UvCanvas, u: float, v: float) -> QPoint:
    box = canvas.getPlotItem().getViewBox()
    return canvas.mapFromScene(box.mapViewToScene(QPointF(u, v)))


def middle(scene: Scene, island: int) -> tuple[float, float]:
    u0, v0, u1, v1 = scene.flats[0].bounds((island,))
    return (u0 + u1) / 2, (v0 + v1) / 2


def seen(canvas: UvCanvas) -> tuple[float, float, float, float]:
    return canvas.bounds


def test_a_layout_is_shown_whole_with_v_up(canvas: UvCanvas) -> None:
    u0, v0, u1, v1 = seen(canvas)
    assert u0 < 0 < 1 < u1
    assert v0 < 0 < 1 < v1
    assert where(canvas, 0.5, 0.9).y() < where(canvas, 0.5, 0.1).y()


def test_tiles_are_shown_square(canvas: UvCanvas) -> None:
    width = where(canvas, 1, 0).x() - where(canvas, 0, 0).x()
    height = where(canvas, 0, 0).y() - where(canvas, 0, 1).y()
    assert abs(width - height) <= 1


def test_a_click_names_the_island_under_it(qtbot: QtBot, canvas: UvCanvas, scene: Scene) -> None:
    for island in (0, 5, 11):
        place = where(canvas, *middle(scene, island))
        with qtbot.waitSignal(canvas.island_clicked) as caught:
            qtbot.mouseClick(
                canvas.viewport(),
                Qt.MouseButton.LeftButton,
                Qt.KeyboardModifier.ControlModifier,
                pos=place,
            )
        assert caught.args == [island, Qt.KeyboardModifier.ControlModifier]


def test_a_click_beside_everything_names_no_island(qtbot: QtBot, canvas: UvCanvas) -> None:
    with qtbot.waitSignal(canvas.island_clicked) as caught:
        qtbot.mouseClick(
            canvas.viewport(), Qt.MouseButton.LeftButton, pos=where(canvas, -0.03, -0.03)
        )
    assert caught.args[0] == -1


def test_the_pointer_tells_where_it_is_and_what_is_there(qtbot, canvas, scene) -> None:
    u, v = middle(scene, 4)
    hovered, places = [], []
    canvas.island_hovered.connect(hovered.append)
    canvas.cursor_moved.connect(lambda u, v, triangle: places.append((u, v, triangle)))
    qtbot.mouseMove(canvas.viewport(), where(canvas, u, v))
    assert hovered == [4]
    assert places[-1][:2] == pytest.approx((u, v), abs=0.01)
    assert scene.flats[0].triangle_island[places[-1][2]] == 4


def test_dragging_moves_what_is_seen_and_is_no_click(qtbot: QtBot, canvas: UvCanvas) -> None:
    before = seen(canvas)
    start = where(canvas, 0.5, 0.5)
    with qtbot.assertNotEmitted(canvas.island_clicked):
        qtbot.mousePress(canvas.viewport(), Qt.MouseButton.LeftButton, pos=start)
        for step in (10, 30, 60):
            qtbot.mouseMove(canvas.viewport(), start + QPoint(step, step // 2))
        qtbot.mouseRelease(canvas.viewport(), Qt.MouseButton.LeftButton, pos=start + QPoint(60, 30))
    after = seen(canvas)
    assert after[0] < before[0]
    assert after[1] > before[1]
    assert after[2] - after[0] == pytest.approx(before[2] - before[0])


@pytest.mark.parametrize(
    ("key", "axis", "way"),
    [
        (Qt.Key.Key_Left, 0, -1),
        (Qt.Key.Key_Right, 0, 1),
        (Qt.Key.Key_Up, 1, 1),
        (Qt.Key.Key_Down, 1, -1),
    ],
)
def test_arrow_keys_move_the_view(qtbot, canvas, key, axis: int, way: int) -> None:
    before = seen(canvas)
    qtbot.keyClick(canvas, key)
    assert (seen(canvas)[axis] - before[axis]) * way > 0


def test_plus_minus_and_home_zoom_in_out_and_back(qtbot: QtBot, canvas: UvCanvas) -> None:
    before = seen(canvas)
    qtbot.keyClick(canvas, Qt.Key.Key_Plus)
    closer = seen(canvas)
    assert closer[2] - closer[0] < before[2] - before[0]
    qtbot.keyClick(canvas, Qt.Key.Key_Minus)
    qtbot.keyClick(canvas, Qt.Key.Key_Left)
    qtbot.keyClick(canvas, Qt.Key.Key_Home)
    qtbot.waitUntil(lambda: seen(canvas) == pytest.approx(before, abs=1e-6), timeout=2000)


def test_framing_an_island_ends_with_it_in_the_middle(qtbot, canvas, scene) -> None:
    canvas.frame((7,))
    u, v = middle(scene, 7)

    def is_there() -> bool:
        u0, v0, u1, v1 = seen(canvas)
        return math.hypot((u0 + u1) / 2 - u, (v0 + v1) / 2 - v) < 1e-6

    qtbot.waitUntil(is_there, timeout=2000)
    u0, v0, u1, v1 = seen(canvas)
    box = scene.flats[0].bounds((7,))
    assert u0 < box[0] < box[2] < u1
    assert min(u1 - u0, v1 - v0) < 1.3 * (box[2] - box[0])


def test_a_warning_s_place_is_framed_and_marked(qtbot, canvas, scene) -> None:
    finding = some_findings(12)[0]
    before = pixels(canvas)
    canvas.show_places(finding)
    assert (pixels(canvas) != before).any()
    canvas.frame_places(finding)
    qtbot.waitUntil(lambda: seen(canvas)[2] - seen(canvas)[0] < 0.9, timeout=2000)
    u0, v0, u1, v1 = seen(canvas)
    assert u0 < 0.5 < u1
    assert v0 < 0.5 < v1


def accents(canvas: UvCanvas) -> int:
    inside = pixels(canvas)[8:-8, 8:-8]  # within the frame that shows the focus
    return int((inside == ACCENT).all(axis=2).sum())


def test_the_accent_shows_the_selection_and_nothing_else(canvas: UvCanvas) -> None:
    assert accents(canvas) == 0
    canvas.set_hover(3)
    assert accents(canvas) == 0
    canvas.set_selection((2, 3))
    assert accents(canvas) > 100
    canvas.set_selection(())
    assert accents(canvas) == 0


def test_hovering_draws_again_without_rasterising_again(canvas: UvCanvas) -> None:
    renderer = canvas.item.renderer
    before, picture = renderer.ids(renderer.view), pixels(canvas)
    canvas.set_hover(5)
    after = pixels(canvas)
    assert (picture != after).any()
    assert renderer.ids(renderer.view) is before


def test_another_look_changes_the_colours_and_keeps_the_place(canvas, scene) -> None:
    canvas.frame((1,))
    place = seen(canvas)
    before = pixels(canvas)
    canvas.set_colours(coloured(scene, 0, Look(colours="stretch", checker=True)))
    assert (pixels(canvas) != before).any()
    assert seen(canvas) == place


def test_what_lies_far_out_is_told_and_can_be_shown(qtbot: QtBot) -> None:
    stray = shapes.textured(shapes.plane(1, 1), lambda uv: uv * 0.1 - np.array([0.0, 17.0]))
    asset = shapes.together(shapes.cube_pieces(), shapes.moved(stray, np.eye(3), (5, 0, 0)))
    canvas = UvCanvas()
    qtbot.addWidget(canvas)
    canvas.resize(500, 400)
    with qtbot.waitExposed(canvas):
        canvas.show()
    canvas.show_layout(coloured(prepare_scene(review(asset, DEFAULT)), 0, Look()))
    assert seen(canvas)[1] > -1
    assert canvas.far.isVisible()
    assert "1" in canvas.far.text() or "One" in canvas.far.text()
    assert "island" in canvas.far.toolTip()
    qtbot.mouseClick(canvas.far, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: seen(canvas)[1] < -17, timeout=2000)


def test_a_layout_within_its_tile_says_nothing_of_the_kind(canvas: UvCanvas) -> None:
    assert not canvas.far.isVisible()


def test_a_canvas_without_a_layout_is_empty_ground(qtbot: QtBot, canvas: UvCanvas) -> None:
    canvas.show_layout(None)
    canvas.grab()
    assert canvas.item.triangle_at(0.5, 0.5) == -1


def test_slow_pictures_are_coarse_while_moving_and_full_when_still(qtbot, canvas) -> None:
    canvas.item.seconds = 1.0
    qtbot.keyClick(canvas, Qt.Key.Key_Left)
    canvas.grab()
    assert canvas.item.is_coarse
    qtbot.waitUntil(lambda: not canvas.item.is_moving, timeout=2000)
    canvas.grab()
    assert not canvas.item.is_coarse
