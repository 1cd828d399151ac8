"""The waivers beside a mesh, for the commands that judge it."""

from __future__ import annotations

from dataclasses import replace

from evenweave.errors import FileProblem
from evenweave.notes.notes_file import notes_path, read_notes
from evenweave.notes.waiving import apply_waivers
from evenweave.report.machine import Outcome


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
        remedy = f"{problem.remedy}; until then nothing is waived"
        told = FileProblem(problem.path, problem.place, problem.cause, remedy)
        return replace(outcome, notes_path=path, notes_problem=told)
    return replace(outcome, notes_path=path, waiving=waiving)
