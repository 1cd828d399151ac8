"""Checks that a studio adds: found by the entry point `evenweave.checks`, asked like ours.

A package names them in its pyproject.toml::

    [project.entry-points."evenweave.checks"]
    lower-case = "our_checks:LOWER_CASE"

and `LOWER_CASE` is a `Check` with texts of its own. A check that cannot be loaded or asked is
told as a finding and never keeps the others from being asked.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.metadata import EntryPoint, entry_points

from evenweave.check.finding import Severity
from evenweave.check.subject import Check, Hit, Subject

GROUP = "evenweave.checks"
NEEDED = ("title", "what", "why", "do", "how")


@dataclass(frozen=True)
class Unusable:
    """A check that could not be loaded. name : of its entry point; reason : a phrase."""

    name: str
    reason: str


@cache
def _loaded() -> tuple[tuple[Check, ...], tuple[Unusable, ...]]:
    checks: list[Check] = []
    unusable: list[Unusable] = []
    for entry in sorted(entry_points(group=GROUP), key=lambda entry: entry.name):
        made = _load(entry, {check.id for check in checks})
        if isinstance(made, Check):
            checks.append(made)
        else:
            unusable.append(made)
    return tuple(checks), tuple(unusable)


def _load(entry: EntryPoint, taken: set[str]) -> Check | Unusable:
    try:
        check = entry.load()
    except Exception as error:  # whatever a foreign module raises when it is imported
        return Unusable(entry.name, failure(error))
    if not isinstance(check, Check):
        return Unusable(entry.name, "it is no Check")
    if check.id != entry.name or check.id in taken:
        return Unusable(entry.name, f"its id is {check.id}; it must be its entry point's name")
    missing = [name for name in NEEDED if not check.texts.get(name)]
    if missing:
        return Unusable(entry.name, f"it has no text for {', '.join(missing)}")
    return check


def failure(error: Exception) -> str:
    """Return an exception as a phrase: its kind, and what it says."""
    return f"{type(error).__name__}: {error}".rstrip(": ")


def own_checks() -> tuple[Check, ...]:
    """Return the checks of installed packages, by the names of their entry points."""
    return _loaded()[0]


def _unusable(subject: Subject) -> Iterable[Hit]:
    return [not_asked(one.name, one.reason) for one in _loaded()[1]]


def not_asked(name: str, reason: str) -> Hit:
    """Return the hit that tells of a check that could not be asked."""
    return Hit(1.0, 0.0, words={"name": name, "reason": reason})


OWN_CHECK = Check("own-check", Severity.NOTE, "", _unusable)
