"""Room for filtering: padding, margin, mip."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray, floats
from evenweave.check.finding import Severity
from evenweave.check.rules.islands import on_islands
from evenweave.check.rules.place import crosses, is_outside
from evenweave.check.rules.sharing import ONE_TEXEL
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
    is_bad = overlap.pair_area_px > max(subject.limits.overlap_px2, ONE_TEXEL)
    one, other = thing[overlap.pair[is_bad]].reshape(-1, 2).T
    keys = np.concatenate([one * count + other, other * count + one])
    return np.isin(thing * count + thing[gaps.padding_to], keys) & (gaps.padding_to >= 0)


def _is_collapsed(subject: Subject) -> BoolArray:
    """Tell which islands are collapsed to a line or point: that is all there is to say of them."""
    island = subject.measures.island
    return np.asarray((island.triangles > 0) & (island.degenerate_triangles == island.triangles))


def _beside_nothing(subject: Subject) -> BoolArray:
    """Tell which islands are collapsed, or have only a collapsed one nearest to them."""
    is_collapsed, other = _is_collapsed(subject), subject.measures.gaps.padding_to
    return np.asarray(is_collapsed | (is_collapsed[other] & (other >= 0)))


def _padding(subject: Subject) -> list[Hit]:
    gaps = subject.measures.gaps
    required = subject.limits.required_padding_px
    is_told = _overlapping(subject) | _beside_nothing(subject)
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
    """Edges at which an island goes on at the opposite side have nothing foreign beyond them."""
    gaps = subject.measures.gaps
    required = subject.limits.required_margin_px
    island = subject.measures.island
    is_told = is_outside(island, subject.limits) | crosses(island, subject.limits)
    is_told |= _is_collapsed(subject)
    room, lines = _room_at_edges(subject)
    found = []
    for is_failing, variant, severity in _grades(room, required):
        is_meant = is_failing & ~is_told
        places = lines[is_meant]
        found += on_islands(
            subject,
            is_meant,
            value=np.maximum(room, 0.0),
            badness=-room,
            limit=required,
            variant=variant,
            severity=severity,
            points=floats(places[:, 0]),
            segments=floats(places),
        )
    return found + _going_on(subject, is_short=gaps.margin_px < required - ROUNDING_PX)


def _room_at_edges(subject: Subject) -> tuple[FloatArray, FloatArray]:
    """Return (I,) texels to the nearest edge that counts, and (I, 2, 2) where."""
    gaps, island, tile = subject.measures.gaps, subject.measures.island, subject.measures.tile
    if subject.continuing is None or not subject.continuing.goes_on.any():
        return gaps.margin_px, gaps.margin_points
    room, lines = gaps.margin_px.copy(), gaps.margin_points.copy()
    size = np.array([tile.width, tile.height], dtype=np.float64)
    for one in np.flatnonzero(subject.continuing.goes_on.any(axis=1)).tolist():
        low, high = island.bounds[one, :2], island.bounds[one, 2:]
        sides = np.stack([low - island.tile[one], island.tile[one] + 1 - high]) * size
        sides[:, subject.continuing.goes_on[one]] = np.inf
        room[one] = sides.min()
        side, axis = np.unravel_index(int(sides.argmin()), sides.shape)
        place = (low + high) / 2
        place[axis] = (low, high)[side][axis]
        lines[one] = place
    return room, lines


def _going_on(subject: Subject, *, is_short: BoolArray) -> list[Hit]:
    """Remark on islands that fill the tile from edge to edge without being sewn round it."""
    if subject.continuing is None:
        return []
    fills = subject.continuing.goes_on & ~subject.continuing.is_sewn
    value = fills.sum(axis=1).astype(np.float64)
    ways = {(True, False): "across", (False, True): "up and down", (True, True): "both ways"}
    worst = fills[np.argmax(value * is_short)] if len(value) else np.zeros(2, dtype=bool)
    return on_islands(
        subject,
        fills.any(axis=1) & is_short,
        value=value,
        badness=value,
        limit=0.0,
        variant="continues",
        severity=Severity.NOTE,
        words={"ways": ways.get((bool(worst[0]), bool(worst[1])), "")},
    )


def _mip(subject: Subject) -> list[Hit]:
    wanted = subject.limits.mip_level
    if wanted is None:
        return []
    safe = subject.measures.mips.safe_mip.astype(np.float64)
    return on_islands(subject, safe < wanted, value=safe, badness=-safe, limit=float(wanted))


PADDING = Check("padding", Severity.WARNING, "texels", _padding, needs_own_place=True)
MARGIN = Check("margin", Severity.WARNING, "texels", _margin, needs_own_place=True)
MIP = Check("mip", Severity.WARNING, "mip level", _mip, needs_own_place=True)
