"""The right panel's pages: findings, notes and advice."""

from __future__ import annotations

from PySide6.QtWidgets import QStackedWidget, QTabBar, QVBoxLayout, QWidget

from evenweave.window.advice.advice_panel import AdvicePanel
from evenweave.window.findings.explanation import Explanation
from evenweave.window.notes.notes_panel import NotesPanel
from evenweave.window.parts import figures
from evenweave.window.services.session import Session

FINDINGS, NOTES, ADVICE = range(3)


class SidePanel(QWidget):
    """Tabs with counts: open findings and those waived apart, notes to do."""

    def __init__(
        self,
        session: Session,
        explanation: Explanation,
        notes: NotesPanel,
        advice: AdvicePanel,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._session = session
        self._notes = notes
        self.tabs = QTabBar(self)
        self.tabs.setAccessibleName(self.tr("Findings, notes or advice"))
        self.tabs.setDrawBase(False)
        self.tabs.setExpanding(False)
        self.tabs.addTab("")
        self.tabs.addTab("")
        self.tabs.addTab(self.tr("Advice"))
        self._pages = QStackedWidget(self)
        self._pages.addWidget(explanation)
        self._pages.addWidget(notes)
        self._pages.addWidget(advice)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.tabs)
        column.addWidget(self._pages, 1)
        self.tabs.currentChanged.connect(self._pages.setCurrentIndex)
        session.layout_chosen.connect(self._tell_counts)
        session.place_asked.connect(lambda: self.show_page(FINDINGS))
        notebook = session.notebook
        notebook.changed.connect(self._tell_counts)
        notebook.waiving_changed.connect(self._tell_counts)
        notebook.note_chosen.connect(self._on_notebook_note_chosen)
        notebook.writing_asked.connect(self._on_notebook_writing_asked)
        self._tell_counts()

    def show_page(self, page: int) -> None:
        """Show findings, notes or advice."""
        self.tabs.setCurrentIndex(page)

    def turn(self) -> None:
        """Show the next page."""
        self.show_page((self.tabs.currentIndex() + 1) % self.tabs.count())

    def _tell_counts(self) -> None:
        session, notebook = self._session, self._session.notebook
        findings = session.shown.findings if session.shown else ()
        waived = sum(notebook.is_waived(one) for one in findings)
        text = self.tr("Findings  {count}").format(count=figures.count(len(findings) - waived))
        if waived:
            text += self.tr(", {count} waived").format(count=figures.count(waived))
        self.tabs.setTabText(FINDINGS, text)
        count = figures.count(len(notebook.store.notes))
        self.tabs.setTabText(NOTES, self.tr("Notes  {count}").format(count=count))

    def _on_notebook_note_chosen(self) -> None:
        if self._session.notebook.chosen is not None:
            self.show_page(NOTES)

    def _on_notebook_writing_asked(self) -> None:
        self.show_page(NOTES)
        self._notes.editor.begin_writing()
