"""Painting in turns: every widget paints, in order, and never two in one turn."""

from PySide6.QtCore import QTimer
from PySide6.QtGui import QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from evenweave.window.parts.turns import Turns


class Sheet(QWidget):
    def __init__(self, name: str, told: list[str]) -> None:
        super().__init__()
        self._name, self._told = name, told

    def paintEvent(self, event: QPaintEvent) -> None:
        self._told.append(self._name)


def test_widgets_paint_one_after_the_other_with_a_turn_between(qtbot: QtBot) -> None:
    told: list[str] = []
    whole, sheets = QWidget(), [Sheet(name, told) for name in "abc"]
    row = QHBoxLayout(whole)
    for sheet in sheets:
        row.addWidget(sheet)
    qtbot.addWidget(whole)
    whole.resize(300, 100)
    whole.show()
    qtbot.waitUntil(lambda: {"a", "b", "c"} <= set(told))
    told.clear()
    turn = QTimer(interval=0)
    turn.timeout.connect(lambda: told.append("|"))
    turns = Turns()
    turns.hold(reversed(sheets))
    turns.hold(sheets)
    turn.start()
    whole.update()
    qtbot.waitUntil(lambda: {"a", "b", "c"} <= set(told))
    turn.stop()
    assert all(sheet.updatesEnabled() for sheet in sheets)
    painted = [name for name in told if name != "|"]
    assert painted == ["c", "b", "a"]
    between = "".join(told)
    assert between.index("c") < between.index("|", between.index("c")) < between.index("b")
    assert between.index("b") < between.index("|", between.index("b")) < between.index("a")


def test_what_is_hidden_is_not_held(qtbot: QtBot) -> None:
    sheet = QWidget()
    qtbot.addWidget(sheet)
    Turns().hold([sheet])
    assert sheet.updatesEnabled()
