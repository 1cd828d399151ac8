"""One texel, one place: overlap, self-overlap, stack."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from evenweave.arrays import FloatArray, floats
from evenweave.check.finding import Severity
from evenweave.check.numbers import allowed, counted, number, rounded, several
from evenweave.check.rules.islands import SLACK, on_islands
from evenweave.check.rules.where import spots
from evenweave.check.subject import NO_POINTS, NO_SEGMENTS, Check, Hit, Subject

MOST_APART = 500
"""So many pairs or stacks are told one by one; what is left is told together."""


ONE_TEXEL = 1.0
"""Square texels. What claims less than one texel twice can hardly be seen: a remark."""


class _Piles:
    """Islands, with each exact stack taken as one pile, named by its first island.

    pile : (I,) int32; near : things of one misaligned stack -> (its islands, largest offset)
    """

    def __init__(self, subject: Subject) -> None:
        stacks = subject.measures.stacks
        self.subject = subject
        self.pile = np.arange(subject.layout.island_count, dtype=np.int32)
        self.group = {group[0]: group for group in stacks.group}
        for first, group in self.group.items():
            self.pile[list(group)] = first
        self.near: dict[int, tuple[tuple[int, ...], float]] = {}
        for islands, offset in stacks.misaligned:
            everyone = {member for island in islands for member in self.members(island)}
            told = (tuple(sorted(everyone)), offset)
            self.near |= dict.fromkeys(self.pile[list(islands)].tolist(), told)

    def members(self, island: int) -> tuple[int, ...]:
        """Return the islands of the pile that an island belongs to."""
        return self.group.get(int(self.pile[island]), (island,))

    def name(self, pile: int) -> str:
        """Name an island, or its stack."""
        members = self.members(pile)
        if len(members) == 1:
            return self.subject.name(pile)
        return f"the stack of {counted(len(members), 'island')} at {self.subject.name(pile)}"

    def near_miss(self, index: int, other: int) -> tuple[tuple[int, ...], float] | None:
        """Return the misaligned stack that holds both things, if there is one."""
        first, second = self.near.get(index), self.near.get(other)
        return first if first is second else None


def _severity(area_px2: float) -> Severity | None:
    """Return a remark's severity where not one texel is claimed twice, else the check's own."""
    return Severity.NOTE if area_px2 < ONE_TEXEL else None


def _patch(subject: Subject, row: int) -> FloatArray:
    """Return the ring round a pair's worst place as segments."""
    patches = subject.measures.overlap.pair_patch
    patch = patches[row] if row < len(patches) else NO_POINTS
    if len(patch) < 2:
        return NO_SEGMENTS
    return floats(np.stack([patch, np.roll(patch, -1, axis=0)], axis=1))


def _merged_pairs(subject: Subject, piles: _Piles) -> list[tuple[float, int, int, int]]:
    """Return (area, pile, pile, row of the worst place) of overlapping pairs, worst first."""
    overlap = subject.measures.overlap
    things = np.sort(piles.pile[overlap.pair].reshape(-1, 2), axis=1)
    is_bad = things[:, 0] != things[:, 1]
    is_bad &= overlap.pair_area_px > subject.limits.overlap_px2 * (1 + SLACK)
    worst: dict[tuple[int, int], tuple[float, int]] = {}
    for row in np.flatnonzero(is_bad).tolist():
        pair = (int(things[row, 0]), int(things[row, 1]))
        area = float(overlap.pair_area_px[row])
        if area > worst.get(pair, (0.0, 0))[0]:
            worst[pair] = (area, row)
    return sorted(((area, *pair, row) for pair, (area, row) in worst.items()), reverse=True)


def _overlap(subject: Subject) -> list[Hit]:
    piles = _Piles(subject)
    found: list[Hit] = []
    told: set[tuple[int, ...]] = set()
    pairs = _merged_pairs(subject, piles)
    for rank, pair in enumerate(pairs):
        if len(found) == MOST_APART:
            return [*found, _rest(subject, piles, pairs[rank:])]
        near = piles.near_miss(pair[1], pair[2])
        if near is None:
            found.append(_pair(subject, piles, pair))
        elif near[0] not in told:
            told.add(near[0])
            found.append(_misaligned(subject, pair, near))
    return found


def _misaligned(
    subject: Subject, pair: tuple[float, int, int, int], near: tuple[tuple[int, ...], float]
) -> Hit:
    area, one, _, row = pair
    islands, offset = near
    return Hit(
        value=area,
        severity=_severity(area),
        limit=subject.limits.overlap_px2,
        islands=islands,
        worst=one,
        values=floats([area] * len(islands)),
        variant="misaligned",
        words={
            "count": f"{len(islands):,}",
            "names": _names(subject, islands),
            "offset": number(offset),
            "value": rounded(area),
            **_counted_words(subject),
        },
        points=floats(subject.measures.overlap.pair_point[row : row + 1]),
        segments=_patch(subject, row),
    )


def _counted_words(subject: Subject) -> dict[str, str]:
    counted_at = subject.measures.overlap.counted_at
    precision = f"counted on a grid of {counted_at:,} texels a side" if counted_at else "exact"
    return {"precision": precision}


def _first_in_sentence(name: str) -> str:
    return f"T{name[1:]}" if name.startswith("the stack of ") else name


def _pair(subject: Subject, piles: _Piles, pair: tuple[float, int, int, int]) -> Hit:
    overlap = subject.measures.overlap
    area, one, other, row = pair
    value, limit = rounded(area), allowed(subject.limits.overlap_px2)
    islands = sorted({*piles.members(one), *piles.members(other)})
    return Hit(
        value=area,
        severity=_severity(area),
        limit=subject.limits.overlap_px2,
        islands=tuple(islands),
        worst=one,
        values=floats([area] * len(islands)),
        words={
            "one": _first_in_sentence(piles.name(one)),
            "other": piles.name(other),
            "value": value,
            "limit": limit,
            **_counted_words(subject),
        },
        points=floats(overlap.pair_point[row : row + 1]),
        segments=_patch(subject, row),
    )


def _rest(subject: Subject, piles: _Piles, pairs: list[tuple[float, int, int, int]]) -> Hit:
    area, one, other, _ = pairs[0]
    worst_of: dict[int, float] = {}
    for pair_area, first, second, _ in pairs:
        for pile in (first, second):
            worst_of[pile] = max(worst_of.get(pile, 0.0), pair_area)
    value_of = {i: worst_of[pile] for pile in worst_of for i in piles.members(pile)}
    islands = tuple(sorted(value_of))
    value, limit = rounded(area), allowed(subject.limits.overlap_px2)
    return Hit(
        value=area,
        severity=_severity(area),
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


def _self_overlap(subject: Subject) -> list[Hit]:
    overlap = subject.measures.overlap
    is_self = overlap.pair[:, 0] == overlap.pair[:, 1]
    is_self &= overlap.pair_area_px > subject.limits.overlap_px2 * (1 + SLACK)
    rows = np.flatnonzero(is_self)
    area = np.zeros(subject.layout.island_count)
    area[overlap.pair[rows, 0]] = overlap.pair_area_px[rows]
    found = []
    for is_meant, severity in (
        (area >= ONE_TEXEL, None),
        ((area > 0) & (area < ONE_TEXEL), Severity.NOTE),
    ):
        mine = rows[is_meant[overlap.pair[rows, 0]]]
        outlines = [_patch(subject, row) for row in mine.tolist()]
        found += on_islands(
            subject,
            is_meant,
            value=area,
            badness=area,
            limit=subject.limits.overlap_px2,
            severity=severity,
            words={
                "value": rounded(float(area[is_meant].max(initial=0.0))),
                "limit": allowed(subject.limits.overlap_px2),
                **_counted_words(subject),
            },
            points=floats(overlap.pair_point[mine][np.argsort(overlap.pair[mine, 0])]),
            segments=floats(np.concatenate(outlines)) if outlines else NO_SEGMENTS,
        )
    return found


def _stack(subject: Subject) -> list[Hit]:
    groups = sorted(subject.measures.stacks.group, key=lambda group: (-len(group), group))
    found = [_one_stack(subject, group) for group in groups[:MOST_APART]]
    rest = groups[MOST_APART:]
    if rest:
        islands = tuple(sorted(island for group in rest for island in group))
        words = {"stacks": counted(len(rest), "stack"), "islands": counted(len(islands), "island")}
        found.append(
            Hit(float(len(rest[0])), 1.0, islands, rest[0][0], variant="rest", words=words)
        )
    return found


def _one_stack(subject: Subject, group: tuple[int, ...]) -> Hit:
    mirrored = int(subject.measures.stacks.is_mirrored[list(group)].sum())
    return Hit(
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
STACK = Check("stack", Severity.NOTE, "islands", _stack, needs_own_place=True, of_lightmaps=False)
