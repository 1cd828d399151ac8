"""Is space used well: tiny, coverage, fragment."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import IntArray
from evenweave.check.finding import Severity
from evenweave.check.numbers import number, percent
from evenweave.check.rules.islands import SLACK, exceeds, on_islands
from evenweave.check.subject import ROUNDING_PX, Check, Hit, Subject
from evenweave.layout import udim


def _tiny(subject: Subject) -> list[Hit]:
    side, limit = subject.measures.shape.short_side_px, subject.limits.tiny_px
    island = subject.measures.island
    has_area = island.degenerate_triangles < island.triangles
    is_tiny = (side < limit - ROUNDING_PX) & has_area
    return on_islands(subject, is_tiny, value=side, badness=-side, limit=limit)


def _coverage(subject: Subject) -> list[Hit]:
    coverage, limit = subject.measures.coverage, subject.limits.coverage
    if len(coverage.tile) == 0 or not coverage.total < limit - SLACK:
        return []
    tile = subject.measures.tile
    free = (1.0 - coverage.total) * tile.width * tile.height * len(coverage.tile)
    words = {
        "value": percent(coverage.total),
        "limit": percent(limit),
        "free": number(free),
        "tiles": f"{len(coverage.tile):,}",
        "least": percent(float(coverage.share.min())),
        "emptiest": _tile_name(coverage.tile[int(coverage.share.argmin())]),
    }
    variant = "tiles" if len(coverage.tile) > 1 else ""
    return [Hit(value=coverage.total, limit=limit, variant=variant, words=words)]


def _tile_name(tile: IntArray) -> str:
    number_ = udim.number(int(tile[0]), int(tile[1]))
    return str(number_) if number_ else f"{int(tile[0])}, {int(tile[1])}"


def _fragment(subject: Subject) -> list[Hit]:
    seams, limits = subject.measures.seams, subject.limits
    whole = subject.measures.whole.surface_m2
    if not whole > 0:
        return []
    share = subject.measures.island.surface_m2 / whole
    is_small = share < limits.fragment_surface * (1 - SLACK)
    is_failing = is_small & (seams.fragment >= 0)
    is_failing &= ~exceeds(-seams.fragment_share, -limits.fragment_outline)
    if not is_failing.any():
        return []
    worst = int(np.flatnonzero(is_failing)[np.argmax(seams.fragment_share[is_failing])])
    return on_islands(
        subject,
        is_failing,
        value=seams.fragment_share,
        badness=seams.fragment_share,
        limit=limits.fragment_outline,
        words={
            "neighbour": subject.name(int(seams.fragment[worst])),
            "value": percent(float(seams.fragment_share[worst])),
            "limit": percent(limits.fragment_outline),
            "surface": percent(float(share[worst]), 2),
        },
    )


TINY = Check("tiny", Severity.WARNING, "texels", _tiny)
COVERAGE = Check("coverage", Severity.WARNING, "share", _coverage, needs_own_place=True)
FRAGMENT = Check("fragment", Severity.NOTE, "share", _fragment, of_lightmaps=False)
