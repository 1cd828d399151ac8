"""`Open`: everything that is open, shown and chosen, as one frozen value, and steps between two.

Every function takes what there is and returns what there will be. Nothing is ever half changed.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from evenweave.check.finding import Finding
from evenweave.layout.layout import Layout
from evenweave.limits.file import FoundLimits
from evenweave.limits.limits import DEFAULT, Limits
from evenweave.notes.store import NoteStore
from evenweave.notes.waiving import Waiving
from evenweave.pipeline import Grouping, LayoutReview, Review
from evenweave.raster.look import Look
from evenweave.trial.document.change import successors
from evenweave.trial.document.document import Trial
from evenweave.window.state.island_rows import IslandRows
from evenweave.window.state.preparation import Prepared


@dataclass(frozen=True, eq=False)
class Tried:
    """A trial and its copy, ready for the views."""

    trial: Trial
    prepared: Prepared


@dataclass(frozen=True, eq=False)
class Open:
    """What is open.

    file : the file as it is, ready for the views; None before the first
    found : the limits found beside it; limits : those in force, which its review follows
    metres : length of one unit, which the review follows; None before the first file
    grouping : which layouts are looked at
    layout_index, selection, hover, finding : what is shown, selected, pointed at and explained
    look : what the views draw
    notes : notes and waivers; waiving : which findings of the review shown are waived, if known
    tried : what is being tried on a copy; is_after : whether the copy is shown
    """

    file: Prepared | None = None
    found: FoundLimits = field(default_factory=lambda: FoundLimits(DEFAULT, None))
    limits: Limits = DEFAULT
    metres: float | None = None
    grouping: Grouping = field(default_factory=Grouping)
    layout_index: int = 0
    selection: tuple[int, ...] = ()
    hover: int = -1
    finding: Finding | None = None
    look: Look = field(default_factory=Look)
    notes: NoteStore = field(default_factory=NoteStore)
    waiving: Waiving | None = None
    tried: Tried | None = None
    is_after: bool = True

    @property
    def showing(self) -> Prepared | None:
        """The copy or the file, whichever is shown."""
        return self.tried.prepared if self.tried and self.is_after else self.file

    @property
    def review(self) -> Review | None:
        """The review shown."""
        return self.showing.review if self.showing else None

    @property
    def shown(self) -> LayoutReview | None:
        """The layout shown."""
        layouts = self.review.layouts if self.review else ()
        return layouts[self.layout_index] if layouts else None

    @property
    def rows(self) -> IslandRows | None:
        """The shown layout's islands as a table."""
        return self.showing.rows[self.layout_index] if self.showing and self.shown else None

    def is_waived(self, finding: Finding) -> bool:
        """Whether all of a finding is waived, as far as is known."""
        judged = self.waiving.by_finding.get(finding) if self.waiving else None
        return judged is not None and judged.is_waived

    @property
    def listed(self) -> tuple[Finding, ...]:
        """The shown layout's findings as they are listed: open ones before waived ones."""
        return tuple(sorted(self.shown.findings, key=self.is_waived)) if self.shown else ()


def opened(now: Open, file: Prepared, limits_found: FoundLimits) -> Open:
    """Open another file, or the same afresh."""
    review = file.review
    return replace(
        now,
        file=file,
        found=limits_found,
        limits=review.limits,
        metres=review.asset.unit.metres,
        grouping=review.grouping,
        layout_index=0,
        selection=(),
        hover=-1,
        finding=None,
        waiving=None,
        tried=None,
        is_after=True,
    )


def remeasured(now: Open, file: Prepared) -> Open:
    """Take the open file measured or judged anew; what is selected is found by name."""
    shown, review = now.shown, file.review
    names = [shown.layout.island_name[k] for k in now.selection] if shown else []
    after = replace(
        now,
        file=file,
        metres=review.asset.unit.metres,
        grouping=review.grouping,
        layout_index=0,
        hover=-1,
        waiving=None,
        tried=now.tried if now.tried and is_same_reading(now.tried, review) else None,
    )
    review = after.review or review
    layouts = [one.layout.name for one in review.layouts]
    index = layouts.index(shown.layout.name) if shown and shown.layout.name in layouts else 0
    known = (
        {name: k for k, name in enumerate(review.layouts[index].layout.island_name)}
        if layouts
        else {}
    )
    selection = tuple(sorted(known[name] for name in names if name in known))
    return _explained(replace(after, layout_index=index, selection=selection), now.finding)


def is_same_reading(tried: Tried, review: Review) -> bool:
    """Whether a trial is of these layouts as they were read, whatever the unit and the limits."""
    original = tried.trial.original
    is_same = original.asset.corner_position is review.asset.corner_position
    return is_same and original.grouping == review.grouping


def switched(now: Open, tried: Tried | None, *, is_after: bool) -> Open:
    """Take another state of a trial, or show the other side; what is selected follows its faces."""
    before = now.shown
    after = replace(now, tried=tried, is_after=is_after or tried is None, hover=-1)
    if after.review is now.review:
        return after
    shown = after.shown
    selection = now.selection
    if before is not None and shown is not None:
        selection = followed(before.layout, shown.layout, selection)
    return _explained(replace(after, selection=selection, waiving=None), now.finding)


def layout_chosen(now: Open, index: int) -> Open:
    """Show another layout."""
    return replace(now, layout_index=index, selection=(), hover=-1, finding=None)


def selected(now: Open, islands: tuple[int, ...]) -> Open:
    """Select islands, ascending; the explanation follows to their gravest finding."""
    after = replace(now, selection=islands)
    chosen = now.finding
    if islands and not (chosen and set(islands) & set(chosen.islands)):
        wanted = set(islands)
        named = (one for one in now.listed if not wanted.isdisjoint(one.islands))
        after = replace(after, finding=next(named, None))
    return after


def finding_chosen(now: Open, finding: Finding | None) -> Open:
    """Explain a finding and select its islands."""
    selection = now.selection if finding is None else finding.islands
    return replace(now, finding=finding, selection=selection)


def _explained(now: Open, before: Finding | None) -> Open:
    """Explain what says of the same check what was explained before, if anything does."""
    if before is None or now.shown is None:
        return replace(now, finding=None)
    alike = [one for one in now.shown.findings if one.check == before.check]
    exact = [one for one in alike if one.islands == before.islands]
    return replace(now, finding=next(iter(exact or alike), None))


def followed(before: Layout, after: Layout, islands: tuple[int, ...]) -> tuple[int, ...]:
    """Return the islands of another state of a layout that hold most faces of these."""
    return tuple(sorted(set(successors(before, after)[list(islands)].tolist())))
