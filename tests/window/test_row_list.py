"""Lists of one-line rows, by which all advice is shown."""

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from evenweave.check.finding import Severity
from evenweave.window.parts.row_list import Row, RowList


@pytest.fixture
def rows(qtbot: QtBot) -> RowList:
    one = RowList("Advice", is_single=False)
    qtbot.addWidget(one)
    one.resize(240, 200)
    one.show_rows([Row(7, "rib_3", "cut", Severity.WARNING), Row(2, "door"), Row(5, "roof")])
    one.show()
    return one


def test_a_click_chooses_a_row_by_its_key(rows: RowList, qtbot: QtBot) -> None:
    spot = rows.visualRect(rows.model().index(1, 0)).center()
    with qtbot.waitSignal(rows.chosen) as told:
        qtbot.mouseClick(rows.viewport(), Qt.MouseButton.LeftButton, pos=spot)
    assert told.args == [(2,)]


def test_long_names_keep_the_numbers_at_their_end(rows: RowList) -> None:
    long = "a part with a name longer than the list is wide"
    pictures = []
    for number in (1262, 1263):
        rows.show_rows([Row(1, f"{long} {number}", "0.149 m")])
        pictures.append(rows.grab().toImage())
    assert pictures[0] != pictures[1]


def test_what_is_selected_from_elsewhere_is_not_told(rows: RowList, qtbot: QtBot) -> None:
    with qtbot.assertNotEmitted(rows.chosen):
        rows.select([5, 7, 99])
    assert rows.keys == (5, 7)


def test_focus_alone_chooses_nothing(rows: RowList, qtbot: QtBot) -> None:
    with qtbot.assertNotEmitted(rows.chosen):
        rows.setFocus(Qt.FocusReason.TabFocusReason)
    assert rows.keys == ()


def test_a_selection_stays_with_its_keys_when_rows_are_renewed(rows: RowList, qtbot: QtBot) -> None:
    rows.select([5])
    with qtbot.assertNotEmitted(rows.chosen):
        rows.show_rows([Row(5, "roof"), Row(3, "sill"), Row(2, "door")])
    assert rows.keys == (5,)
    assert rows.currentIndex().row() == 0
    rows.show_rows([Row(3, "sill")])
    assert rows.keys == ()


def test_text_and_what_is_aside_are_read_out_together(rows: RowList) -> None:
    first = rows.model().index(0, 0)
    assert first.data(Qt.ItemDataRole.AccessibleTextRole) == "rib_3, cut"
    assert rows.model().index(1, 0).data(Qt.ItemDataRole.AccessibleTextRole) == "door"
