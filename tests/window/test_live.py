"""The open file followed: replaced, written slowly, gone and back, exported twice in a row."""

import hashlib
import os
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot
from tests.window.test_main_window import opened
from tests.window.test_session import QUADS

from evenweave.window import live as live_module
from evenweave.window.main_window import MainWindow
from evenweave.window.session import Session
from evenweave.window.settings import Settings
from evenweave.window.watching import FileWatch

WAIT_MS = 20000
RIGHT = QUADS.replace("vt 0.9 0.6", "vt 0.9 0.9").replace("vt 0.5 0.6", "vt 0.5 0.9")
"""The pane is not stretched any more."""

WORSE = QUADS.replace("vt 0.4 0.4", "vt 0.4 0.2").replace("vt 0.1 0.4", "vt 0.1 0.2")
"""The roof is stretched too."""


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
    yield one
    one.close()


def replaced(path: Path, text: str) -> None:
    """Write a file as careful exporters do: beside it, then in its place."""
    beside = path.with_name("half.tmp")
    beside.write_text(text)
    os.replace(beside, path)


def digest_of(window: MainWindow) -> str:
    review = window.session.original
    return review.asset.digest if review else ""


def followed(window: MainWindow, text: str, qtbot: QtBot) -> None:
    digest = hashlib.sha256(text.encode()).hexdigest()
    passes = window.session.passes
    qtbot.waitUntil(lambda: digest_of(window) == digest and not passes.is_busy, timeout=WAIT_MS)


def test_a_replaced_file_is_read_and_the_strip_says_what_got_better(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    replaced(mesh, RIGHT)
    followed(window, RIGHT, qtbot)
    told = window.notices.text_of("pass")
    assert told.startswith("quads.obj was read again. Better: 1 warning fixed")
    replaced(mesh, WORSE)
    followed(window, WORSE, qtbot)
    assert "Worse: 2 warnings new or worse (Stretched: " in window.notices.text_of("pass")


def test_view_camera_layout_selection_and_warning_stay(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    session, views = window.session, window.views
    session.choose_layout(1)
    qtbot.waitUntil(lambda: views.is_current)
    session.select([0])
    assert session.warning is not None
    check = session.warning.check
    views.canvas.frame_bounds((0.4, 0.4, 0.8, 0.7), is_sudden=True)
    qtbot.keyClick(views.solid, Qt.Key.Key_Right)
    bounds, camera = views.bounds, views.camera
    # Parts in another order and under other names: only the surface tells which is which.
    roof, pane = QUADS.split("o pane")
    pane = pane.replace("f 5/5 6/6 7/7 8/8", "f 1/1 2/2 3/3 4/4").replace("0.6", "0.62")
    text = "o glazing" + pane + roof.replace("f 1/1 2/2 3/3 4/4", "f 5/5 6/6 7/7 8/8")
    replaced(mesh, text)
    followed(window, text, qtbot)
    qtbot.waitUntil(lambda: views.is_current)
    assert session.shown is not None
    assert session.shown.layout.name == "glass"
    assert session.selection == (0,)
    assert session.warning is not None
    assert session.warning.check == check
    middle = [(bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2]
    now = views.bounds
    # The strip takes some room; what is in the middle stays there.
    assert [(now[0] + now[2]) / 2, (now[1] + now[3]) / 2] == pytest.approx(middle, abs=0.02)
    assert views.camera == camera


def test_a_slow_writer_is_waited_for_and_half_a_file_is_never_told(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    told = []
    window.session.problem_met.connect(lambda error: told.append(str(error)))
    window.session.live.failed.connect(lambda error: told.append(str(error)))
    seen = []
    window.session.passes.taken.connect(lambda taken: seen.append(taken.after.review.asset.digest))
    lines = RIGHT.splitlines(keepends=True)
    with mesh.open("w") as file:
        for line in lines:
            file.write(line)
            file.flush()
            qtbot.wait(70)
    followed(window, RIGHT, qtbot)
    assert len(seen) == 1
    assert told == []
    assert window.notices.text_of("file") == ""


def test_a_file_that_cannot_be_read_for_a_while_is_tried_again_quietly(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    review = window.session.original
    mesh.write_text(QUADS + "f 1/1 2/2 90/90\n")
    qtbot.wait(1500)
    assert window.session.original is review
    assert window.notices.text_of("file") == ""
    assert window.notices.text_of("problem") == ""
    mesh.write_text(RIGHT)
    followed(window, RIGHT, qtbot)


def test_a_file_that_stays_unreadable_is_told_after_some_patience(
    window: MainWindow, mesh: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live_module, "PATIENCE_S", 0.5)
    mesh.write_text(QUADS + "f 1/1 2/2 90/90\n")
    qtbot.waitUntil(lambda: window.notices.text_of("file") != "", timeout=WAIT_MS)
    assert "quads.obj" in window.notices.text_of("file")
    replaced(mesh, RIGHT)
    followed(window, RIGHT, qtbot)
    assert window.notices.text_of("file") == ""


def test_a_file_that_goes_and_returns_is_read_again(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    review = window.session.original
    mesh.unlink()
    qtbot.waitUntil(lambda: "is gone" in window.notices.text_of("file"), timeout=WAIT_MS)
    assert window.session.original is review
    mesh.write_text(RIGHT)
    followed(window, RIGHT, qtbot)
    assert window.notices.text_of("file") == ""


def test_of_two_quick_exports_the_last_is_shown(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    replaced(mesh, WORSE)
    qtbot.wait(350)
    replaced(mesh, RIGHT)
    followed(window, RIGHT, qtbot)
    qtbot.wait(600)
    followed(window, RIGHT, qtbot)
    assert not window.session.live.is_busy


def test_a_file_only_touched_is_not_measured_anew(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    review = window.session.original
    with qtbot.assertNotEmitted(window.session.live.reading, wait=1500):
        os.utime(mesh, (time.time(), time.time() + 5))
    assert window.session.original is review
    assert window.notices.text_of("pass") == ""


def test_switched_off_nothing_is_read_and_that_is_remembered(
    window: MainWindow, mesh: Path, qtbot: QtBot, settings: Settings
) -> None:
    review = window.session.original
    window.pass_actions.follow.trigger()
    replaced(mesh, RIGHT)
    qtbot.wait(1500)
    assert window.session.original is review
    assert settings.flag("follow_file", True) is False
    window.pass_actions.follow.trigger()
    followed(window, RIGHT, qtbot)


def test_an_edit_of_limits_meanwhile_is_kept(window: MainWindow, mesh: Path, qtbot: QtBot) -> None:
    session = window.session
    replaced(mesh, RIGHT)
    with qtbot.waitSignal(session.live.reading, timeout=WAIT_MS):
        pass
    session.edit_limits(replace(session.limits, tile_width=1024, tile_height=1024), "tile size")
    followed(window, RIGHT, qtbot)
    assert session.original is not None
    assert session.original.limits.tile_width == session.limits.tile_width == 1024


def test_the_strip_opens_the_comparison(window: MainWindow, mesh: Path, qtbot: QtBot) -> None:
    replaced(mesh, RIGHT)
    followed(window, RIGHT, qtbot)
    window.notices._strips["pass"].offer.click()
    shown = window.comparing.shown
    assert shown is not None
    assert shown.isVisible()
    assert shown.verdict.text().startswith("Better: 1 warning fixed")


def test_the_watch_tells_once_of_what_it_finds_first(mesh: Path, qtbot: QtBot) -> None:
    watch, told = FileWatch(), []
    watch.written.connect(lambda: told.append(True))
    watch.watch(mesh)
    qtbot.waitUntil(lambda: len(told) == 1)
    qtbot.wait(1300)
    assert len(told) == 1
    watch.stop()
    mesh.write_text(RIGHT)
    qtbot.wait(500)
    assert len(told) == 1
