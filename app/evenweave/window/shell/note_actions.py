"""Actions on notes and waivers, and their menu."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu, QMenuBar

from evenweave.notes.store import STATES
from evenweave.window.actions.actions import Actions
from evenweave.window.findings.waive_box import WaiveBox
from evenweave.window.notes.notes_list import state_word
from evenweave.window.notes.notes_panel import NotesPanel
from evenweave.window.notes.noting import Noting
from evenweave.window.shell.side_panel import FINDINGS, SidePanel


class NoteActions(QObject):
    """Everything that can be done with notes and waivers, each with a key."""

    def __init__(
        self,
        actions: Actions,
        noting: Noting,
        panel: NotesPanel,
        *,
        side: SidePanel,
        waive_box: WaiveBox,
    ) -> None:
        super().__init__(side)
        self._session, self._side, self._waive_box = actions.session, side, waive_box
        notebook, heading = actions.session.notebook, self.tr("Notes")
        add = partial(actions.add, heading)
        self.put = add(
            self.tr("&Put a note"), noting.put, key="N",
            tip=self.tr("Put a note at the pointer, or on the selected island"),
        )  # fmt: skip
        self.next = add(self.tr("&Next note"), partial(panel.list.step, 1), key="Ctrl+.")
        self.previous = add(self.tr("P&revious note"), partial(panel.list.step, -1), key="Ctrl+,")
        self.show_place = add(self.tr("&Show the note's place"), notebook.ask_place, key="Shift+P")
        self.states = tuple(
            add(
                f"&{number} {state_word(state)}",
                partial(panel.editor.set_state, number - 1), key=f"Alt+{number}",
            )
            for number, state in enumerate(STATES, start=1)
        )  # fmt: skip
        self.move = add(
            self.tr("P&in it to the selected island"), noting.move_to_selected, key="Ctrl+P"
        )
        self.remove = add(self.tr("R&emove the note"), panel.editor.remove_note, key="Ctrl+Del")
        self.waive = add(self.tr("&Waive the finding…"), self._on_waive_triggered, key="V")
        self.turn = add(self.tr("Findings, n&otes or advice"), side.turn, key="F3")
        panel.editor.move_asked.connect(noting.move_to_selected)
        notebook.changed.connect(self._enable)
        notebook.note_chosen.connect(self._enable)
        actions.session.finding_chosen.connect(self._enable)
        self._enable()

    def fill(self, bar: QMenuBar, before: QAction) -> None:
        """Make the menu of notes, before another."""
        menu = QMenu(self.tr("&Notes"), bar)
        menu.addActions([self.put, self.next, self.previous, self.show_place])
        menu.addSeparator()
        menu.addActions(list(self.states))
        menu.addSeparator()
        menu.addActions([self.move, self.remove])
        menu.addSeparator()
        menu.addActions([self.waive, self.turn])
        bar.insertMenu(before, menu)

    def _enable(self) -> None:
        notebook = self._session.notebook
        self.put.setEnabled(notebook.is_ready)
        for one in (self.next, self.previous):
            one.setEnabled(bool(notebook.store.notes))
        for one in (self.show_place, *self.states, self.move, self.remove):
            one.setEnabled(notebook.chosen is not None)
        self.waive.setEnabled(self._session.finding is not None)

    def _on_waive_triggered(self) -> None:
        self._side.show_page(FINDINGS)
        self._waive_box.begin_writing()
