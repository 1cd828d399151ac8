"""Is an island as simple as it could be: bowed."""

from __future__ import annotations

import numpy as np

from evenweave.check.finding import Severity
from evenweave.check.numbers import number, percent
from evenweave.check.rules.islands import exceeds, on_islands
from evenweave.check.subject import Check, Hit, Subject


def _bowed(subject: Subject) -> list[Hit]:
    shape, limit = subject.measures.shape, subject.limits.bow
    is_failing = exceeds(shape.bow, limit) & (shape.strip_length_px > 0)
    if not is_failing.any():
        return []
    worst = int(np.flatnonzero(is_failing)[np.argmax(shape.bow[is_failing])])
    return on_islands(
        subject,
        is_failing,
        value=shape.bow,
        badness=shape.bow,
        limit=limit,
        words={
            "value": percent(float(shape.bow[worst])),
            "limit": percent(limit),
            "length": number(float(shape.strip_length_px[worst])),
        },
    )


BOWED = Check("bowed", Severity.NOTE, "share", _bowed, of_lightmaps=False)
