"""Which warnings are waived. Waived ones stay in sight and are counted apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from evenweave.check.finding import Finding, Severity
from evenweave.notes.fingerprint import fingerprints
from evenweave.notes.locating import Finder
from evenweave.notes.store import TOLERANCE, NoteStore, Waiver, new_id, now
from evenweave.pipeline import LayoutReview, Review

APART = frozenset(
    (("flipped", "mirrored"), ("stretch", "median"), ("degenerate", "bare"), ("budget", "rich"))
)
"""Variants that are findings of their own; others tell the same thing in other words."""

TOGETHER = frozenset(("overlap", "stack"))
"""Checks of what islands do to each other: one waiver must name all of them."""

WaiverState = Literal["holds", "lapsed", "adrift", "idle"]
"""lapsed : the value has got worse; adrift, idle : as in `Waiving`."""


@dataclass(frozen=True, eq=False)
class JudgedFinding:
    """One warning and what of it is waived.

    waived, open : the warning's islands, each in one of the two
    waivers : those that hold; outgrown : those meant for it whose value has got worse since
    lapsed : open islands that a waiver which holds on others names too: they have got worse since
    is_waived : nothing of it is open
    """

    finding: Finding
    waived: tuple[int, ...]
    open: tuple[int, ...]
    waivers: tuple[Waiver, ...]
    outgrown: tuple[Waiver, ...]
    lapsed: tuple[int, ...]
    is_waived: bool


@dataclass(frozen=True, eq=False)
class Waiving:
    """What is waived in a review.

    layouts : for each layout its warnings in their order
    waivers : all there are, in the order in which they were made
    adrift : waivers whose layout or islands are gone; idle : whose warning is no longer raised
    """

    layouts: tuple[tuple[JudgedFinding, ...], ...]
    waivers: tuple[Waiver, ...]
    adrift: tuple[Waiver, ...]
    idle: tuple[Waiver, ...]

    @property
    def waived_count(self) -> int:
        """How many warnings are waived, over all layouts."""
        return sum(one.is_waived for layout in self.layouts for one in layout)

    @cached_property
    def by_finding(self) -> dict[Finding, JudgedFinding]:
        """How each warning stands."""
        return {one.finding: one for layout in self.layouts for one in layout}

    @property
    def states(self) -> dict[str, WaiverState]:
        """What has become of each waiver, by its id, in their order."""
        every = [one for layout in self.layouts for one in layout]
        known: dict[str, WaiverState] = dict.fromkeys((one.id for one in self.waivers), "idle")
        known.update((one.id, "adrift") for one in self.adrift)
        known.update((waiver.id, "lapsed") for one in every for waiver in one.outgrown)
        known.update((waiver.id, "holds") for one in every for waiver in one.waivers)
        return known

    @property
    def worst_open(self) -> Severity | None:
        """The gravest severity that is not waived, None where there is none."""
        return max(
            (one.finding.severity for layout in self.layouts for one in layout
             if not one.is_waived),
            default=None,
        )  # fmt: skip


def new_waiver(
    layout_review: LayoutReview,
    finding: Finding,
    reason: str,
    *,
    who: str = "",
    islands: Sequence[int] | None = None,
    tolerance: float = TOLERANCE,
) -> Waiver:
    """Return a waiver, made now, of a warning of this layout.

    islands : those of the warning's to waive, by default all
    """
    chosen = finding.islands if islands is None else tuple(sorted(set(islands)))
    values = _values(finding)
    return Waiver(
        id=new_id(),
        check=finding.check,
        variant=_variant(finding),
        layout=layout_review.layout.name,
        islands=fingerprints(layout_review.layout, chosen),
        values=tuple(_known(values[island]) for island in chosen) or (_known(finding.value),),
        limit=_known(finding.limit),
        reason=reason,
        who=who,
        when=now(),
        tolerance=tolerance,
    )


def apply_waivers(review: Review, store: NoteStore, finder: Finder | None = None) -> Waiving:
    """Return what is waived in a review. finder : of this review's layouts, if at hand."""
    finder = finder or Finder([one.layout for one in review.layouts])
    claims = [_claim(waiver, review, finder) for waiver in store.waivers]
    met: set[str] = set()
    layouts = []
    for number, one in enumerate(review.layouts):
        own = [claim for claim in claims if claim.layout == number]
        layouts.append(tuple(_judged(finding, own, met) for finding in one.findings))
    return Waiving(
        layouts=tuple(layouts),
        waivers=store.waivers,
        adrift=tuple(claim.waiver for claim in claims if claim.layout < 0),
        idle=tuple(
            claim.waiver for claim in claims if claim.layout >= 0 and claim.waiver.id not in met
        ),
    )


@dataclass(frozen=True)
class _Claim:
    """A waiver and where it is meant now. layout : -1 where adrift; values : by island."""

    waiver: Waiver
    layout: int
    values: dict[int, float | None]

    def covers(self, island: int, value: float) -> bool:
        """Tell whether the waiver holds for an island whose value is this."""
        return island in self.values and not is_worse(value, self.values[island], self.waiver)


_WHOLE = -1  # stands in a claim's values for the layout as a whole


def _claim(waiver: Waiver, review: Review, finder: Finder) -> _Claim:
    names = [one.layout.name for one in review.layouts]
    if not waiver.islands:
        layout = names.index(waiver.layout) if waiver.layout in names else -1
        return _Claim(waiver, layout, {_WHOLE: waiver.values[0]})
    places = finder.islands(waiver.islands)
    found = [(place, value) for place, value in zip(places, waiver.values, strict=True) if place]
    if not found or (waiver.check in TOGETHER and len(found) < len(places)):
        return _Claim(waiver, -1, {})
    layouts = [place[0] for place, _ in found]
    layout = max(set(layouts), key=layouts.count)
    return _Claim(waiver, layout, {place[1]: value for place, value in found if place[0] == layout})


def _judged(finding: Finding, claims: Sequence[_Claim], met: set[str]) -> JudgedFinding:
    """Tell what of a warning is waived; ids of waivers meant for it are added to `met`."""
    values = _values(finding) or {_WHOLE: finding.value}
    meant = [
        claim
        for claim in claims
        if (claim.waiver.check, claim.waiver.variant) == (finding.check, _variant(finding))
        and not values.keys().isdisjoint(claim.values)
    ]
    if finding.check in TOGETHER:
        meant = [claim for claim in meant if values.keys() <= claim.values.keys()]
    met.update(claim.waiver.id for claim in meant)
    holding = [
        claim for claim in meant if any(claim.covers(i, value) for i, value in values.items())
    ]
    if finding.check in TOGETHER:
        holding = [c for c in meant if all(c.covers(i, value) for i, value in values.items())]
    covered = {i for i, value in values.items() if any(claim.covers(i, value) for claim in holding)}
    named = {i for claim in holding for i in claim.values}
    return JudgedFinding(
        finding=finding,
        waived=tuple(i for i in finding.islands if i in covered),
        open=tuple(i for i in finding.islands if i not in covered),
        waivers=tuple(claim.waiver for claim in holding),
        outgrown=tuple(claim.waiver for claim in meant if claim not in holding),
        lapsed=tuple(i for i in finding.islands if i in named - covered),
        is_waived=len(covered) == len(values),
    )


def is_worse(value: float, waived: float | None, waiver: Waiver) -> bool:
    """Tell whether a value is worse than when it was waived, by more than is tolerated.

    What lies below its limit when waived is worse the less it is; of what may be off to both
    sides (octaves) the distance counts. Without a number then or now nothing can be worse.
    """
    if waived is None or not math.isfinite(value):
        return False
    slack = waiver.tolerance * abs(waived) + 1e-9
    if waiver.limit is not None and abs(waived) < waiver.limit:
        return abs(value) < abs(waived) - slack
    return abs(value) > abs(waived) + slack


def _values(finding: Finding) -> dict[int, float]:
    """Return the number judged for each island of a warning."""
    if len(finding.values) == len(finding.islands):
        return dict(zip(finding.islands, finding.values.tolist(), strict=True))
    return dict.fromkeys(finding.islands, finding.value)


def _variant(finding: Finding) -> str:
    return finding.variant if (finding.check, finding.variant) in APART else ""


def _known(value: float) -> float | None:
    return float(f"{value:.9g}") if math.isfinite(value) else None
