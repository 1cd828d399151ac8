"""Mip levels, halos, seams under the pointer and the worst places, in the window."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF
from pytestqt.qtbot import QtBot
from tests import shapes
from tests.window.reviews import show

from evenweave.limits.limits import DEFAULT
from evenweave.mesh.asset import Asset
from evenweave.pipeline import review
from evenweave.window.services.session import Session
from evenweave.window.shell.main_window import MainWindow
from evenweave.window.state.settings import Settings


def asset() -> Asset:
    """Return a cube in six pieces, one of them stretched."""

    def stretched(uv: np.ndarray) -> np.ndarray:
        wide = uv.copy()
        lowest = uv[:, 0].min()
        is_first = uv[:, 0] < lowest + 0.3
        wide[is_first, 0] = lowest + (uv[is_first, 0] - lowest) * 0.5
        return wide

    return shapes.textured(shapes.cube_pieces(), stretched)


@pytest.fixture
def window(qtbot: QtBot, settings: Settings) -> Iterator[MainWindow]:
    one = MainWindow(Session(), settings)
    qtbot.addWidget(one)
    one.resize(1280, 720)
    with qtbot.waitExposed(one):
        one.show()
    show(one.session, review(asset(), DEFAULT))
    qtbot.waitUntil(lambda: one.views.is_current)
    one.views.canvas.grab()
    yield one
    one.close()


def place(window: MainWindow, u: float, v: float) -> QPoint:
    canvas = window.views.canvas
    box = canvas.getPlotItem().getViewBox()
    return canvas.mapFromScene(box.mapViewToScene(QPointF(u, v)))


def drawn(window: MainWindow):
    return window.views.canvas.item.coloured


def test_mip_blocks_are_shown_and_their_level_moves(window: MainWindow, qtbot: QtBot) -> None:
    bar = window.views.layers
    assert not bar.isVisible()
    window.commands.mips.trigger()
    qtbot.waitUntil(lambda: drawn(window).layers.blocks is not None)
    assert bar.isVisible()
    assert bar.level.value() == window.session.look.mip == 3
    window.commands.coarser.trigger()
    qtbot.waitUntil(lambda: bar.level.value() == 4)
    bar.level.setValue(11)
    qtbot.waitUntil(lambda: drawn(window).look.mip == 11)
    assert "1 block bleeds" in bar.blocks.text()
    window.commands.coarser.trigger()
    assert window.session.look.mip == 11
    window.commands.mips.trigger()
    qtbot.waitUntil(lambda: not bar.isVisible())
    assert window.session.look.mip is None


def test_halos_and_kinds_of_seams_say_what_they_mean(window: MainWindow, qtbot: QtBot) -> None:
    bar, toggles = window.views.layers, {one.data(): one for one in window.commands.toggles}
    toggles["halos"].trigger()
    toggles["seam_kinds"].trigger()
    qtbot.waitUntil(lambda: bar.halos.isVisible() and bar.kinds.isVisible())
    assert "16 texels" in bar.halos.text()
    texts = [sample.text.text() for sample in bar.kind_rows]
    assert len(set(texts)) == 3
    assert texts[2].endswith("none")
    assert all(one.toolTip() for one in (bar.level, bar.halos, *bar.kind_rows))


def test_a_seam_under_the_pointer_shows_its_twin_in_both_views(
    window: MainWindow, qtbot: QtBot
) -> None:
    flat, views = drawn(window).flat, window.views
    u, v = flat.finder.end[2].mean(axis=0)
    qtbot.mouseMove(views.canvas.viewport(), place(window, u, v))
    views.canvas.cursor_moved.emit(u, v, -1)
    assert views.canvas.item.marks.seam == views.solid.picture.marks.seam >= 0
    sentence = window.status.fields[2].text()
    first, second = flat.review.measures.seams.island[views.canvas.item.marks.seam]
    assert flat.layout.island_name[first] in sentence
    assert flat.layout.island_name[second] in sentence
    assert "1 m" in sentence
    assert "octaves" in sentence or "density even" in sentence
    assert window.status.fields[3].text() == ""
    views.canvas.cursor_moved.emit(float("nan"), 0.0, -1)
    assert views.canvas.item.marks.seam == views.solid.picture.marks.seam == -1
    assert window.status.fields[2].text() == ""


def test_the_worst_places_are_walked_to_and_fro(window: MainWindow, qtbot: QtBot) -> None:
    window.session.change_look(colours="stretch")
    walk, views = window.views.walk, window.views
    scale = views.canvas.tiles_per_px
    walk.step(1)
    qtbot.waitUntil(lambda: walk.spot is not None and views.canvas.item.marks.spot is walk.spot)
    assert views.solid.picture.marks.spot is walk.spot
    assert walk.spot.measure == "stretch"
    sentence = window.status.currentMessage()
    assert sentence.startswith("Worst place 1 of ")
    assert "stretch 2.00" in sentence
    qtbot.waitUntil(lambda: views.canvas.tiles_per_px < 0.7 * scale)
    first = walk.spot
    walk.step(-1)
    qtbot.waitUntil(lambda: not window.session.walking.is_busy)
    walk.step(1)
    qtbot.waitUntil(lambda: walk.spot is first)
    window.commands.clear.trigger()
    assert views.canvas.item.marks.spot is None
    assert window.status.currentMessage() == ""


def test_the_walk_says_when_nothing_is_worse_than_the_rest(
    window: MainWindow, qtbot: QtBot
) -> None:
    window.views.walk.choose("flipped")
    qtbot.waitUntil(lambda: window.status.currentMessage() != "")
    assert "Flipped" in window.status.currentMessage()
    assert window.views.walk.spot is None


def test_another_layout_or_a_warning_ends_the_walk(window: MainWindow, qtbot: QtBot) -> None:
    walk = window.views.walk
    walk.choose("density")
    qtbot.waitUntil(lambda: walk.spot is not None)
    window.session.choose_finding(window.session.shown.findings[0])
    assert walk.spot is None
    walk.step(1)
    qtbot.waitUntil(lambda: walk.spot is not None)
    show(window.session, review(replace(asset(), caveats=()), DEFAULT))
    assert walk.spot is None
    assert window.views.canvas.item.marks.spot is None


def test_every_way_to_look_closer_has_a_key_and_a_menu(window: MainWindow) -> None:
    menu_texts = [one.text() for one in window.own.walks.actions() if one.text()]
    letters = [text[text.index("&") + 1].upper() for text in menu_texts]
    assert len(letters) == len(set(letters)) == 11
    keys = {one.shortcut().toString() for one in window.actions()}
    assert {"W", "Q", "M", "U", "J", "H", "K"} <= keys
