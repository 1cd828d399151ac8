"""A clock that runs with the work done, so that budgets end at the same place on every machine.

The solvers report what they do; a second of this clock is what a usual machine does in about one.
A busy machine takes longer and comes to the same result, byte for byte. Real time only bounds
how long anybody waits, and where it ends something that is told (`worker.TooLate`).

One task runs in a process at a time, and each begins at zero.
"""

from __future__ import annotations

LSCM_US, TUTTE_US, ARAP_US, SLIM_US, SCAFFOLD_US, SEARCH_US = 9, 3, 1, 4, 12, 6
"""Microseconds a triangle of one run of a solver, one sweep of it, or one search for cuts."""

_spent_us = 0


def restart() -> None:
    """Begin a task."""
    global _spent_us
    _spent_us = 0


def spend(triangles: int, microseconds: int) -> None:
    """Report work on so many triangles."""
    global _spent_us
    _spent_us += triangles * microseconds


def now() -> float:
    """Return the seconds worked since the task began."""
    return _spent_us * 1e-6
