"""Proposals that are looked for when they are asked for: a list above, a page below."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QProgressBar,
    QPushButton,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from evenweave.check.texts import Explanation
from evenweave.pipeline import LayoutReview
from evenweave.progress import Progress
from evenweave.trial.jobs import Job
from evenweave.window.advice.advice_page import AdvicePage
from evenweave.window.parts.palette import GRID
from evenweave.window.parts.prose import scrolled
from evenweave.window.parts.row_list import Row, RowList
from evenweave.window.services.session import Session
from evenweave.window.state.ghosts import Ghost
from evenweave.window.state.lane import Lane

_SIZES = (24 * GRID, 32 * GRID)


def advice_splitter(upper: QWidget, lower: QWidget, parent: QWidget) -> QSplitter:
    """Return a list over its page."""
    splitter = QSplitter(Qt.Orientation.Vertical, parent)
    splitter.addWidget(upper)
    splitter.addWidget(lower)
    splitter.setChildrenCollapsible(False)
    splitter.setStretchFactor(1, 1)
    splitter.setSizes(list(_SIZES))
    return splitter


@dataclass(frozen=True)
class Words:
    """name : of the list; idle : on the button; nothing : if none was found; hint : else."""

    name: str
    idle: str
    nothing: str
    hint: str


class Proposals(QWidget):
    """One kind of proposal. How it is found, shown and tried, subclasses say."""

    def __init__(
        self, session: Session, lane: Lane, words: Words, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._session, self.lane, self._words = session, lane, words
        self.found: tuple[Any, ...] | None = None
        self._judged: LayoutReview | None = None
        self.list = RowList(words.name, is_single=True, parent=self)
        self.page = AdvicePage(self)
        self.bar = QProgressBar(self)
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.bar.setFixedHeight(GRID)
        self.bar.setAccessibleName(self.tr("Progress"))
        self.look = QPushButton(self)
        self.try_it = QPushButton(self.tr("Try &it"), self)
        self.try_all = QPushButton(self.tr("T&ry on all"), self)
        self.foot = QVBoxLayout()
        self._arrange()
        self._connect()
        self._on_session_layout_chosen()

    def _arrange(self) -> None:
        upper, lower = QWidget(self), QWidget(self)
        head = QHBoxLayout()
        head.setContentsMargins(GRID, GRID // 2, GRID, GRID // 2)
        head.addWidget(self.look)
        head.addWidget(self.bar, 1, Qt.AlignmentFlag.AlignVCenter)
        head.addStretch(1)
        column = QVBoxLayout(upper)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(head)
        column.addWidget(self.list, 1)
        buttons = QHBoxLayout()
        buttons.setSpacing(GRID)
        buttons.addWidget(self.try_it, 1)
        buttons.addWidget(self.try_all, 1)
        self.foot.setContentsMargins(GRID, GRID // 2, GRID, GRID // 2)
        self.foot.addLayout(buttons)
        column = QVBoxLayout(lower)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(scrolled(self.page, self), 1)
        column.addLayout(self.foot)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(advice_splitter(upper, lower, self))

    def _connect(self) -> None:
        session = self._session
        self.list.chosen.connect(self._on_list_chosen)
        self.look.clicked.connect(self._on_look_clicked)
        self.try_it.clicked.connect(self._on_try_it_clicked)
        self.try_all.clicked.connect(self._on_try_all_clicked)
        self.lane.started.connect(self._enable)
        self.lane.ended.connect(self._enable)
        self.lane.progressed.connect(lambda share, _: self.bar.setValue(round(1000 * share)))
        self.lane.failed.connect(session.problem_met)
        session.layout_chosen.connect(self._on_session_layout_chosen)
        session.trials.turned.connect(self._enable)
        session.trials.changed.connect(self._enable)

    # What subclasses say.

    def _find(self, judged: LayoutReview, progress: Progress) -> tuple[Any, ...]:
        raise NotImplementedError

    def _row(self, key: int, proposal: Any) -> Row:
        raise NotImplementedError

    def _explained(self, proposal: Any) -> Explanation:
        raise NotImplementedError

    def _ghost_of(self, proposal: Any) -> Ghost | None:
        raise NotImplementedError

    def _islands_of(self, proposal: Any) -> tuple[int, ...]:
        raise NotImplementedError

    def _job(self, some: tuple[Any, ...]) -> Job:
        raise NotImplementedError

    def _worth_all(self) -> tuple[Any, ...]:
        raise NotImplementedError

    # The same for all kinds.

    @property
    def chosen(self) -> Any:
        """The proposal chosen, or None."""
        keys = self.list.keys
        return self.found[keys[0]] if self.found and keys else None

    def begin(self) -> None:
        """Look for proposals on the layout shown, unless they are known."""
        judged = self._judged
        if judged is None or self.found is not None or self.lane.is_busy:
            return
        self.bar.setValue(0)
        self.lane.submit(lambda progress: self._find(judged, progress), self._take)

    def stop(self) -> None:
        """Look no further."""
        self.lane.cancel()

    def _take(self, anys: tuple[Any, ...]) -> None:
        self.found = anys
        self.list.show_rows(self._row(key, one) for key, one in enumerate(anys))
        if anys:
            self.list.select((0,))
        self._show()
        self._show_ghost()

    def _show(self) -> None:
        one = self.chosen
        if one is not None:
            self.page.show_advice((self._explained(one),))
        elif self.found is None:
            self.page.show_text(self._words.name, self._words.hint)
        else:
            self.page.show_text(
                self._words.name, self._words.nothing if not self.found else self._words.hint
            )
        self._enable()

    def _enable(self) -> None:
        is_busy, can_try = self.lane.is_busy, self._session.trials.can_try
        self.look.setText(self.tr("Stop") if is_busy else self._words.idle)
        self.look.setVisible(is_busy or self.found is None)
        self.look.setEnabled(self._judged is not None)
        self.bar.setVisible(is_busy)
        self.try_it.setEnabled(can_try and self.chosen is not None)
        self.try_all.setEnabled(can_try and len(self._worth_all()) > 0)

    def _show_ghost(self) -> None:
        if self.isVisible():
            one = self.chosen
            self._session.advising.show_ghost(self._ghost_of(one) if one is not None else None)

    def _on_list_chosen(self, _: object = None) -> None:
        one = self.chosen
        if one is not None and self.isVisible():
            self._session.select(self._islands_of(one))
        self._show()
        self._show_ghost()

    def _on_look_clicked(self) -> None:
        if self.lane.is_busy:
            self.stop()
        else:
            self.begin()

    def _on_try_it_clicked(self) -> None:
        if self.chosen is not None:
            self._session.trials.try_out(self._job((self.chosen,)))

    def _on_try_all_clicked(self) -> None:
        self._session.trials.try_out(self._job(self._worth_all()))

    def _on_session_layout_chosen(self) -> None:
        shown, before = self._session.shown, self._judged
        self._judged = shown
        if shown is not None and before is not None and shown.layout is before.layout:
            return
        self.lane.cancel()
        self.found = None
        self.list.show_rows(())
        self._show()
        if self.isVisible():
            self.begin()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.begin()
        self._show_ghost()

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        self._session.advising.show_ghost(None)
