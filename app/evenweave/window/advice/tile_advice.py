"""Advice on the tile as a whole: level densities, pack."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QLabel, QPushButton, QVBoxLayout, QWidget

from evenweave.check.numbers import number, percent
from evenweave.trial import jobs
from evenweave.trial.document.change import layout_changes
from evenweave.window.parts.palette import GRID, title_font
from evenweave.window.parts.prose import paragraph, scrolled
from evenweave.window.services.session import Session


class TileAdvice(QWidget):
    """Buttons that try to level, and the way to the packing. pack_asked() : open the what-if."""

    pack_asked = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        page = QWidget(self)
        self._column = QVBoxLayout(page)
        self._column.setContentsMargins(2 * GRID, GRID, 2 * GRID, GRID)
        self._column.setSpacing(GRID)
        self.level_text = self._headed(self.tr("Level densities"))
        self.level_area = self._button(self.tr("Try, &keeping the area"))
        self.level_target = self._button(self.tr("Try, to the tar&get"))
        self.level_selection = self._button(self.tr("Try on the select&ion"))
        rule = QFrame(page)
        rule.setProperty("role", "rule")
        rule.setFixedHeight(1)
        self._column.addWidget(rule)
        self.pack_text = self._headed(self.tr("Pack"))
        self.pack = self._button(self.tr("Pa&cking what-if…"))
        self._column.addStretch(1)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(scrolled(page, self))
        self.level_area.clicked.connect(lambda: self._level(is_all=True, to_target=False))
        self.level_target.clicked.connect(lambda: self._level(is_all=True, to_target=True))
        self.level_selection.clicked.connect(lambda: self._level(is_all=False, to_target=True))
        self.pack.clicked.connect(self.pack_asked)
        session.layout_chosen.connect(self.refresh)
        session.selection_changed.connect(self.refresh)
        session.trials.turned.connect(self.refresh)
        session.trials.changed.connect(self.refresh)
        self.refresh()

    def _headed(self, title: str) -> QLabel:
        heading = QLabel(title, self)
        heading.setFont(title_font(self.font()))
        text = paragraph(self)
        self._column.addWidget(heading)
        self._column.addWidget(text)
        return text

    def _button(self, text: str) -> QPushButton:
        button = QPushButton(text, self)
        self._column.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
        return button

    def refresh(self) -> None:
        """Say how even and how full the layout is now."""
        shown, trials = self._session.shown, self._session.trials
        buttons = (self.level_area, self.level_target, self.level_selection, self.pack)
        for button in buttons:
            button.setEnabled(
                trials.can_try and shown is not None and shown.layout.island_count > 0
            )
        if shown is None:
            return
        spread = next(
            one.words()[0] for one in layout_changes(shown, shown) if one.unit == "octaves"
        )
        self.level_text.setText(
            self.tr(
                "90 % of the surface spreads over {spread}. Levelling scales every island about "
                "its middle to the density its importance deserves; stacks count once. Pack "
                "afterwards: scaled islands overlap or leave gaps."
            ).format(spread=spread)
        )
        self.level_target.setText(
            self.tr("Try, to the tar&get of {density} px/m").format(
                density=number(shown.target_density)
            )
        )
        count = len(self._session.selection)
        self.level_selection.setEnabled(self.level_selection.isEnabled() and count > 0)
        self.pack_text.setText(
            self.tr(
                "The islands cover {now} of the tile. A what-if shows how full it could be with "
                "the wished padding and margin: a bound, a packing at once, and a longer search."
            ).format(now=percent(shown.measures.coverage.total))
        )

    def _level(self, *, is_all: bool, to_target: bool) -> None:
        islands = () if is_all else self._session.selection
        job = jobs.levelling(self._session.layout_index, islands, to_target=to_target)
        self._session.trials.try_out(job)
