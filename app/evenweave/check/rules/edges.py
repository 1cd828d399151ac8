"""Do seams and hard edges agree: hard-edge."""

from __future__ import annotations

import numpy as np

from evenweave.check.finding import Severity
from evenweave.check.numbers import number
from evenweave.check.rules.islands import exceeds, on_islands
from evenweave.check.rules.where import edge_lines, islands_of
from evenweave.check.subject import Check, Hit, Subject


def _hard_edge(subject: Subject) -> list[Hit]:
    seams, limit = subject.measures.seams, subject.limits.hard_edge_m
    if len(seams.hard_inside) == 0:
        return []
    total = float(seams.hard_inside_m.sum())
    if not exceeds(np.array([total]), limit)[0]:
        return []
    island = islands_of(subject, seams.hard_inside)
    length = np.zeros(subject.layout.island_count)
    np.add.at(length, island, seams.hard_inside_m)
    lines = edge_lines(subject, seams.hard_inside)
    return on_islands(
        subject,
        length > 0,
        value=length,
        badness=length,
        limit=limit,
        words={"total": number(total)},
        points=lines.mean(axis=1),
        segments=lines,
    )


HARD_EDGE = Check("hard-edge", Severity.WARNING, "metres", _hard_edge, of_lightmaps=False)
