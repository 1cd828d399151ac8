"""What is waived, as plain dictionaries that fit `resources/result.schema.json`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from evenweave.check.finding import Severity
from evenweave.notes.store import Waiver
from evenweave.notes.waiving import JudgedFinding, Waiving

Json = dict[str, Any]


def counts(findings: Iterable[JudgedFinding]) -> Json:
    """Count warnings by severity, open ones and waived ones apart."""
    told = {
        state: {severity.name.lower(): 0 for severity in sorted(Severity, reverse=True)}
        for state in ("open", "waived")
    }
    for one in findings:
        told["waived" if one.is_waived else "open"][one.finding.severity.name.lower()] += 1
    return told


def finding_waivers(judged: JudgedFinding) -> Json:
    """Return what is waived of one warning: all of it, some of its islands, or nothing."""
    holding = decision(judged.waivers) if judged.waivers else None
    return {
        "waived": holding if judged.is_waived else None,
        "waived_part": {"islands": list(judged.waived), **holding}
        if holding and not judged.is_waived
        else None,
        "lapsed_waivers": [decision([waiver]) for waiver in judged.outgrown],
        "lapsed_islands": list(judged.lapsed),
    }


def island_findings(findings: Sequence[JudgedFinding], island_count: int) -> list[Json]:
    """Return for each island the checks that name it, gravest first, and which of them are open.

    One that names an island twice may be both open and waived.
    """
    told: list[Json] = [
        {"warnings": [], "open_warnings": [], "waived_warnings": []} for _ in range(island_count)
    ]
    for one in findings:
        for key, islands in (
            ("warnings", one.finding.islands),
            ("open_warnings", one.open),
            ("waived_warnings", one.waived),
        ):
            for island in islands:
                if one.finding.check not in told[island][key]:
                    told[island][key].append(one.finding.check)
    return told


def file_waivers(waiving: Waiving) -> list[Json]:
    """Return all waivers of a file with what has become of each."""
    states = waiving.states
    return [
        {
            "check": waiver.check,
            "layout": waiver.layout,
            "islands": [island.name for island in waiver.islands],
            **decision([waiver]),
            "state": states[waiver.id],
        }
        for waiver in waiving.waivers
    ]


def decision(waivers: Sequence[Waiver]) -> Json:
    """Return why, by whom and when; of several waivers together all reasons and the last time."""
    return {
        "reason": "; ".join(_each(waiver.reason for waiver in waivers)),
        "who": ", ".join(_each(waiver.who for waiver in waivers)),
        "when": max(waiver.when for waiver in waivers),
    }


def _each(texts: Iterable[str]) -> Iterator[str]:
    return (text for text in dict.fromkeys(texts) if text)
