"""The result as a person reads it in a terminal: quiet, aligned, worst first."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import chain

from evenweave.check.finding import Severity
from evenweave.check.numbers import counted, density, number, printable
from evenweave.check.tile import is_from_texture
from evenweave.layout.unread import unread_sets
from evenweave.notes.outcome import Outcome
from evenweave.notes.waiver_words import (
    not_holding,
    open_severities,
    status,
    verdict,
    waived_count,
)
from evenweave.notes.waiving import JudgedFinding
from evenweave.pipeline import LayoutReview, Review
from evenweave.quantities.catalogue import COVERAGE, STRETCH_95
from evenweave.report.text.wrapping import wrapped

MARK = {Severity.FAULT: "fault", Severity.WARNING: "warning", Severity.NOTE: "remark"}
HANGING = " " * 28
MOST_OF_A_KIND = 5


@dataclass(frozen=True)
class FileText:
    """What is said of one file, and what is counted over all of them.

    severities : of what is open; waived : how many are waived
    """

    text: str
    severities: tuple[Severity, ...]
    waived: int
    is_read: bool


IsListed = Callable[[JudgedFinding], bool]


def _every(_: JudgedFinding) -> bool:
    return True


def file_text(outcome: Outcome, *, is_full: bool = False, is_listed: IsListed = _every) -> FileText:
    """Say what was found in a file; with `is_full` also why, what to do and how measured.

    is_listed : which warnings to list and to count
    """
    standings = [list(filter(is_listed, findings)) for findings in outcome.standings]
    every = list(chain.from_iterable(standings))
    return FileText(
        "\n".join(_file_lines(outcome, standings, is_full)),
        open_severities(every),
        waived_count(every),
        outcome.review is not None,
    )


def report_text(files: Sequence[FileText]) -> str:
    """Put the texts of files together, with a last line that counts over all of them."""
    blocks = [file.text for file in files]
    if len(files) > 1:
        unread = sum(not file.is_read for file in files)
        tail = f"; {counted(unread, 'file')} could not be read" if unread else ""
        severities = chain.from_iterable(file.severities for file in files)
        found = verdict(severities, sum(file.waived for file in files))
        blocks.append(f"{counted(len(files), 'file')}: {found}{tail}")
    return "\n\n".join(blocks) + "\n"


def _file_lines(
    outcome: Outcome, standings: Sequence[Sequence[JudgedFinding]], is_full: bool
) -> list[str]:
    if outcome.review is None:
        return [printable(str(outcome.path)), f"  {'unread':<9}{printable(str(outcome.problem))}"]
    done = outcome.review
    source = printable(str(outcome.limits_path)) if outcome.limits_path else "the defaults"
    lines = [printable(str(outcome.path)), f"  {_asset_line(done)}; limits: {source}"]
    for caveat in done.asset.caveats:
        lines += wrapped("  remark   ", caveat, " " * 11)
    for unread in unread_sets(done.asset, (one.layout for one in done.layouts)):
        choice = f"--uv-set {unread.uv_set} judges it."
        lines += wrapped("  unjudged ", f"{unread.words()} {choice}", " " * 11)
    if told := _waiver_line(outcome):
        lines += wrapped("  waivers  ", told, " " * 11)
    lines += _density_table(done)
    for one, findings in zip(done.layouts, standings, strict=True):
        lines += ["", *_layout_lines(one, findings, done, is_full)]
    return lines


def _density_table(review: Review) -> list[str]:
    """Return the layouts of one asset beside each other, where there are several."""
    measured = [
        one
        for one in review.layouts
        if math.isfinite(one.measures.whole.density_median)
        and one.limits.use_of(one.layout.uv_set) != "lightmap"
    ]
    if len(measured) < 2:
        return []
    rows = [
        (
            printable(one.layout.name) or "no material",
            f"{one.measures.tile.width} x {one.measures.tile.height}",
            density(one.measures.whole.density_median, review.limits.density_unit),
            _importance(one),
        )
        for one in measured
    ]
    width = min(max(len(row[0]) for row in rows), 40)
    return [
        "",
        *(
            f"  {name[:width]:<{width}}  {tile:>13}  {value}{importance}"
            for name, tile, value, importance in rows
        ),
    ]


def _importance(layout_review: LayoutReview) -> str:
    factors = sorted(set(layout_review.island_importance.tolist()))
    if factors == [1.0]:
        return ""
    span = (
        number(factors[0])
        if len(factors) == 1
        else f"{number(factors[0])} to {number(factors[-1])}"
    )
    return f", importance {span}"


def _waiver_line(outcome: Outcome) -> str:
    if outcome.notes_problem is not None:
        return f"none applied: {outcome.notes_problem}"
    loose = not_holding(outcome.waiving) if outcome.waiving else ""
    return f"{loose}; evenweave notes lists them all" if loose else ""


def _asset_line(review: Review) -> str:
    asset = review.asset
    unit = f"{number(asset.unit.metres, 6)} m per unit"
    return ", ".join(
        (
            asset.format,
            counted(len(asset.part_names), "part"),
            counted(asset.face_count, "face"),
            unit if asset.unit.is_stated else f"{unit} (assumed)",
        )
    )


def _layout_lines(
    layout_review: LayoutReview, findings: Sequence[JudgedFinding], review: Review, is_full: bool
) -> list[str]:
    tile = layout_review.measures.tile
    about = [
        printable(layout_review.layout.reads()) or "no UVs",
        f"{tile.width} x {tile.height} texels{_tile_source(layout_review, review)}",
        counted(layout_review.layout.island_count, "island"),
        *(["tiling"] if layout_review.purpose == "tiling" else []),
    ]
    name = printable(layout_review.layout.name) or "no material"
    found = verdict(open_severities(findings), waived_count(findings))
    lines = [f"  {name} ({', '.join(about)}): {found}"]
    if math.isfinite(layout_review.measures.whole.density_median):
        lines += _number_lines(layout_review, review.limits.density_unit)
    told: Counter[str] = Counter()
    for standing in findings:
        start = _start(standing)
        told[start] += 1
        if is_full or told[start] <= MOST_OF_A_KIND:
            lines += _finding_lines(standing, layout_review.layout.island_name, is_full)
    for start, count in told.items():
        if not is_full and count > MOST_OF_A_KIND:
            more = f"{count - MOST_OF_A_KIND:,} more of this kind; --explain lists them all."
            lines += wrapped(start, more, HANGING)
    return lines


def _tile_source(layout_review: LayoutReview, review: Review) -> str:
    is_taken = is_from_texture(layout_review.layout, review.limits)
    return " as its texture" if is_taken else ""


def _number_lines(layout_review: LayoutReview, unit: str) -> list[str]:
    whole = layout_review.measures.whole
    if layout_review.target_is == "given":
        against = f"median; the target is {density(layout_review.target_density, unit)}"
    else:
        against = "median, taken as the target"
    return [
        f"    {'density':<9}{density(whole.density_median, unit)} {against}",
        f"    {'stretch':<9}{STRETCH_95.write(whole.stretch_median)} median, "
        f"{STRETCH_95.write(whole.stretch_p95)} at 95 % of the surface",
        f"    {'coverage':<9}{COVERAGE.say(layout_review.measures.coverage.total)}",
    ]


def _finding_lines(standing: JudgedFinding, names: Sequence[str], is_full: bool) -> list[str]:
    finding = standing.finding
    lines = wrapped(_start(standing), finding.what, HANGING)
    for line in status(standing, names):
        lines += wrapped(HANGING, line, HANGING)
    if is_full:
        for label, text in (("why", finding.why), ("do", finding.do), ("how", finding.how)):
            lines += wrapped(f"{HANGING}{label:<5}", text, HANGING + " " * 5)
    return lines


def _start(standing: JudgedFinding) -> str:
    finding = standing.finding
    mark = "waived" if standing.is_waived else MARK[finding.severity]
    return f"    {mark:<9}{finding.check:<15}"
