"""The islands of one layout as the columns of a table, ready to be sorted and filtered."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.check.finding import Finding
from evenweave.notes.waiving import JudgedFinding
from evenweave.pipeline import LayoutReview

Order = NDArray[np.intp]

_DIGITS = re.compile(r"(\d+)")

NAME, FOUND_COLUMN, STRETCH, DENSITY, SURFACE, TEXELS = range(6)
COLUMNS = 6


@dataclass(frozen=True, eq=False)
class IslandRows:
    """Columns over the islands, (I,) each.

    folded, name_rank : for finding and for sorting by name, "pane 9" before "pane 10"
    severity : the gravest open warning's, 0 where there is none; warnings : how many are open
    waived : how many are waived
    stretch : 95th percentile; octaves : density against the target
    surface : share of the layout's surface; texels : texel area at the tile size
    """

    name: tuple[str, ...]
    folded: tuple[str, ...]
    name_rank: FloatArray
    severity: IntArray
    findings: IntArray
    waived: IntArray
    stretch: FloatArray
    octaves: FloatArray
    surface: FloatArray
    texels: FloatArray

    def key(self, column: int) -> FloatArray:
        """Return what a column is sorted by: larger is worse."""
        if column == NAME:
            return self.name_rank
        if column == FOUND_COLUMN:
            return np.asarray(self.severity * 1e6 + self.findings + self.waived / 1e6)
        if column == DENSITY:
            return np.abs(self.octaves)
        return {STRETCH: self.stretch, SURFACE: self.surface, TEXELS: self.texels}[column]

    def order(self, column: int, *, descending: bool, text: str = "", at_least: int = 0) -> Order:
        """Return the islands whose name holds `text` and whose severity suffices, sorted.

        Islands without a value come last in both directions; equals keep their number's order.
        """
        key = self.key(column)
        unknown = np.isnan(key)
        order = np.lexsort((np.where(unknown, 0, -key if descending else key), unknown))
        keep = self.severity >= at_least
        if wanted := text.casefold().strip():
            keep = keep & np.fromiter((wanted in name for name in self.folded), bool, len(keep))
        return order[keep[order]]


def natural(name: str) -> tuple[tuple[int, int, str], ...]:
    """Return a key that sorts "pane 9" before "pane 10"."""
    return tuple(
        (0, int(piece), "") if piece.isdecimal() else (1, 0, piece)
        for piece in _DIGITS.split(name)
        if piece
    )


def island_rows(layout_review: LayoutReview) -> IslandRows:
    """Return the table of a reviewed layout, all of whose findings are open."""
    layout, measures = layout_review.layout, layout_review.measures
    count = layout.island_count
    findings, severity = _found(((one, one.islands) for one in layout_review.findings), count)
    whole = measures.whole.surface_m2
    surface = measures.island.surface_m2
    folded = tuple(name.casefold() for name in layout.island_name)
    rank = np.empty(len(folded))
    rank[sorted(range(len(folded)), key=lambda k: natural(folded[k]))] = np.arange(len(folded))
    return IslandRows(
        name=layout.island_name,
        folded=folded,
        name_rank=frozen(rank),
        severity=severity,
        findings=findings,
        waived=frozen(np.zeros(count, np.int32)),
        stretch=measures.island.stretch_p95,
        octaves=layout_review.island_density_octaves,
        surface=frozen(surface / whole if whole > 0 else np.full_like(surface, np.nan)),
        texels=frozen(measures.island.area_uv * measures.tile.width * measures.tile.height),
    )


def with_waivers(rows: IslandRows, standings: Sequence[JudgedFinding]) -> IslandRows:
    """Return the table with open and waived findings counted apart.

    standings : of all of the layout's warnings
    """
    count = len(rows.name)
    findings, severity = _found(((one.finding, one.open) for one in standings), count)
    waived, _ = _found(((one.finding, one.waived) for one in standings), count)
    return replace(rows, severity=severity, findings=findings, waived=waived)


def _found(named: Iterable[tuple[Finding, Sequence[int]]], count: int) -> tuple[IntArray, IntArray]:
    """Return for each island how many of the findings name it, and the gravest's severity."""
    findings = np.zeros(count, np.int32)
    severity = np.zeros(count, np.int32)
    for finding, names in named:
        islands = np.asarray(names, dtype=np.intp)
        findings[islands] += 1
        severity[islands] = np.maximum(severity[islands], int(finding.severity))
    return frozen(findings), frozen(severity)


def has_same_findings(rows: IslandRows, other: IslandRows) -> bool:
    """Tell whether two tables of one layout say the same of its islands' findings."""
    return rows.name is other.name and all(
        np.array_equal(getattr(rows, key), getattr(other, key))
        for key in ("severity", "findings", "waived")
    )
