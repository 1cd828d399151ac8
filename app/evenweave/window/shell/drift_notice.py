"""A strip that tells when a pass has set notes adrift, and leads to them."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject

from evenweave.check.finding import Severity
from evenweave.window.parts import figures
from evenweave.window.services.notebook import Notebook
from evenweave.window.shell.notices import Notices

_KEY = "adrift"


class DriftNotice(QObject):
    """Tells of notes that were in their place before, once for each pass that loses some."""

    def __init__(
        self, notebook: Notebook, notices: Notices, show_notes: Callable[[], None], parent: QObject
    ) -> None:
        super().__init__(parent)
        self._notebook, self._notices, self._show_notes = notebook, notices, show_notes
        self._known: frozenset[str] = frozenset()
        notebook.changed.connect(self._on_notebook_changed)

    def _on_notebook_changed(self) -> None:
        found = self._notebook.found
        if len(found) < len(self._notebook.store.notes):
            return  # they are still being looked for
        adrift = frozenset(one.note.id for one in found if one.is_adrift)
        is_new, self._known = bool(adrift - self._known), adrift
        if not adrift:
            self._notices.drop(_KEY)
        elif is_new or self._notices.text_of(_KEY):
            self._tell(len(adrift))

    def _tell(self, count: int) -> None:
        text = figures.counted(
            count,
            self.tr("1 note is adrift: its surface is not in the file any more. It is kept."),
            self.tr(
                "{count} notes are adrift: their surface is not in the file any more. "
                "They are kept."
            ),
        )
        if text != self._notices.text_of(_KEY):
            self._notices.tell(
                _KEY,
                Severity.NOTE,
                text,
                offer=self.tr("Show notes"),
                accept=self._show_notes,
            )
