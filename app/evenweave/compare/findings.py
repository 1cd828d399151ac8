"""Warnings of two passes: which are fixed, which remain, which are new."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from evenweave.arrays import BoolArray
from evenweave.check.warning import LayoutWarning, Severity
from evenweave.compare.matching.matching import IslandMatch
from evenweave.review import LayoutReview

Standing = Literal["fixed", "gone", "remaining", "grown", "new"]

TOGETHER = frozenset(("overlap", "stack"))
"""Checks of what islands do to each other: the same finding shares two islands at least."""


@dataclass(frozen=True, eq=False)
class Finding:
    """A warning and how it stands between two passes.

    layout : index in the pass it is of: the old one for what is fixed or gone, else the new one
    standing : "grown" is there as before but on more islands, or graver; "gone" went with the
        coordinates it was about
    islands : of that layout: those fixed, or those new with it; for what remains, all
    before : the old warning that remains or grew; None for others
    """

    warning: LayoutWarning
    layout: int
    standing: Standing
    islands: tuple[int, ...]
    before: LayoutWarning | None = None

    @property
    def is_past(self) -> bool:
        """Whether it is of the old pass and no more."""
        return self.standing in ("fixed", "gone")


@dataclass(frozen=True)
class _Told:
    """An old warning and its islands, in the new pass's numbers throughout."""

    warning: LayoutWarning
    layout: int
    islands: frozenset[int]


def findings(
    old: Sequence[LayoutReview],
    new: Sequence[LayoutReview],
    match: IslandMatch,
    new_layout: Sequence[int],
    has_lost_uvs: BoolArray,
) -> tuple[Finding, ...]:
    """Return all warnings of both passes and how they stand: new ones first, gravest first.

    new_layout : for each old layout the new one that it has become, -1 for none
    has_lost_uvs : (I,) for each old island whether it is there without coordinates
    """
    earlier: dict[tuple[str, int], list[_Told]] = defaultdict(list)
    for number, one in enumerate(old):
        for warning in one.warnings:
            told = _Told(warning, number, _carried(warning, number, match))
            for layout in _layouts(told, match, new_layout[number]):
                earlier[warning.check, layout].append(told)
    first = match.new.layout_island
    seen: set[int] = set()
    found = []
    for number, one in enumerate(new):
        for warning in one.warnings:
            islands = frozenset(int(first[number]) + i for i in warning.islands)
            like = [t for t in earlier[warning.check, number] if _is_same(t, warning, islands)]
            seen |= {id(told.warning) for told in like}
            found.append(_standing(warning, number, int(first[number]), islands, like))
    for number, one in enumerate(old):
        found += [
            Finding(warning, number, _ended(warning, number, match, has_lost_uvs), warning.islands)
            for warning in one.warnings
            if id(warning) not in seen
        ]
    order = ("new", "grown", "remaining", "fixed", "gone")
    found.sort(key=lambda one: (order.index(one.standing), -one.warning.severity))
    return tuple(found)


def _ended(
    warning: LayoutWarning, layout: int, match: IslandMatch, has_lost_uvs: BoolArray
) -> Standing:
    """Tell whether a warning that is no longer raised was seen to, or all it was about is lost."""
    first, last = match.old.layout_island[layout : layout + 2].tolist()
    islands = first + np.array(warning.islands or range(last - first), dtype=np.int64)
    return "gone" if len(islands) and has_lost_uvs[islands].all() else "fixed"


def _carried(warning: LayoutWarning, layout: int, match: IslandMatch) -> frozenset[int]:
    """Return a warning's islands in the new pass, numbered throughout; those lost are left out."""
    first = int(match.old.layout_island[layout])
    new = match.new_of_old[[first + island for island in warning.islands]]
    return frozenset(new[new >= 0].tolist())


def _layouts(told: _Told, match: IslandMatch, fallback: int) -> set[int]:
    """Return the new layouts that a warning may be found in."""
    first = match.new.layout_island
    return {fallback} | {
        int(first.searchsorted(island, side="right")) - 1 for island in told.islands
    }


def _is_same(told: _Told, warning: LayoutWarning, islands: frozenset[int]) -> bool:
    """Tell whether an old warning says the same as a new one."""
    if not warning.islands or not told.warning.islands:
        return not warning.islands and not told.warning.islands
    least = min(2, len(islands)) if warning.check in TOGETHER else 1
    return len(told.islands & islands) >= least


def _standing(
    warning: LayoutWarning, layout: int, first: int, islands: frozenset[int], like: list[_Told]
) -> Finding:
    if not like:
        return Finding(warning, layout, "new", warning.islands)
    before = max((told.warning for told in like), key=lambda one: one.severity)
    known = frozenset[int]().union(*(told.islands for told in like))
    if before.severity < warning.severity:
        return Finding(warning, layout, "grown", warning.islands, before)
    fresh = tuple(sorted(island - first for island in islands - known))
    if fresh:
        return Finding(warning, layout, "grown", fresh, before)
    return Finding(warning, layout, "remaining", warning.islands, before)


def is_against(one: Finding, level: Severity) -> bool:
    """Tell whether a finding is new, or worse than before, at a level or above."""
    return one.standing in ("new", "grown") and one.warning.severity >= level
