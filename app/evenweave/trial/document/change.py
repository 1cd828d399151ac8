"""What a trial changed, in numbers: one row a quantity, before and after."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import FloatArray, IntArray
from evenweave.check.finding import Severity
from evenweave.check.numbers import number, percent
from evenweave.layout.layout import Layout
from evenweave.notes.waiving import JudgedFinding
from evenweave.pipeline import LayoutReview

BETTER_LOW, BETTER_HIGH, NEUTRAL = -1, 1, 0

DECIMALS = 3  # at most, so that next to nothing is written as 0
SEEN, SEEN_SHARE = 1e-3, 2e-3  # change of what is measured that anybody would call one
_COUNTS = 3  # changes that count warnings, one a severity


@dataclass(frozen=True)
class Change:
    """One quantity before and after, NaN where it cannot be told.

    unit : "" for plain numbers, "%" for shares (kept as 0 to 1), else as written behind it
    better : 1 if more is better, -1 if less is, 0 if neither
    """

    label: str
    before: float
    after: float
    unit: str
    better: int

    @property
    def gain(self) -> int:
        """Return 1 where it became better, -1 where worse, 0 where nobody can see a change."""
        difference = self.after - self.before
        size = max(abs(self.before), abs(self.after))
        is_count = self.before.is_integer() and self.after.is_integer()
        seen = 0.0 if is_count else max(SEEN_SHARE * size, SEEN)
        if math.isnan(difference) or abs(difference) <= seen:
            return 0
        return self.better * (1 if difference > 0 else -1)

    def words(self) -> tuple[str, str]:
        """Write both numbers with their unit."""
        return _written(self.before, self.unit), _written(self.after, self.unit)


def layout_changes(before: LayoutReview, after: LayoutReview) -> tuple[Change, ...]:
    """Compare a layout before and after."""
    rows = [
        ("faults", *_severity(before, after, Severity.FAULT), "", BETTER_LOW),
        ("warnings", *_severity(before, after, Severity.WARNING), "", BETTER_LOW),
        ("remarks", *_severity(before, after, Severity.NOTE), "", BETTER_LOW),
    ]
    for label, read, unit, better in _LAYOUT:
        rows.append((label, read(before), read(after), unit, better))
    return tuple(Change(*row) for row in rows)


def open_changes(
    before: LayoutReview,
    after: LayoutReview,
    judged: tuple[Sequence[JudgedFinding], Sequence[JudgedFinding]],
) -> tuple[Change, ...]:
    """Compare a layout before and after by its open warnings; the waived ones are counted apart.

    judged : how the warnings of both stand
    """
    waived = tuple(float(sum(one.is_waived for one in findings)) for findings in judged)
    changes = layout_changes(_open(before, judged[0]), _open(after, judged[1]))
    if not any(waived):
        return changes
    told = Change("waived", waived[0], waived[1], "", NEUTRAL)
    return *changes[:_COUNTS], told, *changes[_COUNTS:]


def _open(layout_review: LayoutReview, judged: Sequence[JudgedFinding]) -> LayoutReview:
    return replace(
        layout_review, findings=tuple(told.finding for told in judged if not told.is_waived)
    )


def island_changes(before: LayoutReview, after: LayoutReview, island: int) -> tuple[Change, ...]:
    """Compare an island of the layout before with the one that holds most of its faces after."""
    now = int(successors(before.layout, after.layout)[island])
    return tuple(
        Change(label, float(read(before)[island]), float(read(after)[now]), unit, better)
        for label, read, unit, better in _ISLAND
    )


def successors(before: Layout, after: Layout) -> IntArray:
    """Return (I,) for each island before, the island after that holds most of its faces."""
    pairs = before.face_island.astype(np.int64) * after.island_count + after.face_island
    pair, count = np.unique(pairs, return_counts=True)
    old, new = np.divmod(pair, max(after.island_count, 1))
    order = np.lexsort((-new, count))
    found = np.zeros(before.island_count, np.int32)
    found[old[order]] = new[order]
    return found


def _severity(before: LayoutReview, after: LayoutReview, severity: Severity) -> tuple[float, float]:
    counts = [sum(w.severity is severity for w in one.findings) for one in (before, after)]
    return float(counts[0]), float(counts[1])


def _spread(layout_review: LayoutReview) -> float:
    whole = layout_review.measures.whole
    if not whole.density_p5 > 0:
        return math.nan
    return math.log2(whole.density_p95 / whole.density_p5)


def _least(values: FloatArray) -> float:
    told = values[np.isfinite(values)]
    return float(told.min()) if len(told) else math.nan


_LAYOUT: tuple[tuple[str, Callable[[LayoutReview], float], str, int], ...] = (
    ("islands", lambda one: float(one.layout.island_count), "", NEUTRAL),
    ("coverage", lambda one: one.measures.coverage.total, "%", BETTER_HIGH),
    ("stretch, median", lambda one: one.measures.whole.stretch_median, "", BETTER_LOW),
    ("stretch, 95 %", lambda one: one.measures.whole.stretch_p95, "", BETTER_LOW),
    ("density, 5 to 95 %", _spread, "octaves", BETTER_LOW),
    ("density, median", lambda one: one.measures.whole.density_median, "px/m", NEUTRAL),
    (
        "flipped triangles",
        lambda one: float(one.measures.island.flipped_triangles.sum()),
        "",
        BETTER_LOW,
    ),
    ("overlap", lambda one: one.measures.overlap.area_px, "px²", BETTER_LOW),
    ("least padding", lambda one: _least(one.measures.gaps.padding_px), "px", NEUTRAL),
    ("least margin", lambda one: _least(one.measures.gaps.margin_px), "px", NEUTRAL),
)

_ISLAND: tuple[tuple[str, Callable[[LayoutReview], NDArray[Any]], str, int], ...] = (
    ("stretch, median", lambda one: one.measures.island.stretch_median, "", BETTER_LOW),
    ("stretch, 95 %", lambda one: one.measures.island.stretch_p95, "", BETTER_LOW),
    ("stretch energy", lambda one: one.measures.island.dirichlet, "", BETTER_LOW),
    ("density", lambda one: one.measures.island.density_median, "px/m", NEUTRAL),
    ("from its target", lambda one: np.abs(one.island_density_octaves), "octaves", BETTER_LOW),
    ("flipped triangles", lambda one: one.measures.island.flipped_triangles, "", BETTER_LOW),
    ("padding", lambda one: one.measures.gaps.padding_px, "px", NEUTRAL),
    ("margin", lambda one: one.measures.gaps.margin_px, "px", NEUTRAL),
)


def _written(value: float, unit: str) -> str:
    if math.isnan(value):
        return "–"
    if unit == "%":
        return percent(value)
    return f"{number(round(value, DECIMALS), 4)} {unit}".strip()
