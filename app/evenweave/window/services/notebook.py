"""`Notebook`: notes and waivers of the open mesh, read, written and accepted."""

from __future__ import annotations

import getpass

from evenweave.check.finding import Finding
from evenweave.notes import store as stores
from evenweave.notes.locating import Spot
from evenweave.notes.place import Place
from evenweave.notes.store import Note, NoteKind, NoteState, Waiver, new_note
from evenweave.notes.waiving import new_waiver
from evenweave.picture.lettering.pins import letters
from evenweave.window.services.notes_held import NotesHeld


class Notebook(NotesHeld):
    """What a hand does to notes; each edit is a step of the history. Signals as in `NotesHeld`."""

    # Looking.

    def choose(self, id: str) -> None:
        """Read a note; "" reads none."""
        self.end_typing()
        if id != self._chosen:
            self._chosen = id
            self.note_chosen.emit()

    def ask_place(self) -> None:
        """Ask the views to show where the chosen note is."""
        note = self.chosen
        spot = self.spot(note) if note else None
        if spot is not None:
            self.place_asked.emit(spot)

    # Edits.

    def add(self, kind: NoteKind, place: Place, spot: Spot) -> Note:
        """Put an empty note on a place and choose it."""
        note = new_note(kind, place)
        self._spots[place] = spot
        after = stores.with_note(self.store, note)
        mark = letters(len(after.notes) - 1)
        self._edit(after, self.tr("new note {mark}").format(mark=mark))
        self.choose(note.id)
        return note

    def write(self, id: str, text: str) -> None:
        """Give a note another text. What is typed in one go is undone in one go."""
        if self.store.note(id).text != text:
            self._typing += not self._is_typing
            self._is_typing = True
            after = stores.with_text(self.store, id, text)
            self._edit(after, self.tr("text of note {mark}"), of=id, typed=self._typing)

    def end_typing(self) -> None:
        """What is typed from now on is undone apart from what was."""
        self._is_typing = False

    def set_state(self, id: str, state: NoteState) -> None:
        """Give a note another state."""
        if self.store.note(id).state != state:
            after = stores.with_state(self.store, id, state)
            self._edit(after, self.tr("state of note {mark}"), of=id)

    def move(self, id: str, place: Place, spot: Spot) -> None:
        """Pin a note to another place."""
        self._spots[place] = spot
        after = stores.with_place(self.store, id, place)
        self._edit(after, self.tr("place of note {mark}"), of=id)

    def remove(self, id: str) -> None:
        """Take a note away."""
        after = stores.without_note(self.store, id)
        self._edit(after, self.tr("removal of note {mark}"), of=id)

    def waive(self, finding: Finding, reason: str) -> None:
        """Say that what a finding of the shown layout finds is meant."""
        shown, standing = self._open.now.shown, self.standing(finding)
        if shown is None:
            return
        islands = standing.open if standing and standing.waived else None
        waiver = new_waiver(shown, finding, reason, who=_user(), islands=islands)
        after = self.store
        for old in standing.outgrown if standing else ():
            if set(old.islands) <= set(waiver.islands):
                after = stores.without_waiver(after, old.id)
        what = self.tr("waiver of {check}").format(check=finding.title)
        self._edit(stores.with_waiver(after, waiver), what)

    def unwaive(self, waivers: tuple[Waiver, ...]) -> None:
        """Take waivers back."""
        after = self.store
        for one in waivers:
            after = stores.without_waiver(after, one.id)
        if after != self.store:
            self._edit(after, self.tr("taking back a waiver"))


def _user() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return ""
