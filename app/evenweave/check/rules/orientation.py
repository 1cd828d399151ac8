"""Which way round islands lie: flipped."""

from __future__ import annotations

import numpy as np

from evenweave.check.finding import Severity
from evenweave.check.numbers import counted
from evenweave.check.rules.islands import on_islands
from evenweave.check.subject import Check, Hit, Subject


def _flipped(subject: Subject) -> list[Hit]:
    """Folded parts of an island are one thing, islands mirrored as a whole another."""
    island, triangle = subject.measures.island, subject.measures.triangle
    if not island.flipped_triangles.any():
        return []
    is_mirrored = island.flipped_share > 0.5
    usable = island.triangles - island.degenerate_triangles
    against = np.where(is_mirrored, usable - island.flipped_triangles, island.flipped_triangles)
    is_folded = against > 0
    bad = subject.triangles_of(is_folded)
    runs_against = (triangle.area_px[bad] < 0) != is_mirrored[subject.triangle_island[bad]]
    bad = bad[runs_against & ~triangle.is_degenerate[bad]]
    weight = np.zeros(len(triangle.area_px))
    weight[bad] = np.abs(triangle.area_px[bad])
    share = 1.0 - np.abs(1.0 - 2.0 * island.flipped_share)
    whole = np.where(is_mirrored, usable, 0)
    return on_islands(
        subject,
        is_folded,
        value=against.astype(float),
        badness=share,
        limit=0.0,
        words={"triangles": counted(int(against[is_folded].sum()), "triangle")},
        triangle_weight=weight,
        faces=subject.faces_of(bad),
    ) + on_islands(
        subject,
        is_mirrored,
        value=whole.astype(float),
        badness=island.surface_m2,
        limit=0.0,
        variant="mirrored",
        severity=Severity.NOTE if subject.limits.mirrored else None,
    )


FLIPPED = Check("flipped", Severity.WARNING, "triangles", _flipped, of_lightmaps=False)
