"""A comparison as a person reads it in a terminal: the verdict, then what changed."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from evenweave.check.numbers import counted, number, percent, printable, several
from evenweave.compare.comparison import Comparison, LayoutChange
from evenweave.compare.figures import Figure
from evenweave.compare.findings import FindingChange, Standing
from evenweave.compare.states import STATES, State
from evenweave.compare.verdict import by_severity, verdict
from evenweave.notes.waiver_words import status
from evenweave.report.machine.compare_waivers import WaivedChange
from evenweave.report.text.text import HANGING, MARK, MOST_OF_A_KIND
from evenweave.report.text.wrapping import wrapped

MOST_OF_A_STATE = 8
LEAST_KEPT = 0.5
_STANDINGS: dict[Standing, str] = {
    "new": "new",
    "grown": "grown",
    "remaining": "remaining",
    "fixed": "fixed",
    "gone": "gone with their UVs",
}
_FIGURES = {
    "islands": ("islands", ""),
    "coverage": ("coverage", "share"),
    "overlap_px": ("overlap", "texels²"),
    "density_px_per_m": ("density, median", "texels per metre"),
    "stretch_median": ("stretch, median", ""),
    "stretch_p95": ("stretch at 95 %", ""),
    "padding_px": ("least padding", "texels"),
    "margin_px": ("least margin", "texels"),
    "seam_m": ("seams", "m"),
    "warnings": ("warnings in all", ""),
}


def comparison_text(comparison: Comparison, waived: Sequence[WaivedChange] = ()) -> str:
    """Say how two passes differ. waived : findings of the new pass that are told apart."""
    told = verdict(comparison)
    if waived:
        count = Counter(found.finding.severity for found, _ in waived)
        told += f" Waived: {by_severity(count)}."
    lines = [
        " -> ".join(printable(str(side.asset.path)) for side in (comparison.old, comparison.new)),
        *wrapped("  ", told, "  "),
    ]
    for change in comparison.layouts:
        lines += _layout_lines(change, comparison)
    lines += _island_lines(comparison) + _face_lines(comparison)
    for standing in _STANDINGS:
        lines += _finding_lines(comparison, standing)
    lines += _waived_lines(comparison, waived)
    return "\n".join(lines) + "\n"


def _layout_lines(change: LayoutChange, comparison: Comparison) -> list[str]:
    name = printable(change.name) or "no material"
    if change.old < 0 or change.new < 0:
        return ["", f"  {name}: layout {'added' if change.old < 0 else 'lost'}"]
    earlier = comparison.old.layouts[change.old].layout.name
    lines = [f"  {name}" + (f", was {printable(earlier)}" if earlier != change.name else "")]
    for key, (label, unit) in _FIGURES.items():
        figure = change.figures[key]
        if figure.has_changed and (values := _change(figure, unit)):
            lines.append(f"    {label:<17}{values}")
    return ["", *lines] if len(lines) > 1 else []


def _change(figure: Figure, unit: str) -> str:
    """Write both values, "" where they read the same."""
    values = figure.before, figure.after
    write = percent if unit == "share" else number
    before, after = ("none" if math.isnan(value) else write(value) for value in values)
    if before == after:
        return ""
    unit = "" if unit == "share" else unit
    if after == "none":
        return f"{before} {unit}".rstrip() + " -> none"
    return f"{before} -> {after} {unit}".rstrip()


def _island_lines(comparison: Comparison) -> list[str]:
    lines: list[str] = []
    islands_old = comparison.islands.old
    for state in STATES:
        rows = comparison.rows_of(state).tolist()
        if state == "unchanged" or not rows:
            continue
        for row in rows[:MOST_OF_A_STATE]:
            what = _what_happened(row, state, comparison)
            if islands_old[row] >= 0 and comparison.match.is_carried[islands_old[row]]:
                what += ", elsewhere in space" if what else ": elsewhere in space"
            lines += wrapped(f"    {state:<14}", f"{_name(row, comparison)}{what}", " " * 18)
        if len(rows) > MOST_OF_A_STATE:
            rest = len(rows) - MOST_OF_A_STATE
            lines.append(f"    {state:<14}{rest:,} more; --format json lists them all")
    if not lines:
        return []
    same = comparison.islands.count("unchanged")
    return ["", f"  islands ({same:,} unchanged)", *lines]


def _name(row: int, comparison: Comparison) -> str:
    old, new = int(comparison.islands.old[row]), int(comparison.islands.new[row])
    name = comparison.island_name(row)
    if old < 0 or new < 0:
        return name
    layout, island = comparison.old_place(old)
    earlier = comparison.old.layouts[layout].layout.island_name[island]
    return name if earlier == name else f"{earlier}, now {name}"


def _what_happened(row: int, state: State, comparison: Comparison) -> str:
    """Say in numbers what happened to an island."""
    islands = comparison.islands
    if state == "lost":
        return ": no usable UVs any more" if islands.has_lost_uvs[row] else ""
    if state == "re-cut":
        return _pieces(int(islands.old[row]), comparison)
    if state in ("re-flattened", "added"):
        return _reflattened(row, comparison) if state == "re-flattened" else ""
    u, v = islands.offset_px[row].tolist()
    parts = []
    if abs(math.log2(islands.scale[row])) > 1e-3:
        parts.append(f"{number(islands.scale[row])} times as large")
    if state == "turned":
        parts.append(f"by {number(islands.turn_degrees[row])} degrees")
    if max(abs(u), abs(v)) >= 0.25:
        parts.append(f"by {number(u)}, {number(v)} texels")
    return f": {', '.join(parts)}" if parts else ""


def _reflattened(row: int, comparison: Comparison) -> str:
    parts = []
    before, after = comparison.figures["stretch_p95"][row].tolist()
    if Figure(before, after).has_changed and math.isfinite(before) and math.isfinite(after):
        parts.append(f"stretch {number(before)} -> {number(after)}")
    if comparison.islands.kept[row] >= LEAST_KEPT:
        parts.append(f"{percent(1 - comparison.islands.kept[row], 2)} of it, the rest only moved")
    return f": {', '.join(parts)}" if parts else ""


def _pieces(old: int, comparison: Comparison) -> str:
    pieces = comparison.match.pieces_of_old(old).tolist()
    names = []
    for layout, island in map(comparison.new_place, pieces):
        names.append(comparison.new.layouts[layout].layout.island_name[island])
    if len(pieces) > 1:
        return f": cut into {several(names, len(names))}"
    sources = len(comparison.match.pieces_of_new(pieces[0])) if pieces else 0
    return f": sewn together, {counted(sources, 'island')} in one" if sources > 1 else ": new seams"


def _face_lines(comparison: Comparison) -> list[str]:
    lines = []
    for layout, faces in zip(comparison.new.layouts, comparison.new_faces, strict=True):
        fresh = len(faces.face) + len(faces.bare)
        if fresh == 0:
            continue
        bad = len(faces.senseless) + len(faces.bare)
        tail = f", {bad:,} of them without sensible UVs" if bad else ""
        name = printable(layout.layout.name) or "no material"
        lines.append(f"    {name}: {counted(fresh, 'new face')}{tail}")
    return ["", "  geometry", *lines] if lines else []


def _finding_lines(comparison: Comparison, standing: Standing) -> list[str]:
    found = [finding for finding in comparison.findings if finding.standing == standing]
    if not found:
        return []
    lines = ["", f"  {_STANDINGS[standing]}"]
    if standing not in ("new", "grown"):
        return lines + _short_lines(found)
    told: Counter[str] = Counter()
    for finding in found:
        start = _start(finding)
        told[start] += 1
        if told[start] > MOST_OF_A_KIND:
            continue
        lines += wrapped(start, finding.finding.what, HANGING)
        if standing == "grown":
            lines += wrapped(HANGING, _growth(finding, comparison), HANGING)
    for start, count in told.items():
        if count > MOST_OF_A_KIND:
            more = f"{count - MOST_OF_A_KIND:,} more of this kind; --format json lists them all."
            lines += wrapped(start, more, HANGING)
    return lines


def _start(change: FindingChange) -> str:
    finding = change.finding
    return f"    {MARK[finding.severity]:<9}{finding.check:<15}"


def _waived_lines(comparison: Comparison, waived: Sequence[WaivedChange]) -> list[str]:
    lines = ["", "  waived"] if waived else []
    for found, standing in waived:
        lines += wrapped(_start(found), found.finding.what, HANGING)
        for line in status(standing, comparison.new.layouts[found.layout].layout.island_name):
            lines += wrapped(HANGING, line, HANGING)
    return lines


def _growth(finding: FindingChange, comparison: Comparison) -> str:
    names = comparison.new.layouts[finding.layout].layout.island_name
    fresh = [names[island] for island in finding.islands]
    assert finding.before is not None
    if finding.before.severity < finding.finding.severity:
        return f"It was a {MARK[finding.before.severity]} before."
    return f"New with it: {several(fresh[:3], len(fresh))}."


def _short_lines(changes: Sequence[FindingChange]) -> list[str]:
    count = Counter((finding.finding.severity, finding.finding.check) for finding in changes)
    return [
        f"    {MARK[severity]:<9}{check}" + (f", {times:,} times" if times > 1 else "")
        for (severity, check), times in count.items()
    ]
