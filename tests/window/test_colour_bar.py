"""The colour bar: names its unit, and isolates a range by mouse and by keyboard."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot
from tests.window.reviews import sheet_review

from evenweave.picture.coloured import coloured
from evenweave.picture.scene.scene import Scene, prepare_scene
from evenweave.raster.look import Look
from evenweave.window.bars.colour_bar import ColourBar


@pytest.fixture(scope="module")
def scene() -> Scene:
    return prepare_scene(sheet_review())


@pytest.fixture
def bar(qtbot: QtBot, scene: Scene) -> ColourBar:
    one = ColourBar()
    qtbot.addWidget(one)
    one.resize(600, one.sizeHint().height())
    one.show()
    one.show_colours(coloured(scene, 0, Look()))
    return one


def drag(qtbot: QtBot, bar: ColourBar, first: int, last: int) -> None:
    y = bar.height() // 2
    qtbot.mousePress(bar, Qt.MouseButton.LeftButton, pos=QPoint(first, y))
    qtbot.mouseMove(bar, QPoint((first + last) // 2, y))
    qtbot.mouseMove(bar, QPoint(last, y))
    qtbot.mouseRelease(bar, Qt.MouseButton.LeftButton, pos=QPoint(last, y))


def test_the_title_names_the_unit(bar: ColourBar, scene: Scene) -> None:
    assert "octaves" in bar.title
    bar.show_colours(coloured(scene, 0, Look(colours="angle")))
    assert "°" in bar.title


def test_dragging_either_way_brushes_the_range_between(qtbot: QtBot, bar: ColourBar) -> None:
    for first, last in ((150, 300), (300, 150)):
        with qtbot.waitSignal(bar.range_brushed):
            drag(qtbot, bar, first, last)
        assert bar.brush == pytest.approx((bar.value_at(150), bar.value_at(300)))


def test_values_run_from_low_to_high_along_the_bar(bar: ColourBar, scene: Scene) -> None:
    heat = coloured(scene, 0, Look()).heat
    assert bar.value_at(-50) == heat.low
    assert bar.value_at(10_000) == heat.high
    assert bar.value_at(300) == pytest.approx((heat.low + heat.high) / 2)


def test_a_click_without_dragging_brushes_nothing(qtbot: QtBot, bar: ColourBar) -> None:
    with qtbot.assertNotEmitted(bar.range_brushed):
        qtbot.mouseClick(bar, Qt.MouseButton.LeftButton, pos=QPoint(200, 20))
    assert bar.brush is None


def test_a_double_click_or_escape_shows_everything_again(qtbot: QtBot, bar: ColourBar) -> None:
    for clear in (
        lambda: qtbot.mouseDClick(bar, Qt.MouseButton.LeftButton, pos=QPoint(200, 20)),
        lambda: qtbot.keyClick(bar, Qt.Key.Key_Escape),
    ):
        drag(qtbot, bar, 150, 300)
        with qtbot.waitSignal(bar.cleared):
            clear()
        assert bar.brush is None


def test_the_keyboard_moves_both_ends(qtbot: QtBot, bar: ColourBar, scene: Scene) -> None:
    heat = coloured(scene, 0, Look()).heat
    qtbot.keyClick(bar, Qt.Key.Key_Right)
    low, high = bar.brush
    assert low > heat.low
    assert high == heat.high
    qtbot.keyClick(bar, Qt.Key.Key_Left, Qt.KeyboardModifier.ShiftModifier)
    assert bar.brush[0] == low
    assert bar.brush[1] < heat.high
    for _ in range(100):
        qtbot.keyClick(bar, Qt.Key.Key_Right)
    assert bar.brush[0] == bar.brush[1]


def test_modes_without_numbers_hide_the_bar(bar: ColourBar, scene: Scene) -> None:
    bar.show_colours(coloured(scene, 0, Look(colours="islands")))
    assert not bar.isVisible()
    bar.show_colours(coloured(scene, 0, Look(colours="stretch")))
    assert bar.isVisible()


def test_the_look_s_brush_is_shown(bar: ColourBar, scene: Scene) -> None:
    bar.show_colours(coloured(scene, 0, Look(brush=(-0.5, 0.5))))
    assert bar.brush == (-0.5, 0.5)
