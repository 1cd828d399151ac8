"""The trial document: changes tried on a copy, step by step, with undo and redo.

A `Trial` never changes; each act returns a new one. The file, its asset and its first review
stay what they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from evenweave.mesh.asset import Asset
from evenweave.pipeline import Review, revise
from evenweave.progress import Progress, silent
from evenweave.trial.uvs.asset_uvs import asset_change, with_changes
from evenweave.trial.uvs.corner_uvs import CornerUvs
from evenweave.trial.uvs.retexture import joined


@dataclass(frozen=True, eq=False)
class Step:
    """One thing that was tried.

    words : what was done, a phrase for a menu ("unwrap roof again"); layout : its number
    change : new coordinates of corners of that layout. A layout's corners keep their numbers
    whatever is tried; its islands may not.
    """

    words: str
    layout: int
    change: CornerUvs


@dataclass(frozen=True, eq=False)
class Trial:
    """What was tried, and what came of it.

    original : the review of the file as it is; review : of the copy after all steps
    steps : oldest first; undone : what can be done again, next first
    """

    original: Review
    review: Review
    steps: tuple[Step, ...] = ()
    undone: tuple[Step, ...] = ()

    @property
    def asset(self) -> Asset:
        """Return the copy."""
        return self.review.asset

    @property
    def changed_layouts(self) -> tuple[int, ...]:
        """Return the numbers of the layouts in which anything was tried, ascending."""
        return tuple(sorted({step.layout for step in self.steps}))

    @property
    def undo_words(self) -> str:
        """Return what undoing would take back, "" if there is nothing."""
        return self.steps[-1].words if self.steps else ""

    @property
    def redo_words(self) -> str:
        """Return what redoing would do again, "" if there is nothing."""
        return self.undone[0].words if self.undone else ""


def begin(original: Review) -> Trial:
    """Return a trial in which nothing has been tried."""
    return Trial(original, original)


def step(words: str, layout: int, changes: Sequence[CornerUvs]) -> Step:
    """Return one step that makes the changes of one island or of many of a layout."""
    return Step(words, layout, joined(changes))


def applied(trial: Trial, new: Step, progress: Progress = silent) -> Trial:
    """Try one thing more. What was undone can then no longer be done again.

    Raises `Cancelled` where `progress` does.
    """
    return _restepped(trial, (*trial.steps, new), (), progress)


def undone(trial: Trial, progress: Progress = silent) -> Trial:
    """Take the last step back; the same trial where there is none."""
    if not trial.steps:
        return trial
    return _restepped(trial, trial.steps[:-1], (trial.steps[-1], *trial.undone), progress)


def redone(trial: Trial, progress: Progress = silent) -> Trial:
    """Do the step again that was taken back last; the same trial where there is none."""
    if not trial.undone:
        return trial
    return _restepped(trial, (*trial.steps, trial.undone[0]), trial.undone[1:], progress)


def rebased(trial: Trial, original: Review, progress: Progress = silent) -> Trial:
    """Return the trial on a review of the same asset under other limits."""
    if not trial.steps:
        return replace(trial, original=original, review=original)
    return _reviewed(replace(trial, original=original, review=original), progress)


def _restepped(
    trial: Trial, steps: tuple[Step, ...], undone: tuple[Step, ...], progress: Progress
) -> Trial:
    """Return the trial after other steps, of which only the last may differ."""
    longer = max(steps, trial.steps, key=len)
    shared = replace(trial, steps=steps, undone=undone)
    if not steps:
        return replace(shared, review=trial.original)
    return _reviewed(shared, progress, {longer[-1].layout})


def _reviewed(trial: Trial, progress: Progress, layouts: set[int] | None = None) -> Trial:
    """Review the copy; `layouts` are those whose review is not of these steps yet."""
    original = trial.original
    changes = [
        asset_change(original.asset, original.layouts[one.layout].layout, one.change)
        for one in trial.steps
    ]
    asset = with_changes(original.asset, changes)
    stale = set(trial.changed_layouts) if layouts is None else layouts
    return replace(trial, review=revise(trial.review, asset, stale, progress))
