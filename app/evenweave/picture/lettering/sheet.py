"""The sheet around the views of a picture: where things stand, its title, and its findings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from evenweave.check.finding import Finding, Severity
from evenweave.check.numbers import counted, density, number, percent, printable
from evenweave.notes.waiver_words import open_severities, verdict, waived_count
from evenweave.notes.waiving import JudgedFinding
from evenweave.picture.lettering.lettering import Page, shortened, width
from evenweave.picture.lettering.marks import sign
from evenweave.pipeline import LayoutReview, Review
from evenweave.raster.colour.colours import Colour

GROUND: Colour = (244, 243, 240)
INK: Colour = (34, 36, 40)
QUIET: Colour = (104, 106, 110)
SIGN: dict[Severity, Colour] = {
    Severity.FAULT: (34, 36, 40),
    Severity.WARNING: (34, 36, 40),
    Severity.NOTE: (104, 106, 110),
}
_LARGE, _SMALL = 20, 13
_GRID = 8


@dataclass(frozen=True)
class Box:
    """A rectangle in pixels."""

    left: int
    top: int
    width: int
    height: int


@dataclass(frozen=True)
class Sheet:
    """Where things stand. `unit` : pixels per pixel of a plain display, for lettering and lines."""

    unit: float
    title: Box
    views: tuple[Box, ...]
    legend: Box
    findings: Box


def sheet(width_px: int, height_px: int, *, views: int) -> Sheet:
    """Divide a sheet: title above, views in the middle, legend and findings below."""
    unit = max(0.5, min(width_px / 1280, height_px / 800))
    edge = round(2 * _GRID * unit)
    title_height = round(7 * _GRID * unit)
    foot_height = round(18 * _GRID * unit)
    gap = round(_GRID * unit)
    inner = width_px - 2 * edge
    view_height = height_px - 2 * edge - title_height - foot_height - gap
    view_width = (inner - (views - 1) * gap) // views
    top = edge + title_height
    boxes = tuple(
        Box(edge + i * (view_width + gap), top, view_width, view_height) for i in range(views)
    )
    foot = top + view_height + gap
    legend_width = round(inner * 0.36)
    return Sheet(
        unit,
        Box(edge, edge, inner, title_height),
        boxes,
        Box(edge, foot, legend_width, foot_height),
        Box(edge + legend_width + 3 * gap, foot, inner - legend_width - 3 * gap, foot_height),
    )


def draw_title(
    page: Page,
    place: Sheet,
    review: Review,
    layout_review: LayoutReview,
    findings: Sequence[JudgedFinding],
) -> None:
    """Write the file and the layout, and below the numbers that matter.

    warnings : of the layout, as they stand with the waivers
    """
    box, unit = place.title, place.unit
    large, small = round(_LARGE * unit), round(_SMALL * unit)
    file = printable(review.asset.path.name)
    layout = printable(layout_review.layout.name) or "no material"
    right = verdict(open_severities(findings), waived_count(findings))
    room = box.width - width(right, small) - 3 * _GRID * unit
    title = shortened(f"{file}, {layout}", room, large, "bold")
    page.write((box.left, box.top + large), title, large, colour=INK, weight="bold")
    page.write((box.left + box.width, box.top + large), right, small, colour=INK, align="right")
    line = shortened("   ".join(_facts(review, layout_review)), box.width, small)
    page.write((box.left, box.top + large + 1.7 * small), line, small, colour=QUIET)


def _facts(review: Review, layout_review: LayoutReview) -> list[str]:
    tile, whole = layout_review.measures.tile, layout_review.measures.whole
    facts = [
        f"UV set {printable(layout_review.layout.uv_set)}"
        if layout_review.layout.uv_set
        else "no UVs",
        counted(layout_review.layout.island_count, "island"),
        f"tile {tile.width} × {tile.height}",
    ]
    if layout_review.layout.island_count:
        target = density(layout_review.target_density, review.limits.density_unit)
        facts += [
            f"target {target}"
            + (" (the layout's median)" if layout_review.target_is == "median" else ""),
            f"stretch {number(whole.stretch_median)} median, {number(whole.stretch_p95)} at 95 %",
            f"coverage {percent(layout_review.measures.coverage.total)}",
        ]
    return facts


@dataclass(frozen=True)
class SheetLine:
    """All warnings of one check and severity: how many, and the gravest in short."""

    severity: Severity
    text: str
    is_waived: bool


def sheet_lines(findings: Sequence[JudgedFinding]) -> list[SheetLine]:
    """Return the warnings in short, one entry a check and severity: gravest first, waived last."""
    groups: dict[tuple[bool, str, Severity], list[Finding]] = {}
    for one in sorted(findings, key=lambda one: one.is_waived):
        kind = one.is_waived, one.finding.check, one.finding.severity
        groups.setdefault(kind, []).append(one.finding)
    return [
        SheetLine(severity, f"Waived: {_short(group)}" if is_waived else _short(group), is_waived)
        for (is_waived, _, severity), group in groups.items()
    ]


def _short(group: list[Finding]) -> str:
    worst = group[0]
    text = worst.title
    if math.isfinite(worst.value):
        text += f": {_amount(worst.value, worst.unit)}"
        if math.isfinite(worst.limit) and worst.limit != 0:
            text += f" (limit {_amount(worst.limit, worst.unit).removesuffix(worst.unit).strip()})"
    return f"{text}, {len(group)} times" if len(group) > 1 else text


def _amount(value: float, unit: str) -> str:
    if unit == "share":
        return percent(value)
    if unit == "ratio":
        return number(value)
    if value == 1:
        unit = unit.removesuffix("s")
    return f"{number(value)} {unit}".rstrip().replace("-", "−")


def draw_findings(page: Page, place: Sheet, findings: Sequence[JudgedFinding]) -> None:
    """Write what was found in two columns, as far as there is room: sign, title and number."""
    box, unit = place.findings, place.unit
    small = round(_SMALL * unit)
    step = 1.4 * small
    found = sheet_lines(findings)
    if not found:
        page.write((box.left, box.top + small), "Nothing to remark.", small, colour=QUIET)
        return
    lines = max(int(box.height / step), 1)
    shown = found if len(found) <= 2 * lines else found[: 2 * lines - 1]
    gap = 2 * _GRID * unit
    column = (box.width - gap) / 2
    side = 0.72 * small
    for number_, finding in enumerate(shown):
        x = box.left + (number_ // lines) * (column + gap)
        y = box.top + small + round((number_ % lines) * step)
        colour = QUIET if finding.is_waived else SIGN[finding.severity]
        page.polygon(sign(finding.severity, x, y - side, side), colour)
        text = shortened(printable(finding.text), column - 1.4 * small, small)
        ink = QUIET if finding.is_waived else INK
        page.write((x + 1.4 * small, y), text, small, colour=ink)
    if len(shown) < len(found):
        x, y = box.left + column + gap, box.top + small + round((lines - 1) * step)
        rest = f"and {counted(len(found) - len(shown), 'more kind')}"
        if waived := sum(one.is_waived for one in found[len(shown) :]):
            rest += f", {waived} of them waived"
        page.write((x + 1.4 * small, y), rest, small, colour=QUIET)
