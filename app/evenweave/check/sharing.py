"""One texel, one place: overlap, self-overlap, stack, misaligned-stack, shareable."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from evenweave.arrays import FloatArray, IntArray, floats
from evenweave.check.islands import SLACK, on_islands
from evenweave.check.numbers import counted, number, percent, several, told_apart
from evenweave.check.subject import NO_POINTS, NO_SEGMENTS, Check, Finding, Subject
from evenweave.check.warning import Severity
from evenweave.check.where import spots

MOST_APART = 500
"""So many pairs or stacks are told one by one; what is left is told together."""


def _stack_of(groups: Sequence[Sequence[int]], island_count: int) -> IntArray:
    """Return for each island the number of its group, or -1."""
    stack = np.full(island_count, -1, dtype=np.int32)
    for number_of, group in enumerate(groups):
        stack[list(group)] = number_of
    return stack


class _Piles:
    """Islands, with each stack (exact or nearly) taken as one thing."""

    def __init__(self, subject: Subject) -> None:
        stacks = subject.measures.stacks
        self.subject = subject
        self.groups = [*stacks.group, *(islands for islands, _ in stacks.misaligned)]
        self.stack = _stack_of(self.groups, subject.layout.island_count)
        first = np.array([group[0] for group in self.groups] or [0], dtype=np.int32)
        own = np.arange(subject.layout.island_count, dtype=np.int32)
        self.thing = np.where(self.stack >= 0, first[self.stack], own)

    def members(self, thing: int) -> tuple[int, ...]:
        """Return the islands of a thing."""
        stack = self.stack[thing]
        return self.groups[stack] if stack >= 0 else (thing,)

    def name(self, thing: int) -> str:
        """Name an island, or its stack."""
        members = self.members(thing)
        if len(members) == 1:
            return self.subject.name(thing)
        return f"the stack of {counted(len(members), 'island')} at {self.subject.name(thing)}"


def _outline(subject: Subject, patch: FloatArray) -> FloatArray:
    if len(patch) < 2:
        return NO_SEGMENTS
    return floats(np.stack([patch, np.roll(patch, -1, axis=0)], axis=1))


def _merged_pairs(subject: Subject, piles: _Piles) -> list[tuple[float, int, int, int]]:
    """Return (area, thing, thing, row of the worst place) of overlapping pairs, worst first."""
    overlap = subject.measures.overlap
    things = np.sort(piles.thing[overlap.pair].reshape(-1, 2), axis=1)
    is_bad = things[:, 0] != things[:, 1]
    is_bad &= overlap.pair_area_px > subject.limits.overlap_px2 * (1 + SLACK)
    worst: dict[tuple[int, int], tuple[float, int]] = {}
    for row in np.flatnonzero(is_bad).tolist():
        pair = (int(things[row, 0]), int(things[row, 1]))
        area = float(overlap.pair_area_px[row])
        if area > worst.get(pair, (0.0, 0))[0]:
            worst[pair] = (area, row)
    return sorted(((area, *pair, row) for pair, (area, row) in worst.items()), reverse=True)


def _overlap(subject: Subject) -> list[Finding]:
    piles = _Piles(subject)
    pairs = _merged_pairs(subject, piles)
    found = [_pair(subject, piles, pair) for pair in pairs[:MOST_APART]]
    rest = pairs[MOST_APART:]
    return [*found, _rest(subject, piles, rest)] if rest else found


def _counted_words(subject: Subject) -> dict[str, str]:
    counted_at = subject.measures.overlap.counted_at
    precision = f"counted on a grid of {counted_at:,} texels a side" if counted_at else "exact"
    return {"precision": precision}


def _pair(subject: Subject, piles: _Piles, pair: tuple[float, int, int, int]) -> Finding:
    overlap = subject.measures.overlap
    area, one, other, row = pair
    value, limit = told_apart(area, subject.limits.overlap_px2)
    islands = sorted({*piles.members(one), *piles.members(other)})
    return Finding(
        value=area,
        limit=subject.limits.overlap_px2,
        islands=tuple(islands),
        worst=one,
        values=floats([area] * len(islands)),
        words={
            "one": piles.name(one),
            "other": piles.name(other),
            "value": value,
            "limit": limit,
            **_counted_words(subject),
        },
        points=floats(overlap.pair_point[row : row + 1]),
        segments=_outline(subject, overlap.pair_patch[row]) if overlap.pair_patch else NO_SEGMENTS,
    )


def _rest(subject: Subject, piles: _Piles, pairs: list[tuple[float, int, int, int]]) -> Finding:
    area, one, other, _ = pairs[0]
    worst_of: dict[int, float] = {}
    for pair_area, first, second, _ in pairs:
        for thing in (first, second):
            worst_of[thing] = max(worst_of.get(thing, 0.0), pair_area)
    value_of = {i: worst_of[thing] for thing in worst_of for i in piles.members(thing)}
    islands = tuple(sorted(value_of))
    value, limit = told_apart(area, subject.limits.overlap_px2)
    return Finding(
        value=area,
        limit=subject.limits.overlap_px2,
        islands=islands,
        worst=one,
        values=floats([value_of[i] for i in islands]),
        variant="rest",
        words={
            "pairs": counted(len(pairs), "pair"),
            "one": piles.name(one),
            "other": piles.name(other),
            "value": value,
            "limit": limit,
            **_counted_words(subject),
        },
        points=floats(subject.measures.overlap.pair_point[[pair[3] for pair in pairs]]),
        segments=subject.measures.overlap.outline,
    )


def _self_overlap(subject: Subject) -> list[Finding]:
    overlap = subject.measures.overlap
    is_self = overlap.pair[:, 0] == overlap.pair[:, 1]
    is_self &= overlap.pair_area_px > subject.limits.overlap_px2 * (1 + SLACK)
    rows = np.flatnonzero(is_self)
    area = np.zeros(subject.layout.island_count)
    area[overlap.pair[rows, 0]] = overlap.pair_area_px[rows]
    outlines = [_outline(subject, overlap.pair_patch[row]) for row in rows if overlap.pair_patch]
    return on_islands(
        subject,
        area > 0,
        value=area,
        badness=area,
        limit=subject.limits.overlap_px2,
        words=_counted_words(subject),
        points=floats(overlap.pair_point[rows][np.argsort(overlap.pair[rows, 0])]),
        segments=floats(np.concatenate(outlines)) if outlines else NO_SEGMENTS,
    )


def _stack(subject: Subject) -> list[Finding]:
    groups = sorted(subject.measures.stacks.group, key=lambda group: (-len(group), group))
    found = [_one_stack(subject, group) for group in groups[:MOST_APART]]
    rest = groups[MOST_APART:]
    if rest:
        islands = tuple(sorted(island for group in rest for island in group))
        words = {"stacks": counted(len(rest), "stack"), "islands": counted(len(islands), "island")}
        found.append(
            Finding(float(len(rest[0])), 1.0, islands, rest[0][0], variant="rest", words=words)
        )
    return found


def _one_stack(subject: Subject, group: tuple[int, ...]) -> Finding:
    mirrored = int(subject.measures.stacks.is_mirrored[list(group)].sum())
    return Finding(
        value=float(len(group)),
        limit=1.0,
        islands=group,
        worst=group[0],
        variant="mirrored" if 0 < mirrored < len(group) else "",
        words={
            "count": f"{len(group):,}",
            "names": _names(subject, group),
            "mirrored": f"{mirrored:,}",
        },
        points=_at(subject, group[:1]),
    )


def _misaligned(subject: Subject) -> list[Finding]:
    return [
        Finding(
            value=offset,
            limit=0.0,
            islands=group,
            worst=group[0],
            words={
                "count": f"{len(group):,}",
                "names": _names(subject, group),
                "value": number(offset),
            },
            points=_at(subject, group),
        )
        for group, offset in subject.measures.stacks.misaligned
    ]


def _shareable(subject: Subject) -> list[Finding]:
    area = subject.measures.island.area_uv
    groups = subject.measures.stacks.shareable
    whole = float(area.sum())
    spare = [float(area[list(group)].sum() - area[list(group)].max()) for group in groups]
    share = sum(spare) / whole if whole > 0 else 0.0
    if share <= subject.limits.shareable + SLACK:
        return []
    largest = groups[int(np.argmax(spare))]
    islands = tuple(sorted(island for group in groups for island in group))
    return [
        Finding(
            value=share,
            limit=subject.limits.shareable,
            islands=islands,
            worst=largest[0],
            words={
                "groups": counted(len(groups), "group"),
                "share": percent(share),
                "names": _names(subject, largest),
            },
            points=_at(subject, islands),
        )
    ]


def _names(subject: Subject, group: Sequence[int]) -> str:
    return several([subject.name(i) for i in group[:3]], len(group))


def _at(subject: Subject, islands: Sequence[int]) -> FloatArray:
    if not islands:
        return NO_POINTS
    is_wanted = np.zeros(subject.layout.island_count, dtype=bool)
    is_wanted[list(islands)] = True
    return spots(subject, is_wanted)


OVERLAP = Check("overlap", Severity.FAULT, "square texels", _overlap, needs_own_place=True)
SELF_OVERLAP = Check(
    "self-overlap", Severity.FAULT, "square texels", _self_overlap, needs_own_place=True
)
MISALIGNED_STACK = Check(
    "misaligned-stack", Severity.FAULT, "texels", _misaligned, needs_own_place=True
)
STACK = Check("stack", Severity.NOTE, "islands", _stack, needs_own_place=True)
SHAREABLE = Check("shareable", Severity.NOTE, "share", _shareable, needs_own_place=True)
