"""The island table: sorts worst first, filters, and keeps step with the session."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot
from tests.window.reviews import layout_review, sheet_review, show

from evenweave.check.finding import Severity
from evenweave.limits.limits import Limits
from evenweave.notes.store import NoteStore, with_waiver
from evenweave.notes.waiving import apply_waivers, new_waiver
from evenweave.window.islands.island_delegate import density_bar, stretch_bar
from evenweave.window.islands.island_model import IslandModel
from evenweave.window.islands.island_table import IslandTable
from evenweave.window.services.session import Session
from evenweave.window.state.island_rows import (
    DENSITY,
    FOUND_COLUMN,
    NAME,
    STRETCH,
    IslandRows,
    island_rows,
    natural,
    with_waivers,
)


@pytest.fixture
def rows() -> IslandRows:
    return island_rows(layout_review("brass", 12))


def test_rows_count_warnings_and_keep_the_gravest(rows: IslandRows) -> None:
    assert rows.findings.tolist() == [2, 0, 0, 1, 0, 0, 1, 0, 0, 1, 0, 1]
    assert rows.severity[11] == Severity.FAULT
    assert rows.severity[0] == Severity.WARNING
    assert rows.severity[1] == 0


def waived_rows(*islands: int) -> IslandRows:
    """The rows of twelve islands; on those named the warning of stretch is waived."""
    one = layout_review("brass", 12)
    done = replace(sheet_review(12), layouts=(one,))
    store = NoteStore()
    for finding in one.findings:
        if finding.check == "stretch" and finding.islands[0] in islands:
            store = with_waiver(store, new_waiver(one, finding, "meant"))
    return with_waivers(island_rows(one), apply_waivers(done, store).layouts[0])


def test_waived_warnings_are_counted_apart(rows: IslandRows) -> None:
    part = waived_rows(0, 3)
    assert (part.findings + part.waived).tolist() == rows.findings.tolist()
    assert part.waived.tolist() == [1, 0, 0, 1, *[0] * 8]
    assert part.severity[[0, 3, 6]].tolist() == [Severity.NOTE, 0, Severity.WARNING]


def test_a_warning_waived_on_some_of_its_islands_is_open_on_the_others() -> None:
    one = layout_review("brass", 12)
    several = replace(one.findings[1], islands=(2, 4, 6))
    one = replace(one, findings=(several,))
    done = replace(sheet_review(12), layouts=(one,))
    store = with_waiver(NoteStore(), new_waiver(one, several, "meant", islands=(4,)))
    part = with_waivers(island_rows(one), apply_waivers(done, store).layouts[0])
    assert np.flatnonzero(part.findings).tolist() == [2, 6]
    assert np.flatnonzero(part.waived).tolist() == [4]


def test_islands_with_waived_warnings_alone_come_behind_open_ones_and_pass_no_filter() -> None:
    rows = waived_rows(0, 3, 6)
    assert rows.order(FOUND_COLUMN, descending=True)[:6].tolist() == [11, 9, 0, 3, 6, 1]
    assert rows.order(FOUND_COLUMN, descending=True, at_least=Severity.NOTE).tolist() == [11, 9, 0]


@pytest.mark.usefixtures("qtbot")
def test_the_table_says_open_and_waived_in_words_too() -> None:
    model = IslandModel()
    model.show_rows(waived_rows(0, 3))

    def told(island: int, role: Qt.ItemDataRole) -> object:
        return model.index(model.row(island), FOUND_COLUMN).data(role)

    shown, spoken, tip = (
        Qt.ItemDataRole.DisplayRole,
        Qt.ItemDataRole.AccessibleTextRole,
        Qt.ItemDataRole.ToolTipRole,
    )
    assert (told(0, shown), told(3, shown), told(1, shown)) == ("1", "", "")
    assert told(0, spoken) == "1 finding, 1 waived, gravest: Remark"
    assert told(3, spoken) == told(3, tip) == "nothing open, 1 waived"
    assert told(1, spoken) == told(1, tip) == "no findings"


@pytest.mark.usefixtures("notes_in_own_folder")
def test_the_table_follows_what_is_waived_and_taken_back(session: Session, qtbot: QtBot) -> None:
    table = IslandTable(session)
    qtbot.addWidget(table)
    show(session, sheet_review(12))
    assert session.shown is not None
    notebook = session.notebook
    qtbot.waitUntil(lambda: notebook.is_ready and notebook.waiving is not None)

    def found() -> tuple[list[int], list[int]]:
        rows = table.model.rows
        assert rows is not None
        return rows.findings.tolist(), rows.waived.tolist()

    before = found()
    stretch = next(w for w in session.shown.findings if w.check == "stretch")
    session.select([6])
    notebook.waive(stretch, "meant")
    qtbot.waitUntil(lambda: sum(found()[1]) == len(stretch.islands))
    assert sum(found()[0]) == sum(before[0]) - len(stretch.islands)
    assert session.selection == (6,)
    standing = notebook.standing(stretch)
    assert standing is not None
    notebook.unwaive(standing.waivers)
    qtbot.waitUntil(lambda: found() == before)


def test_surface_shares_add_up_to_one(rows: IslandRows) -> None:
    assert rows.surface.sum() == pytest.approx(1)


def test_sorting_by_warnings_puts_faults_before_many_warnings(rows: IslandRows) -> None:
    assert rows.order(FOUND_COLUMN, descending=True)[:2].tolist() == [11, 0]


def test_sorting_by_density_goes_by_the_distance_from_the_target(rows: IslandRows) -> None:
    worst_first = np.abs(rows.octaves[rows.order(DENSITY, descending=True)])
    assert (np.diff(worst_first) <= 0).all()


def test_unknown_values_come_last_both_ways() -> None:
    one = layout_review("brass", 3)
    rows = island_rows(one)
    object.__setattr__(rows, "stretch", np.array([2.0, np.nan, 1.0]))
    assert rows.order(STRETCH, descending=True).tolist() == [0, 2, 1]
    assert rows.order(STRETCH, descending=False).tolist() == [2, 0, 1]


def test_names_sort_by_the_numbers_in_them(rows: IslandRows) -> None:
    names = [rows.name[k] for k in rows.order(NAME, descending=False)]
    assert names[:3] == ["piece 0", "piece 1", "piece 2"]
    assert names[-1] == "piece 11"
    assert sorted(["b", "a10", "a9", "a"], key=natural) == ["a", "a9", "a10", "b"]


def test_filters_by_text_and_severity_together(rows: IslandRows) -> None:
    assert rows.order(NAME, descending=False, text="PIECE 1").tolist() == [1, 10, 11]
    both = rows.order(NAME, descending=False, text="piece 1", at_least=Severity.WARNING)
    assert both.tolist() == [11]


def test_the_model_knows_the_row_of_every_island(qtbot: QtBot) -> None:
    model = IslandModel()
    model.show_rows(island_rows(layout_review("brass", 30)))
    model.sort(STRETCH, Qt.SortOrder.DescendingOrder)
    assert [model.island(model.row(k)) for k in range(30)] == list(range(30))
    model.filter("piece 2", 0)
    assert model.row(3) == -1
    assert model.rowCount() == 11


def test_a_selection_takes_few_ranges_and_skips_hidden_islands(qtbot: QtBot) -> None:
    model = IslandModel()
    model.show_rows(island_rows(layout_review("brass", 30)))
    model.sort(NAME, Qt.SortOrder.AscendingOrder)
    model.filter("piece 2", 0)
    selection = model.selection_of([1, 2, 20, 21, 29])
    spans = [(selection.at(k).top(), selection.at(k).bottom()) for k in range(selection.count())]
    assert spans == [(0, 2), (10, 10)]


def test_bars_show_where_values_stand_against_limits() -> None:
    limits = Limits(stretch_p95=1.5, density_octaves=0.25)
    assert stretch_bar(1.0, limits).end == 0.0
    at_limit = stretch_bar(1.5, limits)
    assert at_limit.end == pytest.approx(at_limit.ticks[0])
    assert not at_limit.is_beyond
    assert stretch_bar(1e9, limits).end == 1.0
    coarse, fine = density_bar(-0.5, limits), density_bar(0.5, limits)
    assert (coarse.start, coarse.end) == (0.25, 0.5)
    assert (fine.start, fine.end) == (0.5, 0.75)
    assert fine.is_beyond
    assert not density_bar(0.25, limits).is_beyond
    assert density_bar(-7.0, limits).start == 0.0


def test_choosing_a_row_selects_its_island_and_explains_its_gravest_warning(
    session: Session, qtbot: QtBot
) -> None:
    table = IslandTable(session)
    qtbot.addWidget(table)
    show(session, sheet_review(12))
    table.view.selectRow(table.model.row(11))
    assert session.selection == (11,)
    assert session.finding is not None
    assert session.finding.check == "overlap"


def test_a_selection_made_elsewhere_appears_in_the_table_and_survives_sorting(
    session: Session, qtbot: QtBot
) -> None:
    table = IslandTable(session)
    qtbot.addWidget(table)
    show(session, sheet_review(12))
    session.select([3, 7])
    for column in (NAME, STRETCH, DENSITY):
        table.view.sortByColumn(column, Qt.SortOrder.DescendingOrder)
        chosen = table.view.selectionModel().selectedRows()
        assert sorted(table.model.island(index.row()) for index in chosen) == [3, 7]
        assert session.selection == (3, 7)


def test_the_tally_tells_how_many_islands_the_filter_leaves(session: Session, qtbot: QtBot) -> None:
    table = IslandTable(session)
    qtbot.addWidget(table)
    show(session, sheet_review(12))
    assert table.tally.text() == "12 islands"
    qtbot.keyClicks(table.text_filter, "piece 1")
    assert table.tally.text() == "3 of 12 islands"
    table.severity_filter.setCurrentIndex(3)
    assert table.tally.text() == "1 of 12 islands"
    assert table.model.island(0) == 11


def test_pointing_at_a_row_points_at_its_island(session: Session, qtbot: QtBot) -> None:
    table = IslandTable(session)
    qtbot.addWidget(table)
    table.resize(500, 400)
    table.show()
    show(session, sheet_review(12))
    spot = table.view.visualRect(table.model.index(2, NAME)).center()
    qtbot.mouseMove(table.view.viewport(), spot)
    qtbot.waitUntil(lambda: session.hover == table.model.island(2))
