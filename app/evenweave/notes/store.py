"""`NoteStore`: all notes and waivers of one mesh, and the edits that make a new store of an old.

Stores never change, so undoing an edit is going back to the store before it.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any, Literal, TypeVar, get_args

from evenweave.notes.fingerprint import Fingerprint
from evenweave.notes.place import Place

NoteKind = Literal["island", "face", "point"]
NoteState = Literal["to do", "done", "deliberate"]
KINDS: tuple[NoteKind, ...] = get_args(NoteKind)
STATES: tuple[NoteState, ...] = get_args(NoteState)

TOLERANCE = 0.05
"""Share of the value at the time by which it may get worse before a waiver lapses."""


@dataclass(frozen=True)
class Note:
    """Something to look at or to change.

    kind : what of the place is meant; created, changed : UTC, ISO 8601
    extra : fields of the file that this version does not know
    """

    id: str
    kind: NoteKind
    text: str
    state: NoteState
    place: Place
    created: str
    changed: str
    extra: Mapping[str, Any] = field(default_factory=dict, hash=False)


@dataclass(frozen=True)
class Waiver:
    """Somebody decided that what a check finds is meant.

    check, variant : which finding; layout : where
    islands : those waived, empty where the layout as a whole is; values : one for each island,
    or one for the layout: the number judged when it was waived, None where there was none
    limit : what was accepted then; tolerance : share of a value by which it may get worse
    who, when : by whom ("" if not said), and UTC, ISO 8601
    """

    id: str
    check: str
    variant: str
    layout: str
    islands: tuple[Fingerprint, ...]
    values: tuple[float | None, ...]
    limit: float | None
    reason: str
    who: str
    when: str
    tolerance: float = TOLERANCE
    extra: Mapping[str, Any] = field(default_factory=dict, hash=False)


_Kept = TypeVar("_Kept", Note, Waiver)


@dataclass(frozen=True)
class NoteStore:
    """Notes and waivers, each in the order in which they were made."""

    notes: tuple[Note, ...] = ()
    waivers: tuple[Waiver, ...] = ()
    extra: Mapping[str, Any] = field(default_factory=dict, hash=False)

    def note(self, id: str) -> Note:
        """Return a note by its id. Raises KeyError."""
        return _by_id(self.notes, id)

    def waiver(self, id: str) -> Waiver:
        """Return a waiver by its id. Raises KeyError."""
        return _by_id(self.waivers, id)


EMPTY = NoteStore()


def now() -> str:
    """Return the time as it is kept: UTC, ISO 8601, whole seconds."""
    return datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def new_id() -> str:
    """Return an id that no other note or waiver has."""
    return secrets.token_hex(6)


def new_note(kind: NoteKind, place: Place, text: str = "", *, state: NoteState = "to do") -> Note:
    """Return a note made now."""
    time = now()
    return Note(new_id(), kind, text, state, place, created=time, changed=time)


def with_note(store: NoteStore, note: Note) -> NoteStore:
    """Return the store with one more note."""
    return replace(store, notes=(*store.notes, note))


def with_text(store: NoteStore, id: str, text: str) -> NoteStore:
    """Return the store with another text of a note. Raises KeyError."""
    return _changed(store, id, text=text)


def with_state(store: NoteStore, id: str, state: NoteState) -> NoteStore:
    """Return the store with another state of a note. Raises KeyError."""
    return _changed(store, id, state=state)


def with_place(store: NoteStore, id: str, place: Place) -> NoteStore:
    """Return the store with a note pinned to another place. Raises KeyError."""
    return _changed(store, id, place=place)


def without_note(store: NoteStore, id: str) -> NoteStore:
    """Return the store without a note. Raises KeyError."""
    gone = store.note(id)
    return replace(store, notes=tuple(one for one in store.notes if one is not gone))


def with_waiver(store: NoteStore, waiver: Waiver) -> NoteStore:
    """Return the store with one more waiver."""
    return replace(store, waivers=(*store.waivers, waiver))


def without_waiver(store: NoteStore, id: str) -> NoteStore:
    """Return the store without a waiver. Raises KeyError."""
    gone = store.waiver(id)
    return replace(store, waivers=tuple(one for one in store.waivers if one is not gone))


def _changed(store: NoteStore, id: str, **changes: Any) -> NoteStore:
    old = store.note(id)
    new = replace(old, changed=now(), **changes)
    return replace(store, notes=tuple(new if one is old else one for one in store.notes))


def _by_id(kept: tuple[_Kept, ...], id: str) -> _Kept:
    for one in kept:
        if one.id == id:
            return one
    raise KeyError(id)
