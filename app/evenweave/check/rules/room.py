"""Room for filtering: padding, margin, mip."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray, floats
from evenweave.check.finding import Severity
from evenweave.check.rules.islands import on_islands
from evenweave.check.rules.place import crosses, is_outside
from evenweave.check.subject import ROUNDING_PX, Check, Hit, Subject

BLEEDS_PX = 1.0
"""Below one texel two islands share a texel's filter at the full size already: a fault."""


def _grades(
    room: FloatArray, required: float
) -> tuple[tuple[BoolArray, str, Severity | None], ...]:
    """Return who has too little room, and who has next to none."""
    is_short = room < required - ROUNDING_PX
    is_bleeding = is_short & (room < BLEEDS_PX - ROUNDING_PX)
    return (is_bleeding, "bleeding", Severity.FAULT), (is_short & ~is_bleeding, "", None)


def _overlapping(subject: Subject) -> BoolArray:
    """Tell which islands overlap the island nearest to them; that is said by other checks.

    Members of one stack are one island here.
    """
    overlap, gaps = subject.measures.overlap, subject.measures.gaps
    count = subject.layout.island_count
    thing = np.arange(count, dtype=np.int64)
    for group in subject.measures.stacks.group:
        thing[list(group)] = group[0]
    is_bad = overlap.pair_area_px > subject.limits.overlap_px2
    one, other = thing[overlap.pair[is_bad]].reshape(-1, 2).T
    keys = np.concatenate([one * count + other, other * count + one])
    return np.isin(thing * count + thing[gaps.padding_to], keys) & (gaps.padding_to >= 0)


def _padding(subject: Subject) -> list[Hit]:
    gaps = subject.measures.gaps
    required = subject.limits.required_padding_px
    is_told = _overlapping(subject)
    found = []
    for is_failing, variant, severity in _grades(gaps.padding_px, required):
        failing = np.flatnonzero(is_failing & ~is_told)
        if len(failing) == 0:
            continue
        worst = int(failing[np.argmin(gaps.padding_px[failing])])
        lines = gaps.padding_points[failing]
        found += on_islands(
            subject,
            is_failing & ~is_told,
            value=gaps.padding_px,
            badness=-gaps.padding_px,
            limit=required,
            variant=variant,
            severity=severity,
            words={
                "other": _name(subject, gaps.padding_to, worst),
                "mip": str(max(int(subject.measures.mips.safe_mip[worst]), 0)),
            },
            points=floats(lines[:, 0]),
            segments=floats(lines),
        )
    return found


def _name(subject: Subject, partner: IntArray, island: int) -> str:
    other = int(partner[island])
    return subject.name(other) if other >= 0 else "its neighbour"


def _margin(subject: Subject) -> list[Hit]:
    gaps = subject.measures.gaps
    required = subject.limits.required_margin_px
    island = subject.measures.island
    is_told = is_outside(island, subject.limits) | crosses(island, subject.limits)
    found = []
    for is_failing, variant, severity in _grades(gaps.margin_px, required):
        is_meant = is_failing & ~is_told
        lines = gaps.margin_points[is_meant]
        found += on_islands(
            subject,
            is_meant,
            value=np.maximum(gaps.margin_px, 0.0),
            badness=-gaps.margin_px,
            limit=required,
            variant=variant,
            severity=severity,
            points=floats(lines[:, 0]),
            segments=floats(lines),
        )
    return found


def _mip(subject: Subject) -> list[Hit]:
    wanted = subject.limits.mip_level
    if wanted is None:
        return []
    safe = subject.measures.mips.safe_mip.astype(np.float64)
    return on_islands(subject, safe < wanted, value=safe, badness=-safe, limit=float(wanted))


PADDING = Check("padding", Severity.WARNING, "texels", _padding, needs_own_place=True)
MARGIN = Check("margin", Severity.WARNING, "texels", _margin, needs_own_place=True)
MIP = Check("mip", Severity.WARNING, "mip level", _mip, needs_own_place=True)
