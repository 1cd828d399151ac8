"""Progress of long work, and the one way to cancel it.

Long functions take a `Progress`: a callable told the finished share (0 to 1) and a short
phrase for what is being done. It may raise `evenweave.errors.Cancelled`, which the work
lets pass through: that is how work is cancelled.
"""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[float, str], None]


def silent(share: float, doing: str) -> None:
    """Report to nobody."""


def within(progress: Progress, start: float, end: float) -> Progress:
    """Return a `Progress` whose 0 to 1 is the stretch from `start` to `end` of another."""

    def report(share: float, doing: str) -> None:
        progress(start + (end - start) * share, doing)

    return report
