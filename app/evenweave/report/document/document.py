"""From a review and its notes to the document that is handed over."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.check.finding import Severity
from evenweave.check.numbers import density, number, printable
from evenweave.notes.locating import Finder, FoundNote
from evenweave.notes.store import EMPTY, NoteStore, now
from evenweave.notes.waiver_words import (
    GRAVEST_FIRST,
    by_severity,
    open_severities,
    status,
    verdict,
    waived_count,
)
from evenweave.notes.waiving import JudgedFinding, apply_waivers
from evenweave.picture.lettering.pins import finding_pins, note_pins
from evenweave.picture.scene.scene import Scene, prepare_scene
from evenweave.pipeline import LayoutReview, Review
from evenweave.progress import Progress, silent, within
from evenweave.quantities.catalogue import COVERAGE, OCTAVES, PADDING, STRETCH_95, SURFACE, TEXELS
from evenweave.report.document import words
from evenweave.report.document.content import (
    FindingBlock,
    IslandLine,
    LayoutSection,
    Pair,
    ReviewDocument,
    SummaryLine,
)
from evenweave.report.document.figures import LayoutFigures

MOST_LAYOUTS = 12
MOST_SUMMARISED = 60
MOST_ROWS = 40
MOST_FINDINGS = 40
MOST_PLACES = 30
MOST_PLACES_IN_ALL = 90
_STRETCH_FULL = 2.0  # a full bar in the table
_OCTAVES_FULL = 2.0


def review_document(
    review: Review,
    store: NoteStore = EMPTY,
    *,
    limits_path: Path | None = None,
    scene: Scene | None = None,
    made: str | None = None,
    progress: Progress = silent,
) -> ReviewDocument:
    """Put together what a review hands over; its size does not grow with the mesh.

    scene : of this review, if at hand; made : the time to write on it, by default now
    """
    scene = scene or prepare_scene(review, within(progress, 0.0, 0.3))
    finder = Finder([one.layout for one in review.layouts])
    judged, found = apply_waivers(review, store, finder), finder.notes(store.notes)
    shown = _layouts_shown(review, judged.layouts)
    sections: list[LayoutSection] = []
    for step, index in enumerate(shown):
        progress(0.3 + 0.7 * step / len(shown), "drawing the review")
        places = max(min(MOST_PLACES, MOST_PLACES_IN_ALL - _places(sections)), 0)
        sections.append(
            _section(scene, index, judged.layouts[index], located=found, most_places=places)
        )
    progress(1.0, "drawing the review")
    lines = tuple(
        _summary(one, findings, review)
        for one, findings in zip(review.layouts, judged.layouts, strict=True)
    )
    return ReviewDocument(
        file=printable(review.asset.path.name),
        headline=words.headline(judged),
        sentences=words.sentences(judged, found),
        worst=judged.worst_open,
        summary=lines[:MOST_SUMMARISED],
        summary_left_out=max(len(lines) - MOST_SUMMARISED, 0),
        layouts=tuple(sections),
        layouts_left_out=len(review.layouts) - len(shown),
        notes=words.note_lines(found, review),
        waivers=words.waiver_lines(judged),
        limits=words.limit_groups(review.limits),
        about=words.about(
            review, limits_path, made or now().replace("T", " ").replace("Z", " UTC")
        ),
    )


def _layouts_shown(review: Review, judged: Sequence[Sequence[JudgedFinding]]) -> list[int]:
    """Return the layouts that get a section, in their order: the gravest where there are many."""

    def gravity(index: int) -> tuple[int, int]:
        is_open = [one for one in judged[index] if not one.is_waived]
        return -max((one.finding.severity for one in is_open), default=0), -len(is_open)

    gravest = sorted(range(len(review.layouts)), key=gravity)[:MOST_LAYOUTS]
    return sorted(gravest)


def _summary(
    layout_review: LayoutReview, findings: Sequence[JudgedFinding], review: Review
) -> SummaryLine:
    whole, covered = layout_review.measures.whole, layout_review.measures.coverage.total
    return SummaryLine(
        name=printable(layout_review.layout.name) or "no material",
        islands=f"{layout_review.layout.island_count:,}",
        open=by_severity(open_severities(findings)),
        waived=waived_count(findings),
        density=_known(whole.density_median, density(whole.density_median,
                                                     review.limits.density_unit)),
        stretch=STRETCH_95.write(whole.stretch_p95),
        coverage=COVERAGE.write(covered),
    )  # fmt: skip


def _places(sections: Sequence[LayoutSection]) -> int:
    """Return how many pictures of places there are so far."""
    return sum(one.figure is not None for section in sections for one in section.findings)


def _section(
    scene: Scene,
    index: int,
    findings: Sequence[JudgedFinding],
    *,
    located: Sequence[FoundNote],
    most_places: int,
) -> LayoutSection:
    done = scene.review
    one = done.layouts[index]
    drawing = LayoutFigures(scene, index, done.limits)
    # Open ones first: numbers in the pictures are those of the list.
    ordered = sorted(findings, key=lambda waived: waived.is_waived)
    shown = ordered[:MOST_FINDINGS]
    pins = (
        *finding_pins(one, [waived.finding for waived in shown if not waived.is_waived],
                      labels=False),
        *note_pins(located, index, labels=False),
    )  # fmt: skip
    rows, left_out = _rows(one, findings)
    return LayoutSection(
        name=printable(one.layout.name) or "no material",
        verdict=verdict(open_severities(findings), waived_count(findings)),
        facts=_facts(one, done),
        figures=drawing.figures(pins),
        bars=drawing.bars(),
        rows=rows,
        rows_left_out=left_out,
        findings=_findings(one, shown, drawing, most_places=most_places),
        findings_left_out=len(ordered) - len(shown),
    )


def _facts(layout_review: LayoutReview, review: Review) -> tuple[Pair, ...]:
    tile, whole = layout_review.measures.tile, layout_review.measures.whole
    target = density(layout_review.target_density, review.limits.density_unit)
    source = " (the layout's median)" if layout_review.target_is == "median" else ""
    facts = [
        ("UV set", printable(layout_review.layout.reads()) or "none"),
        ("Purpose", layout_review.purpose),
        ("Tile", f"{tile.width} × {tile.height} texels"),
        ("Islands", f"{layout_review.layout.island_count:,}"),
    ]
    if math.isfinite(whole.density_median):
        facts += [
            ("Target", target + source),
            ("Density", density(whole.density_median, review.limits.density_unit) + ", median"),
            ("Stretch", f"{STRETCH_95.write(whole.stretch_median)} median, "
                        f"{STRETCH_95.write(whole.stretch_p95)} at 95 % of the surface"),
            ("Coverage", COVERAGE.say(layout_review.measures.coverage.total)),
        ]  # fmt: skip
    return tuple(facts)


def _findings(
    layout_review: LayoutReview,
    judgeds: Sequence[JudgedFinding],
    drawing: LayoutFigures,
    *,
    most_places: int,
) -> tuple[FindingBlock, ...]:
    told: dict[tuple[str, str, str], int] = {}
    blocks, places = [], 0
    for number_, waived in enumerate(judgeds, 1):
        finding = waived.finding
        has_place = finding.worst >= 0 or len(finding.points) > 0
        figure = drawing.place(finding) if has_place and places < most_places else None
        places += figure is not None
        texts = (finding.why, finding.do, finding.how)
        blocks.append(
            FindingBlock(
                number=number_,
                severity=finding.severity,
                is_waived=waived.is_waived,
                title=finding.title,
                what=printable(finding.what),
                why=printable(finding.why),
                do=printable(finding.do),
                how=printable(finding.how),
                status=status(waived, layout_review.layout.island_name),
                same_as=told.get(texts, 0),
                figure=figure,
            )
        )
        told.setdefault(texts, number_)
    return tuple(blocks)


def _rows(
    layout_review: LayoutReview, findings: Sequence[JudgedFinding]
) -> tuple[tuple[IslandLine, ...], int]:
    """Return the worst islands' rows, and how many islands more there are."""
    count = layout_review.layout.island_count
    severity: IntArray = np.zeros((count, 4), dtype=np.int32)
    waived: IntArray = np.zeros(count, dtype=np.int32)
    for entry in findings:
        severity[list(entry.open), entry.finding.severity] += 1
        waived[list(entry.waived)] += 1
    order = _worst_first(layout_review, severity)[:MOST_ROWS]
    surface = layout_review.measures.island.surface_m2
    share = surface / surface.sum() if surface.sum() > 0 else surface
    rows = tuple(_row(layout_review, int(i), severity[i], int(waived[i]), share[i]) for i in order)
    return rows, count - len(rows)


def _worst_first(layout_review: LayoutReview, severity: IntArray) -> IntArray:
    """Return islands: most faults first, then most warnings, then the least even ones."""
    stretch = np.log2(
        np.maximum(np.nan_to_num(layout_review.measures.island.stretch_p95, nan=1.0), 1.0)
    )
    badness: FloatArray = stretch + np.abs(np.nan_to_num(layout_review.island_density_octaves))
    keys = (-badness, -severity[:, Severity.NOTE], -severity[:, Severity.WARNING],
            -severity[:, Severity.FAULT])  # fmt: skip
    return np.lexsort(keys).astype(np.int32)


def _row(
    layout_review: LayoutReview, island: int, severity: IntArray, waived: int, share: float
) -> IslandLine:
    measures, tile = layout_review.measures.island, layout_review.measures.tile
    stretch, octaves = (
        float(measures.stretch_p95[island]),
        float(layout_review.island_density_octaves[island]),
    )
    padding = float(layout_review.measures.gaps.padding_px[island])
    reach = layout_review.measures.gaps.reach_px
    texels = float(measures.area_uv[island]) * tile.width * tile.height
    return IslandLine(
        name=printable(layout_review.layout.island_name[island]),
        open=tuple((s, int(severity[s])) for s in GRAVEST_FIRST if severity[s]),
        waived=waived,
        stretch=STRETCH_95.write(stretch),
        stretch_bar=min(max((stretch - 1) / (_STRETCH_FULL - 1), 0.0), 1.0)
        if math.isfinite(stretch)
        else 0.0,
        density=OCTAVES.write(octaves),
        density_bar=min(max(octaves / _OCTAVES_FULL, -1.0), 1.0) if math.isfinite(octaves) else 0.0,
        padding=f"over {number(reach)}" if padding == math.inf else PADDING.write(padding),
        surface=SURFACE.write(share),
        texels=TEXELS.write(texels),
    )


def _known(value: float, text: str) -> str:
    return text if math.isfinite(value) else "–"


def _octaves(value: float) -> str:
    return "0" if abs(value) < 0.005 else f"{value:+.2f}".replace("-", "−")
