"""The open file followed: replaced, written slowly, gone and back, exported twice in a row."""

import hashlib
import json
import os
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot
from tests.mesh.gltf_files import GltfFile
from tests.window.test_main_window import opened
from tests.window.test_session import QUADS

from evenweave.trial import jobs
from evenweave.window.services import live as live_module
from evenweave.window.services.session import Session
from evenweave.window.services.watching import FileWatch
from evenweave.window.shell.main_window import MainWindow
from evenweave.window.state.settings import Settings

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
    assert session.finding is not None
    check = session.finding.check
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
    assert session.finding is not None
    assert session.finding.check == check
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
    watch.watch((mesh,))
    qtbot.waitUntil(lambda: len(told) == 1)
    qtbot.wait(1300)
    assert len(told) == 1
    watch.stop()
    mesh.write_text(RIGHT)
    qtbot.wait(500)
    assert len(told) == 1


def test_a_buffer_of_another_name_is_watched(
    qtbot: QtBot, settings: Settings, tmp_path: Path
) -> None:
    file = GltfFile()
    file.show(file.quad())
    path, buffer = tmp_path / "quad.gltf", tmp_path / "shape.dat"
    buffer.write_bytes(bytes(file.data))
    file.gltf(path, "shape.dat")
    window = MainWindow(Session(), settings)
    qtbot.addWidget(window)
    window.show()
    opened(window, path, qtbot)
    data = np.frombuffer(bytes(file.data), "<f4").copy()
    data[12:20] *= 0.5  # the coordinates follow the four positions
    beside = tmp_path / "half"
    beside.write_bytes(data.tobytes() + bytes(file.data)[data.nbytes :])
    with qtbot.waitSignal(window.session.passes.taken, timeout=WAIT_MS):
        os.replace(beside, buffer)
    assert "1 island scaled" in window.notices.text_of("pass")
    # A pass that names a buffer which comes late: told as missing at last, read when it is there.
    file.document["buffers"][0]["uri"] = "late.dat"
    path.write_text(json.dumps(file.document))
    qtbot.waitUntil(lambda: window.session.live.is_busy, timeout=WAIT_MS)
    qtbot.wait(300)
    assert window.notices.text_of("file") == ""
    with qtbot.waitSignal(window.session.passes.taken, timeout=WAIT_MS):
        (tmp_path / "late.dat").write_bytes(bytes(file.data))
    window.close()


def test_a_layer_of_a_stage_is_watched(qtbot: QtBot, settings: Settings, tmp_path: Path) -> None:
    part = (
        '#usda 1.0\ndef Mesh "m" {\npoint3f[] points = [(0,0,0), (1,0,0), (0,1,0)]\n'
        "int[] faceVertexCounts = [3]\nint[] faceVertexIndices = [0,1,2]\n"
        "texCoord2f[] primvars:st = [(0.1,0.1), (0.9,0.1), (0.1,0.9)]"
        ' (interpolation = "vertex")\n}\n'
    )
    (tmp_path / "parts").mkdir()
    layer = tmp_path / "parts" / "one.usda"
    layer.write_text(part)
    root = tmp_path / "root.usda"
    root.write_text("#usda 1.0\n(\nsubLayers = [@./parts/one.usda@]\n)\n")
    window = MainWindow(Session(), settings)
    qtbot.addWidget(window)
    window.show()
    opened(window, root, qtbot)
    with qtbot.waitSignal(window.session.passes.taken, timeout=WAIT_MS):
        replaced(layer, part.replace("0.9", "0.5"))
    assert "1 island scaled" in window.notices.text_of("pass")
    window.close()


def cut(text: str, before: str) -> tuple[str, str]:
    """Return a text in two pieces, the second of which begins with these words."""
    place = text.index(before)
    return text[:place], text[place:]


HALVES = [cut(RIGHT, "o pane"), cut(RIGHT, "5/5 6/6")]
"""The first half is a mesh of one face: one ends with its line, the other does not."""


@pytest.mark.parametrize("halves", HALVES)
@pytest.mark.parametrize("pause_s", [1, 3])
def test_a_writer_that_pauses_in_the_middle_is_waited_for(
    window: MainWindow, mesh: Path, qtbot: QtBot, halves: tuple[str, str], pause_s: int
) -> None:
    """The file is opened anew for its second half, so that nothing but its contents tells."""
    faces = []
    window.session.review_replaced.connect(lambda: faces.append(faces_of(window)))
    first, second = halves
    mesh.write_text(first)
    qtbot.wait(1000 * pause_s)
    with mesh.open("a") as file:
        file.write(second)
    followed(window, RIGHT, qtbot)
    assert faces == [2]
    assert window.notices.text_of("file") == ""


def faces_of(window: MainWindow) -> int:
    review = window.session.original
    return review.asset.face_count if review else 0


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="only Linux tells of open files")
def test_a_file_held_open_for_writing_is_not_whole(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    with mesh.open("w") as file:
        file.write(RIGHT)
        file.flush()
        qtbot.wait(1500)
        assert digest_of(window) == hashlib.sha256(QUADS.encode()).hexdigest()
        assert not window.session.passes.is_busy
    followed(window, RIGHT, qtbot)


def test_fewer_faces_are_believed_after_a_while(
    window: MainWindow, mesh: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live_module, "DOUBT_S", 1.0)
    less = cut(QUADS, "o pane")[0]
    with qtbot.waitSignal(window.session.live.doubted, timeout=WAIT_MS):
        mesh.write_text(less)
    assert faces_of(window) == 2
    followed(window, less, qtbot)
    assert faces_of(window) == 1
    assert "1 island lost" in window.notices.text_of("pass")


@pytest.mark.skipif(os.name != "posix", reason="only there a file's status has a time")
def test_a_file_moved_to_its_place_is_whole_even_with_fewer_faces(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    less = cut(QUADS, "o pane")[0]
    beside = mesh.with_name("half.tmp")
    beside.write_text(less)
    os.utime(beside, (time.time() - 1, time.time() - 1))
    with qtbot.assertNotEmitted(window.session.live.doubted):
        os.replace(beside, mesh)
        followed(window, less, qtbot)


def test_a_pass_held_back_for_a_trial_is_read_when_that_is_given_up(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    session = window.session
    with qtbot.waitSignal(session.trials.changed, timeout=WAIT_MS):
        session.trials.try_out(jobs.unwrapping(1, (0,)))
    replaced(mesh, RIGHT)
    qtbot.waitUntil(lambda: "new pass" in window.notices.text_of("file"), timeout=WAIT_MS)
    session.trials.switch()
    session.trials.switch()
    assert "new pass" in window.notices.text_of("file")
    session.trials.discard()
    followed(window, RIGHT, qtbot)
    assert window.notices.text_of("file") == ""


def test_a_file_moved_away_and_back_is_not_gone_any_more(
    window: MainWindow, mesh: Path, qtbot: QtBot
) -> None:
    away = mesh.with_name("away.obj")
    os.replace(mesh, away)
    qtbot.waitUntil(lambda: "is gone" in window.notices.text_of("file"), timeout=WAIT_MS)
    os.replace(away, mesh)
    qtbot.waitUntil(lambda: window.notices.text_of("file") == "", timeout=WAIT_MS)
