"""The waivers beside a mesh, for the commands that judge it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from evenweave.command.line.terminal import complain
from evenweave.errors import FileProblem
from evenweave.notes.notes_file import notes_path, read_notes
from evenweave.notes.outcome import Outcome
from evenweave.notes.store import EMPTY
from evenweave.notes.waiving import Waiving, apply_waivers
from evenweave.pipeline import Review


def with_waivers(outcome: Outcome) -> Outcome:
    """Return the outcome with what the notes file beside its mesh waives, if there is one.

    Where that file cannot be used nothing is waived, and the outcome says why.
    """
    path = notes_path(outcome.path)
    if outcome.review is None or not path.exists():
        return outcome
    try:
        waiving = apply_waivers(outcome.review, read_notes(path))
    except FileProblem as problem:
        return replace(outcome, notes_path=path, notes_problem=_told(problem))
    return replace(outcome, notes_path=path, waiving=waiving)


def waiving_beside(mesh: Path, reviewed: Review) -> Waiving:
    """Return what the notes file beside a mesh waives; complain where it cannot be used."""
    outcome = with_waivers(Outcome(mesh, review=reviewed))
    if outcome.notes_problem is not None:
        complain(str(outcome.notes_problem))
    return outcome.waiving or apply_waivers(reviewed, EMPTY)


def _told(problem: FileProblem) -> FileProblem:
    remedy = f"{problem.remedy}; until then nothing is waived"
    return FileProblem(problem.path, problem.place, problem.cause, remedy)
