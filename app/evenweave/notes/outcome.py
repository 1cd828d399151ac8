"""`Outcome`: what became of one file, with what is waived in it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from evenweave.errors import FileProblem
from evenweave.notes.store import EMPTY
from evenweave.notes.waiving import JudgedFinding, Waiving, apply_waivers
from evenweave.pipeline import Review


@dataclass(frozen=True, eq=False)
class Outcome:
    """What became of one file: a review, or the problem that kept it from being read.

    limits_path : the file whose limits were used, None for the defaults
    notes_path : the notes file beside the mesh, None where none was looked at
    waiving : what it waives; notes_problem : why it could not be used, so that nothing is waived
    """

    path: Path
    review: Review | None = None
    problem: FileProblem | None = None
    limits_path: Path | None = None
    notes_path: Path | None = None
    waiving: Waiving | None = None
    notes_problem: FileProblem | None = None

    @cached_property
    def standings(self) -> tuple[tuple[JudgedFinding, ...], ...]:
        """For each layout how its warnings stand with the waivers; open where there are none."""
        if self.review is None:
            return ()
        return (self.waiving or apply_waivers(self.review, EMPTY)).layouts
