"""The result as a person reads it in a terminal: quiet, aligned, worst first."""

from __future__ import annotations

import math
import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from evenweave.check.numbers import counted, density, number, percent, printable
from evenweave.check.warning import LayoutWarning, Severity
from evenweave.report.machine import Outcome
from evenweave.review import LayoutReview, Review

WIDTH = 96
MARK = {Severity.FAULT: "fault", Severity.WARNING: "warning", Severity.NOTE: "note"}
HANGING = " " * 28
MOST_OF_A_KIND = 5


@dataclass(frozen=True)
class FileText:
    """What is said of one file, and what is counted over all of them."""

    text: str
    severities: tuple[Severity, ...]
    is_read: bool


def file_text(outcome: Outcome, *, is_full: bool = False) -> FileText:
    """Say what was found in a file; with `is_full` also why, what to do and how measured."""
    layouts = outcome.review.layouts if outcome.review else ()
    return FileText(
        "\n".join(_file_lines(outcome, is_full)),
        tuple(warning.severity for one in layouts for warning in one.warnings),
        outcome.review is not None,
    )


def report_text(files: Sequence[FileText]) -> str:
    """Put the texts of files together, with a last line that counts over all of them."""
    blocks = [file.text for file in files]
    if len(files) > 1:
        unread = sum(not file.is_read for file in files)
        tail = f"; {counted(unread, 'file')} could not be read" if unread else ""
        found = verdict(severity for file in files for severity in file.severities)
        blocks.append(f"{counted(len(files), 'file')}: {found}{tail}")
    return "\n\n".join(blocks) + "\n"


def verdict(severities: Iterable[Severity]) -> str:
    """Count severities in words, gravest first.

    >>> verdict([])
    'nothing to remark'
    """
    count = Counter(severities)
    parts = [counted(count[severity], MARK[severity]) for severity in MARK if count[severity]]
    return ", ".join(parts) or "nothing to remark"


def _file_lines(outcome: Outcome, is_full: bool) -> list[str]:
    if outcome.review is None:
        return [printable(str(outcome.path)), f"  {'unread':<9}{printable(str(outcome.problem))}"]
    done = outcome.review
    source = printable(str(outcome.limits_path)) if outcome.limits_path else "the defaults"
    lines = [printable(str(outcome.path)), f"  {_asset_line(done)}; limits: {source}"]
    for remark in done.asset.remarks:
        lines += _wrapped("  remark   ", remark, " " * 11)
    for one in done.layouts:
        lines += ["", *_layout_lines(one, done, is_full)]
    return lines


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


def _layout_lines(one: LayoutReview, done: Review, is_full: bool) -> list[str]:
    tile = one.measures.tile
    about = [
        printable(one.layout.uv_set) or "no UVs",
        f"{tile.width} x {tile.height} texels",
        counted(one.layout.island_count, "island"),
        *(["tiling"] if one.purpose == "tiling" else []),
    ]
    name = printable(one.layout.name) or "no material"
    found = (warning.severity for warning in one.warnings)
    lines = [f"  {name} ({', '.join(about)}): {verdict(found)}"]
    if math.isfinite(one.measures.whole.density_median):
        lines += _number_lines(one, done.limits.density_unit)
    told: Counter[tuple[str, Severity]] = Counter()
    for warning in one.warnings:
        kind = warning.check, warning.severity
        told[kind] += 1
        if is_full or told[kind] <= MOST_OF_A_KIND:
            lines += _warning_lines(warning, is_full)
    for (check, severity), count in told.items():
        if not is_full and count > MOST_OF_A_KIND:
            more = f"{count - MOST_OF_A_KIND:,} more of this kind; --explain lists them all."
            lines += _wrapped(_start(severity, check), more, HANGING)
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


def _warning_lines(warning: LayoutWarning, is_full: bool) -> list[str]:
    lines = _wrapped(_start(warning.severity, warning.check), warning.what, HANGING)
    if is_full:
        for label, text in (("why", warning.why), ("do", warning.do), ("how", warning.how)):
            lines += _wrapped(f"{HANGING}{label:<5}", text, HANGING + " " * 5)
    return lines


def _start(severity: Severity, check: str) -> str:
    return f"    {MARK[severity]:<9}{check:<15}"


def _wrapped(start: str, text: str, hanging: str) -> list[str]:
    return textwrap.wrap(
        printable(text),
        WIDTH,
        initial_indent=start,
        subsequent_indent=hanging,
        break_on_hyphens=False,
        break_long_words=False,
    )
