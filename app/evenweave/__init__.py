"""Evenweave inspects UV layouts: it measures, judges and explains them.

Everything a script needs is named here; `library/` holds it, and nothing heavy is loaded before
it is used.

>>> import evenweave
>>> lantern = evenweave.review(evenweave.sample("lantern_first_pass.obj"))
>>> [layout.name for layout in lantern.layouts]
['brass', 'glass', 'cork']
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from evenweave.kernel_cache import choose

if TYPE_CHECKING:
    from evenweave.check.finding import Finding, Severity
    from evenweave.check.subject import Check, Hit, Subject
    from evenweave.errors import Cancelled, EvenweaveError, FileProblem
    from evenweave.library.improve import Improvement, improve
    from evenweave.library.review import LayoutResult, Review, review, sample
    from evenweave.limits.file import read_limits
    from evenweave.limits.limits import Limits

__version__ = "0.2.0"

__all__ = [
    "Cancelled",
    "Check",
    "EvenweaveError",
    "FileProblem",
    "Finding",
    "Hit",
    "Improvement",
    "LayoutResult",
    "Limits",
    "Review",
    "Severity",
    "Subject",
    "improve",
    "read_limits",
    "review",
    "sample",
]

_HOME = {
    "Cancelled": "errors",
    "Check": "check.subject",
    "EvenweaveError": "errors",
    "FileProblem": "errors",
    "Finding": "check.finding",
    "Hit": "check.subject",
    "Improvement": "library.improve",
    "LayoutResult": "library.review",
    "Limits": "limits.limits",
    "Review": "library.review",
    "Severity": "check.finding",
    "Subject": "check.subject",
    "improve": "library.improve",
    "read_limits": "limits.file",
    "review": "library.review",
    "sample": "library.review",
}

choose()


def __getattr__(name: str) -> Any:
    """Load what is asked for from where it stands, once."""
    if name not in _HOME:
        raise AttributeError(f"module 'evenweave' has no attribute {name!r}")
    value = getattr(import_module(f"evenweave.{_HOME[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*__all__, "__version__"])
