"""The bar above the views: what the colours show and what is drawn on them."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QComboBox, QDoubleSpinBox, QToolButton, QWidget

from evenweave.raster.look import COLOURS
from evenweave.window.bars.layout_bar import labelled
from evenweave.window.parts.flow import FlowLayout
from evenweave.window.parts.words import colours_word
from evenweave.window.services.session import Session

MOST_SQUARES = 4096.0


class LookBar(QWidget):
    """Colours, checker and its squares, and a button for each toggle."""

    def __init__(
        self,
        session: Session,
        checker: QAction,
        toggles: tuple[QAction, ...],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._session = session
        self.colours = QComboBox(self)
        self.colours.setAccessibleName(self.tr("What the colours show"))
        for number, colours in enumerate(COLOURS, start=1):
            self.colours.addItem(colours_word(colours), colours)
            tip = self.tr("Key {number}").format(number=number)
            self.colours.setItemData(number - 1, tip, Qt.ItemDataRole.ToolTipRole)
        self.squares = QDoubleSpinBox(self)
        self.squares.setAccessibleName(self.tr("Checker squares"))
        self.squares.setRange(1, MOST_SQUARES)
        self.squares.setDecimals(0)
        self.squares.setStepType(QDoubleSpinBox.StepType.AdaptiveDecimalStepType)
        self.squares.setKeyboardTracking(False)
        self.per = QComboBox(self)
        self.per.setAccessibleName(self.tr("Checker squares are counted"))
        self.per.addItem(self.tr("per tile"), "tile")
        self.per.addItem(self.tr("per metre"), "metre")
        row = FlowLayout(self)
        row.addWidget(labelled(self.tr("Col&ours"), self.colours, self))
        row.addWidget(_toggle(checker, self))
        row.addWidget(self.squares)
        row.addWidget(self.per)
        for action in toggles:
            row.addWidget(_toggle(action, self))
        self.colours.activated.connect(self._on_colours_activated)
        self.squares.valueChanged.connect(self._on_squares_value_changed)
        self.per.activated.connect(self._on_per_activated)
        session.look_changed.connect(self._on_session_look_changed)
        self._on_session_look_changed()

    def _on_session_look_changed(self) -> None:
        look = self._session.look
        self.colours.setCurrentIndex(self.colours.findData(look.colours))
        self.squares.blockSignals(True)
        self.squares.setValue(look.checker_squares)
        self.squares.blockSignals(False)
        self.per.setCurrentIndex(self.per.findData(look.checker_per))

    def _on_colours_activated(self, index: int) -> None:
        self._session.change_look(colours=COLOURS[index], brush=None)

    def _on_squares_value_changed(self, value: float) -> None:
        self._session.change_look(checker_squares=value, checker=True)

    def _on_per_activated(self, index: int) -> None:
        self._session.change_look(checker_per=self.per.itemData(index), checker=True)


def _toggle(action: QAction, parent: QWidget) -> QToolButton:
    button = QToolButton(parent)
    button.setDefaultAction(action)
    button.setProperty("role", "toggle")
    button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
    return button
