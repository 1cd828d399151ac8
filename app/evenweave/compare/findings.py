"""Warnings of two passes: which are fixed, which remain, which are new."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from evenweave.arrays import BoolArray
from evenweave.check.finding import Finding, Severity

if TYPE_CHECKING:  # a gate needs none of the matching's kernels
    from evenweave.compare.matching.matching import IslandMatch
    from evenweave.pipeline import LayoutReview

Standing = Literal["fixed", "gone", "remaining", "grown", "new"]

TOGETHER = frozenset(("overlap", "stack"))
"""Checks of what islands do to each other: the same finding shares two islands at least."""


@dataclass(frozen=True, eq=False)
class FindingChange:
    """A warning and how it stands between two passes.

    layout : index in the pass it is of: the old one for what is fixed or gone, else the new one
    standing : "grown" is there as before but on more islands, or graver; "gone" went with the
        coordinates it was about
    islands : of that layout: those fixed, or those new with it; for what remains, all
    before : the old warning that remains or grew; None for others
    """

    finding: Finding
    layout: int
    standing: Standing
    islands: tuple[int, ...]
    before: Finding | None = None

    @property
    def is_past(self) -> bool:
        """Whether it is of the old pass and no more."""
        return self.standing in ("fixed", "gone")


@dataclass(frozen=True)
class _Told:
    """An old warning and its islands, in the new pass's numbers throughout."""

    finding: Finding
    layout: int
    islands: frozenset[int]


def findings(
    old: Sequence[LayoutReview],
    new: Sequence[LayoutReview],
    match: IslandMatch,
    new_layout: Sequence[int],
    has_lost_uvs: BoolArray,
) -> tuple[FindingChange, ...]:
    """Return all warnings of both passes and how they stand: new ones first, gravest first.

    new_layout : for each old layout the new one that it has become, -1 for none
    has_lost_uvs : (I,) for each old island whether it is there without coordinates
    """
    earlier: dict[tuple[str, int], list[_Told]] = defaultdict(list)
    for number, one in enumerate(old):
        for finding in one.findings:
            told = _Told(finding, number, _carried(finding, number, match))
            for layout in _layouts(told, match, new_layout[number]):
                earlier[finding.check, layout].append(told)
    first = match.new.layout_island
    seen: set[int] = set()
    found = []
    for number, one in enumerate(new):
        for finding in one.findings:
            islands = frozenset(int(first[number]) + i for i in finding.islands)
            like = [t for t in earlier[finding.check, number] if _is_same(t, finding, islands)]
            seen |= {id(told.finding) for told in like}
            found.append(_standing(finding, number, int(first[number]), islands, like))
    for number, one in enumerate(old):
        found += [
            FindingChange(
                finding, number, _ended(finding, number, match, has_lost_uvs), finding.islands
            )
            for finding in one.findings
            if id(finding) not in seen
        ]
    order = ("new", "grown", "remaining", "fixed", "gone")
    found.sort(key=lambda one: (order.index(one.standing), -one.finding.severity))
    return tuple(found)


def _ended(finding: Finding, layout: int, match: IslandMatch, has_lost_uvs: BoolArray) -> Standing:
    """Tell whether a warning that is no longer raised was seen to, or all it was about is lost."""
    first, last = match.old.layout_island[layout : layout + 2].tolist()
    islands = first + np.array(finding.islands or range(last - first), dtype=np.int64)
    return "gone" if len(islands) and has_lost_uvs[islands].all() else "fixed"


def _carried(finding: Finding, layout: int, match: IslandMatch) -> frozenset[int]:
    """Return a warning's islands in the new pass, numbered throughout; those lost are left out."""
    first = int(match.old.layout_island[layout])
    new = match.new_of_old[[first + island for island in finding.islands]]
    return frozenset(new[new >= 0].tolist())


def _layouts(old: _Told, match: IslandMatch, fallback: int) -> set[int]:
    """Return the new layouts that a warning may be found in."""
    first = match.new.layout_island
    return {fallback} | {
        int(first.searchsorted(island, side="right")) - 1 for island in old.islands
    }


def _is_same(old: _Told, finding: Finding, islands: frozenset[int]) -> bool:
    """Tell whether an old warning says the same as a new one."""
    if not finding.islands or not old.finding.islands:
        return not finding.islands and not old.finding.islands
    least = min(2, len(islands)) if finding.check in TOGETHER else 1
    return len(old.islands & islands) >= least


def _standing(
    finding: Finding, layout: int, first: int, islands: frozenset[int], like: list[_Told]
) -> FindingChange:
    if not like:
        return FindingChange(finding, layout, "new", finding.islands)
    before = max((told.finding for told in like), key=lambda one: one.severity)
    known = frozenset[int]().union(*(told.islands for told in like))
    if before.severity < finding.severity:
        return FindingChange(finding, layout, "grown", finding.islands, before)
    fresh = tuple(sorted(island - first for island in islands - known))
    if fresh:
        return FindingChange(finding, layout, "grown", fresh, before)
    return FindingChange(finding, layout, "remaining", finding.islands, before)


def is_against(change: FindingChange, level: Severity) -> bool:
    """Tell whether a finding is new, or worse than before, at a level or above."""
    return change.standing in ("new", "grown") and change.finding.severity >= level
