"""`evenweave.improve`: do what is safe on a copy."""

from __future__ import annotations

from dataclasses import dataclass
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING

from evenweave.library.review import Review, review
from evenweave.limits.limits import Limits

if TYPE_CHECKING:
    import trimesh


@dataclass(frozen=True, eq=False)
class Improvement:
    """A copy on which what is safe was done.

    before, after : reviews of the source and of the copy, under the same limits
    said : sentences on what was done and what was left
    files : what was written, the copy first; empty where no output was asked for or nothing
    was to be done
    """

    before: Review
    after: Review
    said: tuple[str, ...]
    files: tuple[Path, ...]

    @property
    def has_changed(self) -> bool:
        """Whether anything was done."""
        return self.after.whole is not self.before.whole


def improve(
    source: str | PathLike[str] | trimesh.Trimesh | trimesh.Scene,
    output: str | PathLike[str] | None = None,
    *,
    limits: Limits | None = None,
    seconds: float = 3.0,
) -> Improvement:
    """Do what the findings ask for and is safe; the source stays as it is.

    output : a new file for the copy, in the source's format; for files only
    seconds : how long to look for a packing of each layout

    Raises FileProblem where the source cannot be read or the copy cannot be written.

    Starts processes of its own: a script that calls it keeps its own work below
    ``if __name__ == "__main__":``.
    """
    from evenweave.trial.document import document
    from evenweave.trial.safe.fixes import fix_safely
    from evenweave.trial.safe.options import asked_for
    from evenweave.trial.save.save import refuse_target, save_copy
    from evenweave.trial.work.worker import Worker

    before = review(source, limits)
    if output is not None:
        refuse_target(before.whole.asset, Path(output), replace=False)
    with Worker() as worker:
        fixed = fix_safely(
            document.begin(before.whole),
            worker,
            options=lambda judged: asked_for(judged, seconds),
        )
    files: tuple[Path, ...] = ()
    if output is not None and fixed.trial.steps:
        files = save_copy(before.whole.asset, fixed.trial.asset, Path(output)).files
    after = Review(fixed.trial.review) if fixed.trial.steps else before
    return Improvement(before, after, fixed.said, files)
