"""What a gate lets through: a level, and what was known before.

A baseline is the JSON result of an earlier run. A warning is known where the same check named the
same islands in the same layout, no less gravely. Islands are the same by name; where a name is
gone, by their place in the texture and their surface. Values are not compared: what was there and
got worse without becoming graver is known. What was waived then and is open now is new.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from evenweave import schemas
from evenweave.check.finding import Severity
from evenweave.compare.findings import TOGETHER
from evenweave.notes.outcome import Outcome
from evenweave.notes.waiving import JudgedFinding
from evenweave.pipeline import LayoutReview
from evenweave.report.machine.machine import Json

_SAME_PLACE, _SAME_SURFACE = 1e-3, 1e-3


@dataclass(frozen=True, eq=False)
class Gate:
    """What fails: open warnings at `level` or above; with `has_baseline` only those not in it.

    known : what the baseline says of this file, None where it does not know it
    """

    level: Severity
    has_baseline: bool = False
    known: Json | None = None


@dataclass(frozen=True, eq=False)
class Judged:
    """One file and how its warnings stand with the gate.

    is_new : per layout, for each of its warnings, whether it is not in the baseline (without a
    baseline all are new)
    """

    outcome: Outcome
    gate: Gate
    is_new: tuple[tuple[bool, ...], ...]

    @property
    def layouts(self) -> tuple[LayoutReview, ...]:
        """The layouts judged, none where the file could not be read."""
        return self.outcome.review.layouts if self.outcome.review else ()

    def fails(self, layout: int, finding: int) -> bool:
        """Tell whether a warning makes the gate fail: grave enough, new, and not waived."""
        standing = self.outcome.standings[layout][finding]
        is_grave = standing.finding.severity >= self.gate.level
        return is_grave and self.is_new[layout][finding] and not standing.is_waived

    @property
    def is_failing(self) -> bool:
        """Tell whether any warning makes the gate fail."""
        return any(
            self.fails(layout, finding)
            for layout, is_new in enumerate(self.is_new)
            for finding in range(len(is_new))
        )


def judged(outcome: Outcome, gate: Gate) -> Judged:
    """Tell which warnings of a file are new."""
    layouts = outcome.review.layouts if outcome.review else ()
    is_new = (
        tuple(_new_ones(one, standings, gate))
        for one, standings in zip(layouts, outcome.standings, strict=True)
    )
    return Judged(outcome, gate, tuple(is_new))


def _new_ones(
    layout_review: LayoutReview, standings: Sequence[JudgedFinding], gate: Gate
) -> Iterator[bool]:
    if not gate.has_baseline:
        yield from (True for _ in standings)
        return
    layout = _layout(layout_review, gate.known)
    names = _earlier_names(layout_review, layout) if layout else {}
    for standing in standings:
        yield layout is None or not _is_known(standing, layout, names)


def _layout(layout_review: LayoutReview, known: Json | None) -> Json | None:
    for layout in known["layouts"] if known else ():
        if (layout["name"], layout["uv_set"]) == (
            layout_review.layout.name,
            layout_review.layout.uv_set,
        ):
            found: Json = layout
            return found
    return None


def _earlier_names(layout_review: LayoutReview, layout: Json) -> dict[int, int]:
    """Return for islands the id that the baseline has for each."""
    by_name = {island["name"]: island["id"] for island in layout["islands"]}
    found = {
        number: by_name[name]
        for number, name in enumerate(layout_review.layout.island_name)
        if name in by_name
    }
    left = [i for i in layout["islands"] if i["id"] not in set(found.values())]
    if not left:
        return found
    for number in range(layout_review.layout.island_count):
        if number not in found:
            place = layout_review.measures.island.bounds[number].tolist()
            surface = float(layout_review.measures.island.surface_m2[number])
            for island in left:
                if _is_same_place(island, place, surface):
                    found[number] = island["id"]
                    break
    return found


def _is_same_place(island: Json, place: Sequence[float], surface: float) -> bool:
    corners = [*island["bounds"], island["surface_m2"]]
    if any(corner is None for corner in corners):
        return False
    if not math.isclose(island["surface_m2"], surface, rel_tol=_SAME_SURFACE):
        return False
    return all(abs(a - b) <= _SAME_PLACE for a, b in zip(island["bounds"], place, strict=True))


def _is_known(standing: JudgedFinding, layout: Json, names: Mapping[int, int]) -> bool:
    """Tell whether the baseline has a warning: what is open now only where it was open then."""
    finding, is_waived = standing.finding, standing.is_waived
    earlier = [
        frozenset(one["islands"]) if is_waived else _open_islands(one)
        for one in layout["warnings"]
        if one["check"] == finding.check
        and Severity[one["severity"].upper()] >= finding.severity
        and (is_waived or not one.get("waived"))
    ]
    if not finding.islands:
        return any(not islands for islands in earlier)
    now = {names.get(island, -1) for island in (finding.islands if is_waived else standing.open)}
    if finding.check in TOGETHER:
        return any(now <= islands for islands in earlier)
    return now <= frozenset[int]().union(*earlier)


def _open_islands(earlier: Json) -> frozenset[int]:
    """Return the islands of a warning of the baseline that were not waived."""
    part = earlier.get("waived_part")
    return frozenset(earlier["islands"]).difference(part["islands"] if part else ())


def complaint(result: Any) -> str:
    """Say why something is no result of `evenweave check --format json`; "" where it is one."""
    if not isinstance(result, dict) or "evenweave" not in result:
        return "it is no result of evenweave check --format json"
    if result.get("schema") != 1:
        return f"it has schema {result.get('schema')}, which this version cannot read"
    wrong = schemas.complaint_of(result, "baseline.schema.json")
    return f"its {wrong.place} is not right: {wrong.cause}" if wrong else ""
