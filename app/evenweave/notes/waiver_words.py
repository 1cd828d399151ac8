"""What is waived, in the same words wherever a finding is told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from evenweave.check.finding import WORD, Severity
from evenweave.check.numbers import counted, printable, several
from evenweave.notes.outcome import Outcome
from evenweave.notes.store import Waiver
from evenweave.notes.waiving import JudgedFinding, WaiverState, Waiving

MEANING: dict[WaiverState, str] = {
    "lapsed": "it has got worse since",
    "adrift": "what it speaks of is gone",
    "idle": "no longer found",
}
"""Why a waiver does not hold."""

MOST_REASONS = 3
GRAVEST_FIRST = tuple(sorted(Severity, reverse=True))


def open_severities(findings: Iterable[JudgedFinding]) -> tuple[Severity, ...]:
    """Return the severity of each warning that is open."""
    return tuple(one.finding.severity for one in findings if not one.is_waived)


def waived_count(findings: Iterable[JudgedFinding]) -> int:
    """How many warnings are waived."""
    return sum(one.is_waived for one in findings)


def by_severity(severities: Iterable[Severity]) -> tuple[tuple[Severity, int], ...]:
    """Count severities, gravest first, none left out at 0."""
    count = Counter(severities)
    return tuple((severity, count[severity]) for severity in GRAVEST_FIRST if count[severity])


def verdict(severities: Iterable[Severity], waived: int = 0) -> str:
    """Count what is open in words, gravest first, and what is waived apart.

    >>> verdict([]), verdict([Severity.FAULT, Severity.NOTE], waived=3), verdict([], waived=1)
    ('nothing to remark', '1 fault, 1 remark; 3 waived', 'nothing open; 1 waived')
    """
    parts = ", ".join(counted(n, WORD[severity]) for severity, n in by_severity(severities))
    if not waived:
        return parts or "nothing to remark"
    return f"{parts or 'nothing open'}; {waived:,} waived"


def by_whom(waiver: Waiver) -> str:
    """Return "Mara, 2026-05-01", as far as it is known."""
    return ", ".join(filter(None, (printable(waiver.who), printable(waiver.when[:10]))))


def reason(waiver: Waiver) -> str:
    """Return the reason on one line."""
    return printable(" ".join(waiver.reason.split())) or "no reason given"


def signed(waiver: Waiver) -> str:
    """Return the reason with who gave it and when, as far as that is known."""
    by = by_whom(waiver)
    return f"{reason(waiver)} ({by})" if by else reason(waiver)


def status(judged: JudgedFinding, names: Sequence[str]) -> tuple[str, ...]:
    """Say what of a warning is waived and why, and which waivers have lapsed; () for nothing.

    names : of the layout's islands
    """
    reasons = list(dict.fromkeys(signed(waiver) for waiver in judged.waivers))
    why = "; ".join(reasons[:MOST_REASONS])
    if len(reasons) > MOST_REASONS:
        why += f"; and {counted(len(reasons) - MOST_REASONS, 'more reason')}"
    lines = []
    if judged.is_waived:
        lines.append(f"This {WORD[judged.finding.severity]} is waived: {why}")
    elif judged.waived:
        lines.append(f"Waived on {_islands(judged, names)}: {why}")
    if judged.lapsed:
        lines.append(f"Waived before on {_some(judged.lapsed, names)} too, but worse there since")
    lines += [
        f"Waived before, but {MEANING['lapsed']}: {signed(waiver)}"
        for waiver in judged.outgrown[:MOST_REASONS]
    ]
    return tuple(lines)


def _islands(judged: JudgedFinding, names: Sequence[str]) -> str:
    share = f"{len(judged.waived):,} of {len(judged.finding.islands):,} islands"
    return f"{share} ({_some(judged.waived, names)})"


def _some(islands: Sequence[int], names: Sequence[str]) -> str:
    return several([printable(names[island]) for island in islands[:3]], len(islands))


def not_holding(judged: Waiving) -> str:
    """Say in short which waivers do not hold any more, "" where all do."""
    count = Counter(judged.states.values())
    return ", ".join(
        f"{count[state]:,} {state} ({meaning})"
        for state, meaning in MEANING.items()
        if count[state]
    )


def file_properties(outcome: Outcome) -> dict[str, str]:
    """Return what all findings of a file share: its limits, and waivers that do not hold."""
    told = {"limits": str(outcome.limits_path or "defaults")}
    if loose := not_holding(outcome.waiving) if outcome.waiving else "":
        told["waivers"] = loose
    return told
