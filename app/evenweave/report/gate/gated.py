"""Text and JSON of a file that went through a gate: with a baseline, what is new is told apart."""

from __future__ import annotations

from dataclasses import replace

from evenweave.check.numbers import counted
from evenweave.report.gate.gate import Judged
from evenweave.report.machine import machine
from evenweave.report.machine.machine import Json
from evenweave.report.text import text
from evenweave.report.text.text import FileText


def file_text(judged: Judged, *, is_full: bool = False) -> FileText:
    """Say what was found in a file; with a baseline only what is new, and how much was known.

    What is waived is listed in any case.
    """
    outcome = judged.outcome
    if not judged.gate.has_baseline or outcome.review is None:
        return text.file_text(outcome, is_full=is_full)
    known = {
        standing
        for standings, is_new in zip(outcome.standings, judged.is_new, strict=True)
        for standing, new in zip(standings, is_new, strict=True)
        if not new and not standing.is_waived
    }
    told = text.file_text(outcome, is_full=is_full, is_listed=lambda judged: judged not in known)
    line = f"  baseline: {counted(len(known), 'warning')} known from it and not listed"
    if judged.gate.known is None:
        line = "  baseline: it does not know this file"
    return replace(told, text=f"{told.text}\n\n{line}")


def file_result(judged: Judged) -> Json:
    """Return what became of a file; with a baseline each warning says whether it `is_new`."""
    result = machine.file_result(judged.outcome)
    if judged.gate.has_baseline:
        for layout, is_new in zip(result["layouts"], judged.is_new, strict=True):
            for finding, new in zip(layout["warnings"], is_new, strict=True):
                finding["is_new"] = new
    return result
