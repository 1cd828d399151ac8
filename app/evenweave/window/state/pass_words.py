"""A new pass in a sentence: better or worse, what was fixed, what is new."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from PySide6.QtCore import QCoreApplication

from evenweave.check.finding import Finding, Severity
from evenweave.compare.comparison import Comparison
from evenweave.compare.findings import FindingChange
from evenweave.compare.states import STATES
from evenweave.compare.verdict import is_unrelated, judgement, senseless_count
from evenweave.pipeline import Review
from evenweave.report.machine.compare_waivers import WaivedChange
from evenweave.window.parts import figures

_NAMED = 2  # new warnings told by name; more are only counted
_STATES_TOLD = 2  # kinds of change told each; more are counted together


def pass_sentence(comparison: Comparison, waived: Sequence[WaivedChange]) -> str:
    """Say what got better and worse. waived : findings that count in neither, told apart."""
    parts = [*_findings(comparison), *_islands(comparison)]
    if faces := senseless_count(comparison):
        parts.append(
            figures.counted(
                faces,
                _tr("1 new face without sensible UVs"),
                _tr("{count} new faces without sensible UVs"),
            )
        )
    words = {
        "better": _tr("Better"),
        "worse": _tr("Worse"),
        "mixed": _tr("Better and worse"),
        "unchanged": _tr("No change"),
        "changed": _tr("Neither better nor worse"),
        "unrelated": _tr("Not comparable: too little of the surface is the same."),
    }
    verdict = words[judgement(comparison)]
    if is_unrelated(comparison):
        return verdict
    told = f"{verdict}: {'; '.join(parts)}." if parts else f"{verdict}."
    if waived:
        what = _counts(finding for finding, _ in waived)
        told = _tr("{told} Waived: {what}.").format(told=told, what=what)
    return told


def _tr(text: str) -> str:
    return QCoreApplication.translate("Pass", text)


def _findings(comparison: Comparison) -> list[str]:
    fixed = [f for f in comparison.findings if f.standing == "fixed"]
    gone = [f for f in comparison.findings if f.standing == "gone"]
    worse = [f for f in comparison.findings if f.standing in ("new", "grown")]
    parts = []
    if fixed:
        parts.append(_tr("{what} fixed").format(what=_counts(fixed)))
    if gone:
        parts.append(_tr("{what} gone with their UVs").format(what=_counts(gone)))
    if worse:
        names = [_name(comparison.new, finding) for finding in worse[:_NAMED]]
        if len(worse) > _NAMED:
            names.append(_tr("{count} more").format(count=figures.count(len(worse) - _NAMED)))
        text = _tr("{what} new or worse ({names})")
        parts.append(text.format(what=_counts(worse), names="; ".join(names)))
    return parts


def _counts(changes: Iterable[FindingChange]) -> str:
    words = {
        Severity.FAULT: (_tr("1 fault"), _tr("{count} faults")),
        Severity.WARNING: (_tr("1 warning"), _tr("{count} warnings")),
        Severity.NOTE: (_tr("1 remark"), _tr("{count} remarks")),
    }
    numbers = Counter(finding.finding.severity for finding in changes)
    return ", ".join(figures.counted(numbers[s], *words[s]) for s in words if numbers[s])


def _name(review: Review, change: FindingChange) -> str:
    """Return "Overlap: roof, door"."""
    finding: Finding = change.finding
    names = review.layouts[change.layout].layout.island_name
    islands = [names[island] for island in change.islands[:2]]
    if len(change.islands) > 2:
        islands = [_tr("{count} islands").format(count=figures.count(len(change.islands)))]
    return f"{finding.title}: {', '.join(islands)}" if islands else finding.title


def _islands(comparison: Comparison) -> list[str]:
    words = {
        "moved": _tr("moved"),
        "scaled": _tr("scaled"),
        "turned": _tr("turned"),
        "mirrored": _tr("mirrored"),
        "re-flattened": _tr("flattened anew"),
        "re-cut": _tr("cut anew"),
        "lost": _tr("lost"),
        "added": _tr("added"),
    }
    told = []
    for state in STATES[1:]:
        if count := comparison.islands.count(state):
            islands = figures.counted(count, _tr("1 island"), _tr("{count} islands"))
            told.append(f"{islands} {words[state]}")
    if len(told) > _STATES_TOLD:
        count = len(comparison.islands.state) - comparison.islands.count("unchanged")
        many = _tr("{count} islands changed")
        return [figures.counted(count, _tr("1 island changed"), many)]
    return told
