"""The result as a person reads it in a terminal: quiet, aligned, worst first."""

from __future__ import annotations

import math
import textwrap
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import chain

from evenweave.check.numbers import counted, density, number, percent, printable
from evenweave.check.warning import Severity
from evenweave.notes.outcome import Outcome
from evenweave.notes.waiver_words import (
    not_holding,
    open_severities,
    status,
    verdict,
    waived_count,
)
from evenweave.notes.waiving import WaivedWarning
from evenweave.review import LayoutReview, Review

WIDTH = 96
MARK = {Severity.FAULT: "fault", Severity.WARNING: "warning", Severity.NOTE: "note"}
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


IsListed = Callable[[WaivedWarning], bool]


def _every(_: WaivedWarning) -> bool:
    return True


def file_text(outcome: Outcome, *, is_full: bool = False, is_listed: IsListed = _every) -> FileText:
    """Say what was found in a file; with `is_full` also why, what to do and how measured.

    is_listed : which warnings to list and to count
    """
    standings = [list(filter(is_listed, warnings)) for warnings in outcome.standings]
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
    outcome: Outcome, standings: Sequence[Sequence[WaivedWarning]], is_full: bool
) -> list[str]:
    if outcome.review is None:
        return [printable(str(outcome.path)), f"  {'unread':<9}{printable(str(outcome.problem))}"]
    done = outcome.review
    source = printable(str(outcome.limits_path)) if outcome.limits_path else "the defaults"
    lines = [printable(str(outcome.path)), f"  {_asset_line(done)}; limits: {source}"]
    for remark in done.asset.remarks:
        lines += _wrapped("  remark   ", remark, " " * 11)
    if told := _waiver_line(outcome):
        lines += _wrapped("  waivers  ", told, " " * 11)
    for one, warnings in zip(done.layouts, standings, strict=True):
        lines += ["", *_layout_lines(one, warnings, done, is_full)]
    return lines


def _waiver_line(outcome: Outcome) -> str:
    if outcome.notes_problem is not None:
        return f"none applied: {outcome.notes_problem}"
    loose = not_holding(outcome.waiving) if outcome.waiving else ""
    return f"{loose}; evenweave notes lists them all" if loose else ""


def _asset_line(done: Review) -> str:
    asset = done.asset
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
    one: LayoutReview, warnings: Sequence[WaivedWarning], done: Review, is_full: bool
) -> list[str]:
    tile = one.measures.tile
    about = [
        printable(one.layout.uv_set) or "no UVs",
        f"{tile.width} x {tile.height} texels",
        counted(one.layout.island_count, "island"),
        *(["tiling"] if one.purpose == "tiling" else []),
    ]
    name = printable(one.layout.name) or "no material"
    found = verdict(open_severities(warnings), waived_count(warnings))
    lines = [f"  {name} ({', '.join(about)}): {found}"]
    if math.isfinite(one.measures.whole.density_median):
        lines += _number_lines(one, done.limits.density_unit)
    told: Counter[str] = Counter()
    for standing in warnings:
        start = _start(standing)
        told[start] += 1
        if is_full or told[start] <= MOST_OF_A_KIND:
            lines += _warning_lines(standing, one.layout.island_name, is_full)
    for start, count in told.items():
        if not is_full and count > MOST_OF_A_KIND:
            more = f"{count - MOST_OF_A_KIND:,} more of this kind; --explain lists them all."
            lines += _wrapped(start, more, HANGING)
    return lines


def _number_lines(one: LayoutReview, unit: str) -> list[str]:
    whole = one.measures.whole
    if one.target_is == "given":
        against = f"median; the target is {density(one.target_density, unit)}"
    else:
        against = "median, taken as the target"
    return [
        f"    {'density':<9}{density(whole.density_median, unit)} {against}",
        f"    {'stretch':<9}{number(whole.stretch_median)} median, "
        f"{number(whole.stretch_p95)} at 95 % of the surface",
        f"    {'coverage':<9}{percent(one.measures.coverage.total)}",
    ]


def _warning_lines(standing: WaivedWarning, names: Sequence[str], is_full: bool) -> list[str]:
    warning = standing.warning
    lines = _wrapped(_start(standing), warning.what, HANGING)
    for line in status(standing, names):
        lines += _wrapped(HANGING, line, HANGING)
    if is_full:
        for label, text in (("why", warning.why), ("do", warning.do), ("how", warning.how)):
            lines += _wrapped(f"{HANGING}{label:<5}", text, HANGING + " " * 5)
    return lines


def _start(standing: WaivedWarning) -> str:
    warning = standing.warning
    mark = "waived" if standing.is_waived else MARK[warning.severity]
    return f"    {mark:<9}{warning.check:<15}"


def _wrapped(start: str, text: str, hanging: str) -> list[str]:
    return textwrap.wrap(
        printable(text),
        WIDTH,
        initial_indent=start,
        subsequent_indent=hanging,
        break_on_hyphens=False,
        break_long_words=False,
    )
