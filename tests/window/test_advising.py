"""Advice in the window: found in the background, listed worst first, shown as a ghost."""

from pathlib import Path

import numpy as np
import pytest
from pytestqt.qtbot import QtBot
from tests.trial.solids import mobius
from tests.window.reviews import show
from tests.window.trial_meshes import DOME, LEFT, MIRRORED, NAMES, SQUASHED, write_mesh

from evenweave.check.numbers import number, percent
from evenweave.limits.limits import Limits
from evenweave.pipeline import review
from evenweave.trial.advice.advice import worst_first
from evenweave.trial.advice.verdict import Verdict
from evenweave.window.advice import advice_words
from evenweave.window.advice.advice_panel import AdvicePanel
from evenweave.window.services.advising import Queue
from evenweave.window.services.session import Session
from evenweave.window.state.ghosts import attainable_ghost, cut_ghost, flat_lines, solid_lines

ANSWER_MS = 110000


@pytest.fixture
def advised(session: Session, tmp_path: Path, qtbot: QtBot) -> Session:
    """A session that has looked at every island of the small mesh."""
    with qtbot.waitSignal(session.review_replaced, timeout=ANSWER_MS):
        session.open(write_mesh(tmp_path / "mesh.obj"))
    session.advising.begin()
    qtbot.waitUntil(lambda: session.advising.is_complete, timeout=ANSWER_MS)
    return session


@pytest.fixture
def panel(advised: Session, qtbot: QtBot) -> AdvicePanel:
    one = AdvicePanel(advised)
    qtbot.addWidget(one)
    one.show()
    return one


def test_what_is_pulled_forward_is_taken_next_and_nothing_twice() -> None:
    queue = Queue((4, 2, 0, 1, 3))
    taken = iter(queue)
    assert next(taken) == 4
    queue.pull((3, 4, 1))
    assert [next(taken) for _ in range(4)] == [3, 1, 2, 0]
    assert next(taken, None) is None
    assert [queue[k] for k in range(len(queue))] == [4, 3, 1, 2, 0]


def test_every_island_gets_its_verdict(advised: Session) -> None:
    found = advised.advising.found
    assert found[LEFT].verdicts == (Verdict.GOOD,)
    assert found[SQUASHED].verdicts == (Verdict.UNWRAP,)
    assert found[MIRRORED].verdicts == (Verdict.MIRRORED,)
    assert Verdict.SEAM in found[DOME].verdicts
    assert advised.shown is not None
    assert advised.advising.order == worst_first(advised.shown)


def test_islands_of_one_part_are_named_briefly() -> None:
    shortened = advice_words._shortened
    assert shortened("mount 19", "mount 2") == "19"
    assert shortened("mount 10", "mount") == "10"
    assert shortened("mount", "mount 2") == "mount"
    assert shortened("roof 2", "cap") == "roof 2"


def test_work_that_was_stopped_goes_on_where_it_was(
    session: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    with qtbot.waitSignal(session.review_replaced, timeout=ANSWER_MS):
        session.open(write_mesh(tmp_path / "mesh.obj"))
    advising = session.advising
    advising.begin()
    qtbot.waitUntil(lambda: len(advising.found) >= 1, timeout=ANSWER_MS)
    advising.stop()
    assert not advising.is_busy
    early = dict(advising.found)
    advising.begin()
    qtbot.waitUntil(lambda: advising.is_complete, timeout=ANSWER_MS)
    assert all(advising.found[island] is advice for island, advice in early.items())


def test_the_list_follows_the_selection_and_is_filtered_by_verdict(panel: AdvicePanel) -> None:
    islands, session = panel.islands, panel.islands._session
    assert [row.key for row in islands.list.rows.rows] == list(session.advising.order)
    islands.list.selectionModel().select(
        islands.list.rows.index(islands.list.rows.place_of(SQUASHED)),
        islands.list.selectionModel().SelectionFlag.ClearAndSelect,
    )
    assert session.selection == (SQUASHED,)
    assert NAMES[SQUASHED] in islands.page.what.text()
    islands.kinds.setCurrentIndex(islands.kinds.findData(Verdict.MIRRORED))
    islands.kinds.activated.emit(islands.kinds.currentIndex())
    assert [row.key for row in islands.list.rows.rows] == [MIRRORED]


def test_the_ghost_of_a_squashed_sheet_is_square(panel: AdvicePanel) -> None:
    session = panel.islands._session
    session.select((SQUASHED,))
    ghost = session.advising.ghost
    assert ghost is not None
    width, height = np.ptp(ghost.outline.reshape(-1, 2), axis=0)
    assert width == pytest.approx(height, rel=1e-3)
    (line,) = flat_lines(ghost)
    assert line.dash is not None
    assert session.shown is not None
    assert solid_lines(ghost, session.shown.layout) == ()


def test_a_cut_is_drawn_where_it_runs_on_the_texture_and_on_the_object(panel: AdvicePanel) -> None:
    session = panel.islands._session
    session.select((DOME,))
    cut, shown = session.advising.found[DOME].cuts[0], session.shown
    assert shown is not None
    ghost = session.advising.ghost
    assert ghost is not None
    assert np.array_equal(ghost.line_uv, cut.edge_uv)
    hidden, seen = solid_lines(ghost, shown.layout)
    assert hidden.is_on_top
    assert not seen.is_on_top
    ends = seen.point.reshape(-1, 2, 3)
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum()
    assert length == pytest.approx(cut.length_m)
    row = next(one for one in panel.islands.ways.rows.rows if one.key == 0)
    assert number(cut.length_m) in row.text
    assert percent(cut.hidden_share, 2) in row.aside


def test_each_way_out_of_an_island_has_its_own_ghost(panel: AdvicePanel) -> None:
    session, ways = panel.islands._session, panel.islands.ways
    session.select((DOME,))
    advice = session.advising.found[DOME]
    ways.select((-2,))
    ways.chosen.emit(ways.keys)
    same = session.advising.ghost
    best = attainable_ghost(advice)
    assert same is not None
    assert best is not None
    assert np.array_equal(same.outline, best.outline)
    ways.select((0,))
    ways.chosen.emit(ways.keys)
    cut = session.advising.ghost
    assert cut is not None
    assert np.array_equal(cut.outline, cut_ghost(advice.cuts[0]).outline)


def test_the_ghost_goes_with_the_panel(panel: AdvicePanel) -> None:
    session = panel.islands._session
    session.select((SQUASHED,))
    assert session.advising.ghost is not None
    panel.hide()
    assert session.advising.ghost is None


def test_sews_are_looked_for_when_first_seen(panel: AdvicePanel, qtbot: QtBot) -> None:
    panel.show_kind(1)
    qtbot.waitUntil(lambda: panel.sews.found is not None, timeout=ANSWER_MS)
    assert panel.sews.found
    assert {tuple(sorted(one.islands)) for one in panel.sews.found} == {(0, 1)}
    assert "left" in panel.sews.page.what.text()
    ghost = panel.sews._session.advising.ghost
    assert ghost is not None
    assert ghost.is_sewing
    sides = ghost.line_uv.reshape(-1, 2)
    assert sides[:, 0].min() == pytest.approx(0.25)
    assert sides[:, 0].max() == pytest.approx(0.35)


def test_without_strips_the_page_says_so(panel: AdvicePanel, qtbot: QtBot) -> None:
    panel.show_kind(2)
    qtbot.waitUntil(lambda: panel.strips.found is not None, timeout=ANSWER_MS)
    assert panel.strips.found == ()
    assert "strip" in panel.strips.page.what.text()
    assert not panel.strips.try_all.isEnabled()


def test_what_cannot_be_advised_on_says_why(session: Session, qtbot: QtBot) -> None:
    show(session, review(mobius(), Limits()))
    panel = AdvicePanel(session)
    qtbot.addWidget(panel)
    panel.show()
    qtbot.waitUntil(lambda: session.advising.is_complete, timeout=ANSWER_MS)
    panel.islands.refresh()
    session.select((0,))
    (row,) = panel.islands.list.rows.rows
    assert row.text == "No advice"
    assert "No advice on part, because " in panel.islands.page.what.text()
    assert row.tip
    assert row.tip in panel.islands.page.what.text()
    assert not panel.islands.try_it.isEnabled()
    assert session.advising.ghost is None
