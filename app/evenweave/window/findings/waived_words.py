"""What of a finding is waived and why, in the window's words."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QCoreApplication

from evenweave.notes.store import Waiver
from evenweave.notes.waiving import JudgedFinding
from evenweave.window.parts import figures

_NAMED = 3


def standing_lines(standing: JudgedFinding, names: Sequence[str]) -> list[str]:
    """Say with what reasons a finding is waived, on how many islands, and where no longer.

    names : of its layout's islands
    """
    lines = [waiver_words(waiver) for waiver in standing.waivers]
    if standing.waived and standing.open:
        share = _tr("Waived on {waived} of {all} islands.").format(
            waived=figures.count(len(standing.waived)),
            all=figures.count(len(standing.finding.islands)),
        )
        lines.append(share)
    if standing.lapsed:
        text = _tr("Waived before on {islands} too, but worse there since.")
        lines.append(text.format(islands=_some(standing.lapsed, names)))
    lines += [
        _tr("Was waived, but has got worse since: {reason}").format(reason=waiver_words(one))
        for one in standing.outgrown
    ]
    return lines


def waiver_words(waiver: Waiver) -> str:
    """Return the reason of a waiver, who gave it and when, as far as that is known."""
    said = ", ".join(part for part in (waiver.who, waiver.when[:10]) if part)
    return f"“{waiver.reason}” – {said}" if said else f"“{waiver.reason}”"


def _some(islands: Sequence[int], names: Sequence[str]) -> str:
    named = [names[island] for island in islands[:_NAMED]]
    if len(islands) > _NAMED:
        named.append(_tr("{count} more").format(count=figures.count(len(islands) - _NAMED)))
    return ", ".join(named)


def _tr(text: str) -> str:
    return QCoreApplication.translate("Waived", text)
