"""Notes and waivers as a person reads them in a terminal."""

from __future__ import annotations

from evenweave.check.numbers import counted, printable
from evenweave.notes.locating import Finder
from evenweave.notes.store import NoteStore
from evenweave.notes.waiving import apply_waivers
from evenweave.pipeline import Review
from evenweave.report.document.content import NoteLine, WaiverLine
from evenweave.report.document.words import note_lines, sentences, waiver_lines
from evenweave.report.text.wrapping import wrapped

_HANGING = " " * 18


def notes_text(review: Review, store: NoteStore) -> str:
    """List notes, then waivers, each with its place in this pass or that it is adrift."""
    finder = Finder([one.layout for one in review.layouts])
    judged, found = apply_waivers(review, store, finder), finder.notes(store.notes)
    lines = [printable(str(review.asset.path))]
    if not store.notes and not store.waivers:
        return "\n".join([*lines, "  no notes", ""])
    lines += [f"  {sentence}" for sentence in sentences(judged, found)]
    if store.notes:
        lines += ["", f"  {counted(len(store.notes), 'note')}"]
        for note in note_lines(found, review):
            lines += _note(note)
    if store.waivers:
        lines += ["", f"  {counted(len(store.waivers), 'waiver')}"]
        for waiver in waiver_lines(judged):
            lines += _waiver(waiver)
    return "\n".join(lines) + "\n"


def _note(note: NoteLine) -> list[str]:
    place = f"{note.meant} on {note.place}" if note.place else f"{note.meant}: adrift"
    start = f"    {note.mark:<2} {note.state:<11}"
    return wrapped(start, f"{place}. {' '.join(note.text.split())}".rstrip(), _HANGING)


def _waiver(waiver: WaiverLine) -> list[str]:
    by = f" ({waiver.by})" if waiver.by else ""
    standing, _, _ = waiver.standing.partition(":")
    text = f"{waiver.title}, {waiver.where}: {waiver.reason}{by}"
    return wrapped(f"    {'':<2} {standing:<11}", text, _HANGING)
