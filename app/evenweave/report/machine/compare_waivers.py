"""A comparison without what is waived in the new pass, and that apart."""

from __future__ import annotations

from dataclasses import replace

from evenweave.compare.comparison import Comparison
from evenweave.compare.findings import FindingChange
from evenweave.notes.waiving import JudgedFinding, Waiving

WaivedChange = tuple[FindingChange, JudgedFinding]


def apart(comparison: Comparison, waiving: Waiving) -> tuple[Comparison, tuple[WaivedChange, ...]]:
    """Return the comparison with its open findings alone, and the waived ones.

    waiving : of the new pass. A finding is waived where all islands that it is about are: those
    that are new with it, if it grew.
    """
    is_open, waived = [], []
    for found in comparison.findings:
        told = waiving.by_finding.get(found.finding)
        if told is not None and _is_waived(found, told):
            waived.append((found, told))
        else:
            is_open.append(found)
    return replace(comparison, findings=tuple(is_open)), tuple(waived)


def _is_waived(change: FindingChange, judged: JudgedFinding) -> bool:
    if change.islands:
        return set(change.islands) <= set(judged.waived)
    return judged.is_waived
