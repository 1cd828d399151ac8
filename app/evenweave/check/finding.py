"""`Finding`: one thing to look at. Plain data; words come from `resources/checks.toml`."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # the command line knows the severities without loading numpy
    from evenweave.arrays import FloatArray, IntArray


class Severity(IntEnum):
    """How much it matters, in ascending order."""

    NOTE = 1
    WARNING = 2
    FAULT = 3


WORD = {Severity.NOTE: "remark", Severity.WARNING: "warning", Severity.FAULT: "fault"}


def _no_values() -> FloatArray:
    from evenweave.arrays import floats

    return floats([])


@dataclass(frozen=True, eq=False)
class Finding:
    """One finding of one check on one layout.

    islands : ascending indices, worst first is `worst`; empty where the layout as a whole is meant
    value, limit, unit : the number judged, what is acceptable, and in what
    points : (K, 2) float64 uv places to show; segments : (S, 2, 2) uv lines to show
    faces : (N,) int32 of the layout to show
    values : the number judged for each of `islands`, in their order; empty where it has none
    what, why, do, how : the explanation, one or few sentences each; sources named in `how`
    variant : which of the things its check looks for was found ("mirrored"); "" for the plain one
    """

    check: str
    severity: Severity
    islands: tuple[int, ...]
    worst: int
    value: float
    limit: float
    unit: str
    points: FloatArray
    segments: FloatArray
    faces: IntArray
    title: str
    what: str
    why: str
    do: str
    how: str
    values: FloatArray = field(default_factory=_no_values)
    variant: str = ""
