"""The one way in which checks on islands are put together: one finding for all that fail."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray, floats
from evenweave.check.finding import Severity
from evenweave.check.numbers import several, told_apart
from evenweave.check.rules.where import spots
from evenweave.check.subject import NO_FACES, NO_SEGMENTS, Hit, Subject

SLACK = 1e-9


def exceeds(value: FloatArray, limit: float) -> BoolArray:
    """Tell where a value lies above its limit, not by rounding alone. NaN never does."""
    is_above: BoolArray = value > limit + SLACK * max(1.0, abs(limit))
    return is_above


def on_islands(
    subject: Subject,
    is_failing: BoolArray,
    *,
    value: FloatArray,
    badness: FloatArray,
    limit: float,
    variant: str = "",
    severity: Severity | None = None,
    words: Mapping[str, str] | None = None,
    points: FloatArray | None = None,
    triangle_weight: FloatArray | None = None,
    segments: FloatArray = NO_SEGMENTS,
    faces: IntArray = NO_FACES,
) -> list[Hit]:
    """Return one finding that holds every failing island, or none.

    is_failing, value, badness : (I,); the worst island is the failing one of largest badness.
    The templates get {island} (the worst), {value}, {limit}, {count}, {names} (the worst few),
    {others} (the same without the worst) and the words; with more than one island the variant
    gets "many" added.
    """
    failing = np.flatnonzero(is_failing)
    if len(failing) == 0:
        return []
    worst = int(failing[np.argmax(badness[failing])])
    shown_value, shown_limit = told_apart(float(value[worst]), limit)
    order = failing[np.argsort(-badness[failing], kind="stable")].tolist()
    several_variant = f"{variant}_many".lstrip("_") if len(failing) > 1 else variant
    return [
        Hit(
            value=float(value[worst]),
            limit=limit,
            islands=tuple(failing.tolist()),
            worst=worst,
            values=floats(value[failing]),
            severity=severity,
            variant=several_variant,
            words={
                "island": subject.name(worst),
                "value": shown_value,
                "limit": shown_limit,
                "count": f"{len(failing):,}",
                "names": _names(subject, order),
                "others": _names(subject, order[1:]),
                **(words or {}),
            },
            points=spots(subject, is_failing, triangle_weight) if points is None else points,
            segments=segments,
            faces=faces,
        )
    ]


def _names(subject: Subject, islands: list[int]) -> str:
    return several([subject.name(i) for i in islands[:3]], len(islands))
