"""Notes written by two hands at the same time, put together note by note."""

from __future__ import annotations

from dataclasses import replace
from typing import TypeVar

from evenweave.notes.store import Note, NoteStore, Waiver

_Kept = TypeVar("_Kept", Note, Waiver)


def is_same(store: NoteStore, other: NoteStore) -> bool:
    """Tell whether two stores hold the same notes and waivers."""
    return (store.notes, store.waivers) == (other.notes, other.waivers)


def merged(before: NoteStore, ours: NoteStore, theirs: NoteStore) -> NoteStore:
    """Return what both made of a store, by id; where both changed a note, ours stays.

    What one removed and the other changed stays too.
    """
    return replace(
        theirs,
        notes=_merged(before.notes, ours.notes, theirs.notes),
        waivers=_merged(before.waivers, ours.waivers, theirs.waivers),
    )


def _merged(
    before: tuple[_Kept, ...], ours: tuple[_Kept, ...], theirs: tuple[_Kept, ...]
) -> tuple[_Kept, ...]:
    old, mine, other = ({one.id: one for one in kept} for kept in (before, ours, theirs))
    result: list[_Kept] = []
    for id, one in mine.items():
        is_changed = old.get(id) != one
        if id in other:
            result.append(one if is_changed else other[id])
        elif is_changed:
            result.append(one)
    result += [one for id, one in other.items() if id not in mine and old.get(id) != one]
    return tuple(result)
