"""A comparison in one line: whether the new pass is better."""

from __future__ import annotations

from collections import Counter
from typing import Literal

import numpy as np

from evenweave.check.finding import WORD, Severity
from evenweave.check.numbers import counted, percent
from evenweave.compare.comparison import Comparison
from evenweave.compare.matching.matching import LITTLE_FOUND
from evenweave.compare.states import State

Judgement = Literal["better", "worse", "mixed", "unchanged", "changed", "unrelated"]

UNRELATED = "Not comparable: too little of the surface is the same"

_SHOWN: tuple[State, ...] = (
    "moved",
    "scaled",
    "turned",
    "mirrored",
    "re-flattened",
    "re-cut",
    "lost",
    "added",
)


def judgement(comparison: Comparison) -> Judgement:
    """Judge by the gravest severity at which anything was fixed or is new."""
    if is_unrelated(comparison):
        return "unrelated"
    fixed, new = (
        severities(comparison, "fixed"),
        severities(comparison, "new") + severities(comparison, "grown"),
    )
    for severity in sorted(Severity, reverse=True):
        if fixed[severity] or new[severity]:
            if not new[severity]:
                return "better"
            return "mixed" if fixed[severity] else "worse"
    is_same = comparison.islands.count("unchanged") == len(comparison.islands.state)
    return "unchanged" if is_same and not senseless_count(comparison) else "changed"


def is_unrelated(comparison: Comparison) -> bool:
    """Tell whether both passes have islands, and little of one is found in the other."""
    match = comparison.match
    has_lost_uvs = comparison.islands.has_lost_uvs[: match.old.island_count]
    sides = (
        (match.old.island_area_m2, np.where(has_lost_uvs, 1.0, match.share)),
        (match.new.island_area_m2, match.new_share),
    )
    if not all(len(area) for area, _ in sides):
        return False
    return all((area * share).sum() < LITTLE_FOUND * area.sum() for area, share in sides)


def severities(comparison: Comparison, standing: str) -> Counter[Severity]:
    """Count warnings of one standing by severity."""
    return Counter(f.finding.severity for f in comparison.findings if f.standing == standing)


def by_severity(count: Counter[Severity]) -> str:
    """Say how many there are of each severity, gravest first.

    >>> by_severity(Counter([Severity.NOTE, Severity.FAULT, Severity.NOTE]))
    '1 fault, 2 notes'
    """
    gravest_first = sorted(count, reverse=True)
    return ", ".join(counted(count[severity], WORD[severity]) for severity in gravest_first)


def senseless_count(comparison: Comparison) -> int:
    """How many new faces have no sensible coordinates."""
    return sum(len(faces.senseless) + len(faces.bare) for faces in comparison.new_faces)


def verdict(comparison: Comparison) -> str:
    """Say in one line what the new pass is worth."""
    if is_unrelated(comparison):
        names = " and ".join(review.asset.path.name for review in (comparison.old, comparison.new))
        return f"{UNRELATED} in {names}."
    parts = [
        f"{by_severity(count)} {word}"
        for word, count in (
            ("fixed", severities(comparison, "fixed")),
            ("gone with their UVs", severities(comparison, "gone")),
            ("new", severities(comparison, "new")),
            ("grown", severities(comparison, "grown")),
            ("remaining", severities(comparison, "remaining")),
        )
        if count
    ]
    states = Counter(comparison.islands.state)
    told = [f"{counted(states[s], 'island')} {s}" for s in _SHOWN if states[s]]
    parts.append(", ".join(told) or "no island changed")
    if faces := senseless_count(comparison):
        parts.append(f"{counted(faces, 'new face')} without sensible UVs")
    for change in comparison.layouts:
        coverage = change.figures["coverage"]
        if change.old >= 0 and change.new >= 0 and abs(coverage.after - coverage.before) >= 0.005:
            name = change.name or "no material"
            parts.append(f"{name} covers {percent(coverage.after)}, was {percent(coverage.before)}")
    return f"{judgement(comparison).capitalize()}: {'; '.join(parts)}."
