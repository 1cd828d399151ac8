"""Advice island by island: the list of verdicts, the page on one, and what can be tried."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable

from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QMenu, QPushButton, QVBoxLayout, QWidget

from evenweave.trial import jobs
from evenweave.trial.advice.advice import IslandAdvice
from evenweave.trial.advice.text import explain_island
from evenweave.trial.advice.verdict import Verdict
from evenweave.trial.cut.cut import CutProposal
from evenweave.trial.jobs import Job
from evenweave.window.advice.advice_page import AdvicePage
from evenweave.window.advice.advice_words import (
    NO_ADVICE,
    cut_row,
    energies,
    island_row,
    tr,
    verdict_word,
    verdicts_of,
)
from evenweave.window.advice.proposals import advice_splitter
from evenweave.window.parts import figures
from evenweave.window.parts.palette import GRID
from evenweave.window.parts.prose import scrolled
from evenweave.window.parts.row_list import Row, RowList
from evenweave.window.services.session import Session
from evenweave.window.state.ghosts import Ghost, attainable_ghost, cut_ghost

_SAME_SEAMS, _MIRROR, _FIRST_CUT = -2, -1, 0
_KINDS = (Verdict.SEAM, Verdict.UNWRAP, Verdict.MIRRORED, NO_ADVICE, Verdict.GOOD)
_WAY_ROWS = 4


class IslandsAdvice(QWidget):
    """All islands, worst first; of one the ways out, each with its ghost."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.kinds = QComboBox(self)
        self.kinds.setAccessibleName(self.tr("Islands listed"))
        self.list = RowList(self.tr("Advice on islands"), is_single=False, parent=self)
        self.page = AdvicePage(self)
        self.ways = RowList(self.tr("Ways to try"), is_single=True, parent=self)
        self.try_it = QPushButton(self.tr("Try &it"), self)
        self.try_all = QPushButton(self.tr("T&ry on all"), self)
        self.try_all.setMenu(QMenu(self.try_all))
        self._arrange()
        self.kinds.activated.connect(self._show_list)
        self.list.chosen.connect(session.select)
        self.list.doubleClicked.connect(session.ask_framing)
        self.ways.chosen.connect(self._on_ways_chosen)
        self.try_it.clicked.connect(self._on_try_it_clicked)
        self.try_all.menu().aboutToShow.connect(self._fill_menu)
        session.advising.changed.connect(self.refresh)
        session.selection_changed.connect(self._on_session_selection_changed)
        session.trials.turned.connect(self._enable)
        session.trials.changed.connect(self._enable)
        self.refresh()

    def _arrange(self) -> None:
        upper, lower = QWidget(self), QWidget(self)
        column = QVBoxLayout(upper)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        head = QHBoxLayout()
        head.setContentsMargins(GRID, 0, GRID, GRID // 2)
        head.addWidget(self.kinds, 1)
        column.addLayout(head)
        column.addWidget(self.list, 1)
        buttons = QHBoxLayout()
        buttons.setContentsMargins(GRID, GRID // 2, GRID, GRID // 2)
        buttons.setSpacing(GRID)
        buttons.addWidget(self.try_it, 1)
        buttons.addWidget(self.try_all, 1)
        column = QVBoxLayout(lower)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(scrolled(self.page, self), 1)
        column.addWidget(self.ways)
        column.addLayout(buttons)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        self.splitter = advice_splitter(upper, lower, self)
        whole.addWidget(self.splitter)

    # What is shown.

    def refresh(self) -> None:
        """Show what is known by now."""
        self._fill_kinds()
        self._show_list()
        self._show_page()

    def _fill_kinds(self) -> None:
        advising = self._session.advising
        counts = Counter(word for one in advising.found.values() for word in verdicts_of(one))
        chosen = self.kinds.currentData()
        self.kinds.clear()
        text = self.tr("All islands  {count}").format(count=figures.count(len(advising.order)))
        self.kinds.addItem(text, "")
        for kind in _KINDS:
            if counts[kind]:
                self.kinds.addItem(f"{verdict_word(kind)}  {figures.count(counts[kind])}", kind)
        self.kinds.setCurrentIndex(max(self.kinds.findData(chosen), 0))

    def _show_list(self) -> None:
        advising, kind = self._session.advising, self.kinds.currentData()
        judged = advising.judged
        names = judged.layout.island_name if judged is not None else ()
        known = [(island, advising.found.get(island)) for island in advising.order]
        self.list.show_rows(
            island_row(island, names[island], one)
            for island, one in known
            if not kind or (one is not None and kind in verdicts_of(one))
        )
        if self.list.keys != self._session.selection:
            self.list.select(self._session.selection)

    def _on_session_selection_changed(self) -> None:
        if self.list.keys != self._session.selection:
            self.list.select(self._session.selection)
        self._show_page()

    @property
    def _single(self) -> IslandAdvice | None:
        """Advice on the one island selected."""
        selection = self._session.selection
        return self._session.advising.found.get(selection[0]) if len(selection) == 1 else None

    def _show_page(self) -> None:
        advising, selection = self._session.advising, self._session.selection
        judged, advice = advising.judged, self._single
        if judged is not None and advice is not None:
            name = judged.layout.island_name[selection[0]]
            self.page.show_advice(explain_island(advice, name))
        elif len(selection) == 1:
            self.page.show_text(self.tr("Not looked at yet"), self._waiting_text())
        elif selection:
            self._show_several()
        else:
            self.page.show_text(
                self.tr("Choose an island"),
                self.tr(
                    "How far each is from the best its seams allow, worst first. "
                    "The dashed ghost is what could be; everything is tried on a copy."
                ),
            )
        self._show_ways(advice)
        self._enable()

    def _waiting_text(self) -> str:
        if self._session.advising.is_busy:
            return self.tr("Its turn comes next.")
        return self.tr("Press “Look at islands” above.")

    def _show_several(self) -> None:
        advising, selection = self._session.advising, self._session.selection
        known = [advising.found[one] for one in selection if one in advising.found]
        counts = Counter(word for one in known for word in verdicts_of(one))
        lines = [
            f"{verdict_word(kind)}: {figures.count(counts[kind])}"
            for kind in _KINDS
            if counts[kind]
        ]
        title = self.tr("{count} islands").format(count=figures.count(len(selection)))
        self.page.show_text(title, "\n".join(lines))

    def _show_ways(self, advice: IslandAdvice | None) -> None:
        before = self.ways.keys
        rows = [] if advice is None else list(_ways(advice))
        self.ways.show_rows(rows)
        self.ways.setVisible(bool(rows))
        height = self.ways.sizeHintForRow(0) * min(max(len(rows), 1), _WAY_ROWS)
        self.ways.setFixedHeight(height + 4)
        if rows and advice is not None and not self.ways.keys:
            known = {row.key for row in rows}
            key = before[0] if before and before[0] in known else _first_way(advice)
            self.ways.select((key if key in known else rows[0].key,))
        self._show_ghost()

    def _show_ghost(self) -> None:
        if self.isVisible():
            self._session.advising.show_ghost(self._ghost())

    def _ghost(self) -> Ghost | None:
        advice, keys = self._single, self.ways.keys
        if advice is None or not keys or keys[0] == _MIRROR:
            return None
        return (
            attainable_ghost(advice) if keys[0] == _SAME_SEAMS else cut_ghost(advice.cuts[keys[0]])
        )

    def _on_ways_chosen(self) -> None:
        self._show_ghost()
        self._enable()

    # What is tried.

    def _enable(self) -> None:
        session = self._session
        can_try, selection = session.trials.can_try, session.selection
        self.try_it.setText(
            self.tr("Try &it") if len(selection) < 2 else self.tr("Try on the select&ion")
        )
        has_way = bool(self.ways.keys) if len(selection) == 1 else bool(self._menu(selection))
        self.try_it.setEnabled(can_try and bool(selection) and has_way)
        self.try_it.setMenu(self._selection_menu() if len(selection) > 1 else None)  # type: ignore[arg-type]
        self.try_all.setEnabled(can_try and bool(self._menu(session.advising.order)))

    def _selection_menu(self) -> QMenu:
        menu = QMenu(self.try_it)
        self._fill(menu, self._session.selection)
        return menu

    def _fill_menu(self) -> None:
        self._fill(self.try_all.menu(), self._session.advising.order)

    def _fill(self, menu: QMenu, islands: Iterable[int]) -> None:
        menu.clear()
        for text, job in self._menu(islands):
            menu.addAction(text, _trying(self._session, job))

    def _menu(self, islands: Iterable[int]) -> list[tuple[str, Job]]:
        """Return what can be tried on some islands, by the verdicts on them."""
        found, index = self._session.advising.found, self._session.layout_index
        known = {one: found[one] for one in islands if one in found}
        unwrap = [k for k, one in known.items() if Verdict.UNWRAP in one.verdicts]
        mirrored = [k for k, one in known.items() if Verdict.MIRRORED in one.verdicts]
        cuts: dict[int, CutProposal] = {
            k: one.cuts[0] for k, one in known.items() if Verdict.SEAM in one.verdicts and one.cuts
        }
        offers = (
            (self.tr("Unwrap again  {count}"), unwrap, jobs.unwrapping(index, unwrap)),
            (self.tr("Cut open  {count}"), cuts, jobs.cutting(index, cuts)),
            (self.tr("Mirror  {count}"), mirrored, jobs.unmirroring(index, mirrored)),
        )
        return [
            (text.format(count=figures.count(len(which))), job)
            for text, which, job in offers
            if which
        ]

    def _on_try_it_clicked(self) -> None:
        advice, keys = self._single, self.ways.keys
        if advice is None or not keys:
            return
        index, island = self._session.layout_index, self._session.selection[0]
        if keys[0] == _SAME_SEAMS:
            job = jobs.unwrapping(index, (island,))
        elif keys[0] == _MIRROR:
            job = jobs.unmirroring(index, (island,))
        else:
            job = jobs.cutting(index, {island: advice.cuts[keys[0]]})
        self._session.trials.try_out(job)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._show_ghost()

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        self._session.advising.show_ghost(None)


def _ways(advice: IslandAdvice) -> Iterable[Row]:
    """Yield the ways out of an island's trouble."""
    found = advice.attainable
    if found is None:
        return
    if found.energy_best is not None:
        text = tr("Same seams again")
        yield Row(_SAME_SEAMS, text, energies(advice))
    if Verdict.MIRRORED in advice.verdicts:
        yield Row(_MIRROR, tr("Mirror it"))
    for number, cut in enumerate(advice.cuts):
        yield cut_row(_FIRST_CUT + number, cut)


def _first_way(advice: IslandAdvice) -> int:
    """Return the way that the verdict asks for."""
    if advice.verdicts[0] is Verdict.SEAM and advice.cuts:
        return _FIRST_CUT
    return _MIRROR if advice.verdicts[0] is Verdict.MIRRORED else _SAME_SEAMS


def _trying(session: Session, job: Job) -> Callable[[], None]:
    return lambda: session.trials.try_out(job)
