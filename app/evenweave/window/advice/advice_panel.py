"""The advice panel: islands, seams to sew, strips, the tile; and what fixes all that is safe."""

from __future__ import annotations

from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QStackedWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from evenweave.trial import jobs
from evenweave.trial.save.save import suffixes
from evenweave.window.advice.islands_advice import IslandsAdvice
from evenweave.window.advice.sew_advice import SewAdvice
from evenweave.window.advice.strip_advice import StripAdvice
from evenweave.window.advice.tile_advice import TileAdvice
from evenweave.window.parts import figures
from evenweave.window.parts.palette import GRID
from evenweave.window.services.session import Session


class AdvicePanel(QWidget):
    """Four kinds of advice, one at a time. Work on islands begins when the panel is first seen."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.islands = IslandsAdvice(session, self)
        self.sews = SewAdvice(session, self)
        self.strips = StripAdvice(session, self)
        self.tile = TileAdvice(session, self)
        self.doing = QLabel(self)
        self.turn = QPushButton(self)
        self.fix = QPushButton(self.tr("Fi&x what is safe"), self)
        self.fix.setToolTip(
            self.tr(
                "On a copy: unwraps again with the same seams, straightens, levels and packs "
                "where the findings ask for it and nothing becomes worse"
            )
        )
        self.switch = self._faint(
            self.tr("The file as it is is shown. Switch to After to try more.")
        )
        self.no_copy = self._faint(
            self.tr(
                "No copy can be saved in this file's format, so trials are for looking only. "
                "OBJ, glTF, GLB and USD can be saved."
            )
        )
        self._stack = QStackedWidget(self)
        self.kinds = QButtonGroup(self)
        self._arrange()
        self.kinds.idClicked.connect(self.show_kind)
        self.turn.clicked.connect(self._on_turn_clicked)
        self.fix.clicked.connect(lambda: session.trials.try_out(jobs.fixing))
        session.advising.turned.connect(self._tell)
        session.advising.changed.connect(self._tell)
        session.trials.turned.connect(self._tell)
        session.trials.changed.connect(self._tell)
        self._tell()

    def _arrange(self) -> None:
        row = QHBoxLayout()
        row.setContentsMargins(GRID, GRID // 2, GRID, GRID // 2)
        row.setSpacing(GRID // 2)
        for number, (text, page) in enumerate(
            (
                (self.tr("Islands"), self.islands),
                (self.tr("Sew"), self.sews),
                (self.tr("Strips"), self.strips),
                (self.tr("Tile"), self.tile),
            )
        ):
            button = QToolButton(self)
            button.setText(text)
            button.setCheckable(True)
            button.setChecked(number == 0)
            button.setProperty("role", "toggle")
            self.kinds.addButton(button, number)
            row.addWidget(button)
            self._stack.addWidget(page)
        row.addStretch(1)
        self._progress = QWidget(self)
        line = QHBoxLayout(self._progress)
        line.setContentsMargins(GRID, 0, GRID, GRID // 2)
        line.addWidget(self.doing, 1)
        line.addWidget(self.turn)
        foot = QVBoxLayout()
        foot.setContentsMargins(GRID, 0, GRID, GRID)
        foot.addWidget(self.switch)
        foot.addWidget(self.no_copy)
        foot.addWidget(self.fix)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(row)
        column.addWidget(self._progress)
        column.addWidget(self._stack, 1)
        column.addLayout(foot)

    def _faint(self, text: str) -> QLabel:
        label = QLabel(text, self)
        label.setWordWrap(True)
        label.setProperty("role", "faint")
        label.hide()
        return label

    def show_kind(self, number: int) -> None:
        """Show one kind of advice."""
        self.kinds.button(number).setChecked(True)
        self._stack.setCurrentIndex(number)
        self._progress.setVisible(number == 0)

    def _tell(self) -> None:
        advising = self._session.advising
        judged, count = advising.judged, len(advising.found)
        total = judged.layout.island_count if judged is not None else 0
        self.doing.setText(
            self.tr("{count} of {total} islands looked at").format(
                count=figures.count(count), total=figures.count(total)
            )
        )
        self.turn.setText(self.tr("Stop") if advising.is_busy else self.tr("Look at islands"))
        self.turn.setVisible(advising.is_busy or count < total)
        trials = self._session.trials
        self.fix.setEnabled(trials.can_try)
        self.switch.setVisible(trials.trial is not None and not trials.is_after)
        review = self._session.review
        self.no_copy.setVisible(review is not None and not suffixes(review.asset))

    def _on_turn_clicked(self) -> None:
        if self._session.advising.is_busy:
            self._session.advising.stop()
        else:
            self._session.advising.begin()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._session.advising.begin()
