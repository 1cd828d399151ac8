"""The session over the real pipeline: opening, choosing, editing, undoing, failing."""

from dataclasses import replace
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from evenweave.errors import FileProblem
from evenweave.limits.file import FILE_NAME, write_limits
from evenweave.limits.limits import Limits
from evenweave.pipeline import Grouping
from evenweave.window.services.session import Session

QUADS = """\
o roof
usemtl brass
v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
vt 0.1 0.1
vt 0.4 0.1
vt 0.4 0.4
vt 0.1 0.4
f 1/1 2/2 3/3 4/4
o pane
usemtl glass
v 2 0 0
v 3 0 0
v 3 1 0
v 2 1 0
vt 0.5 0.5
vt 0.9 0.5
vt 0.9 0.6
vt 0.5 0.6
f 5/5 6/6 7/7 8/8
"""


@pytest.fixture
def mesh(tmp_path: Path) -> Path:
    path = tmp_path / "quads.obj"
    path.write_text(QUADS)
    return path


def opened(session: Session, path: Path, qtbot: QtBot) -> None:
    with qtbot.waitSignal(session.review_replaced, timeout=110000):
        session.open(path)


def edited(session: Session, limits: Limits, qtbot: QtBot) -> None:
    with qtbot.waitSignal(session.review_replaced, timeout=110000):
        session.edit_limits(limits, "limits")


def test_opening_shows_the_first_layout_of_the_file(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    opened(session, mesh, qtbot)
    assert session.review is not None
    assert [one.layout.name for one in session.review.layouts] == ["brass", "glass"]
    assert session.shown is session.review.layouts[0]
    assert session.rows is not None
    assert session.rows.name == session.shown.layout.island_name


def test_a_file_that_cannot_be_read_leaves_what_is_open(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    opened(session, mesh, qtbot)
    before = session.review
    broken = mesh.with_name("broken.obj")
    broken.write_text("v 0 0 0\nf 1 2 3\n")
    with qtbot.waitSignal(session.problem_met, timeout=110000) as met:
        session.open(broken)
    assert isinstance(met.args[0], FileProblem)
    assert session.review is before


def test_an_edit_of_limits_judges_anew_and_can_be_undone(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    opened(session, mesh, qtbot)
    session.choose_layout(1)
    assert session.shown is not None
    assert any(one.check == "stretch" for one in session.shown.findings)
    edited(session, replace(session.limits, stretch_p95=10.0, stretch_median=10.0), qtbot)
    assert session.layout_index == 1
    assert not any(one.check == "stretch" for one in session.shown.findings)
    with qtbot.waitSignal(session.review_replaced, timeout=110000):
        session.undo_stack.undo()
    assert session.limits == Limits()
    assert any(one.check == "stretch" for one in session.shown.findings)


def test_another_tile_size_measures_anew(session: Session, mesh: Path, qtbot: QtBot) -> None:
    opened(session, mesh, qtbot)
    assert session.shown is not None
    before = session.shown.measures.island.density_median[0]
    edited(session, replace(session.limits, tile_width=4096, tile_height=4096), qtbot)
    assert session.shown.measures.island.density_median[0] == pytest.approx(2 * before)


def test_the_purpose_is_kept_for_the_layout_by_its_name(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    opened(session, mesh, qtbot)
    with qtbot.waitSignal(session.review_replaced, timeout=110000):
        session.choose_purpose("tiling")
    assert session.limits.purposes == (("brass", "tiling"),)
    assert session.shown is not None
    assert session.shown.purpose == "tiling"


def test_a_layout_that_looks_tiling_can_be_stated_to_be_unique(
    session: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    path = tmp_path / "tiled.obj"
    path.write_text(
        QUADS.partition("o pane")[0].replace("vt 0.4", "vt 3.4").replace(" 0.4\n", " 3.4\n")
    )
    opened(session, path, qtbot)
    assert session.shown is not None
    assert (session.shown.purpose, session.shown.looks_tiling) == ("unique", True)
    with qtbot.waitSignal(session.review_replaced, timeout=110000):
        session.choose_purpose("unique")
    assert session.limits.purposes == (("brass", "unique"),)
    assert not session.shown.looks_tiling


def test_merged_materials_share_a_layout_and_keep_the_selected_island(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    opened(session, mesh, qtbot)
    session.select([0])
    with qtbot.waitSignal(session.review_replaced, timeout=110000):
        session.choose_grouping(Grouping(None, (("brass", "glass"),)))
    assert session.shown is not None
    assert session.shown.layout.island_count == 2
    assert session.selection == (0,)


def test_reading_again_keeps_layout_selection_and_warning(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    opened(session, mesh, qtbot)
    session.choose_layout(1)
    session.select([0])
    assert session.finding is not None
    check = session.finding.check
    mesh.write_text(QUADS.replace("vt 0.9 0.6", "vt 0.9 0.62").replace("vt 0.5 0.6", "vt 0.5 0.62"))
    with qtbot.waitSignal(session.review_replaced, timeout=110000):
        session.reread()
    assert session.layout_index == 1
    assert session.selection == (0,)
    assert session.finding is not None
    assert session.finding.check == check


def test_a_projects_limits_apply_and_a_damaged_file_of_limits_is_told(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    path = mesh.with_name(FILE_NAME)
    write_limits(path, Limits(stretch_p95=9.0))
    opened(session, mesh, qtbot)
    assert session.limits.stretch_p95 == 9.0
    assert session.limits_path == path
    path.write_text("stretch_p95 = 'much'\n")
    with qtbot.waitSignal(session.problem_met, timeout=110000) as met:
        session.open(mesh)
    assert FILE_NAME in str(met.args[0])
    assert session.limits == Limits()


def test_edited_limits_stay_for_the_next_file_of_the_same_project(
    session: Session, mesh: Path, qtbot: QtBot
) -> None:
    opened(session, mesh, qtbot)
    edited(session, replace(session.limits, tile_width=1024, tile_height=1024), qtbot)
    opened(session, mesh, qtbot)
    assert session.limits.tile_width == 1024
    assert not session.undo_stack.canUndo()


def test_cancelling_an_edit_takes_it_back(session: Session, mesh: Path, qtbot: QtBot) -> None:
    opened(session, mesh, qtbot)
    before = session.review
    session.edit_limits(replace(session.limits, tile_width=8192, tile_height=8192), "tile size")
    session.cancel()
    assert not session.lane.is_busy
    assert session.limits == Limits()
    assert session.review is before


def test_a_look_tells_only_of_real_changes(session: Session, qtbot: QtBot) -> None:
    with qtbot.waitSignal(session.look_changed):
        session.change_look(checker=True)
    with qtbot.assertNotEmitted(session.look_changed):
        session.change_look(checker=True)
