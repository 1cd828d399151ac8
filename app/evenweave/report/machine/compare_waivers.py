"""A comparison without what is waived in the new pass, and that apart."""

from __future__ import annotations

from dataclasses import replace

from evenweave.compare.comparison import Comparison
from evenweave.compare.findings import Finding
from evenweave.notes.waiving import WaivedWarning, Waiving

WaivedFinding = tuple[Finding, WaivedWarning]


def apart(one: Comparison, waiving: Waiving) -> tuple[Comparison, tuple[WaivedFinding, ...]]:
    """Return the comparison with its open findings alone, and the waived ones.

    waiving : of the new pass. A finding is waived where all islands that it is about are: those
    that are new with it, if it grew.
    """
    is_open, waived = [], []
    for found in one.findings:
        told = waiving.by_warning.get(found.warning)
        if told is not None and _is_waived(found, told):
            waived.append((found, told))
        else:
            is_open.append(found)
    return replace(one, findings=tuple(is_open)), tuple(waived)


def _is_waived(found: Finding, told: WaivedWarning) -> bool:
    if found.islands:
        return set(found.islands) <= set(told.waived)
    return told.is_waived
