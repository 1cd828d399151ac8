"""Fix what is safe: what can be mended without an artist's judgement, in one step a layout.

In this order, for each change makes room for the next:

    unwrap      islands that the same seams let lie much better; no seam moves
    straighten  bowed strips where that costs little stretch and the packing does not suffer
    level       every island scaled to the density that its importance deserves
    pack        all islands placed anew, with the wished padding and margin

Unless more is asked for, only that is done which the findings of a layout ask for: densities
are levelled where one is off, and islands are placed anew where one lies badly or was changed.
Left alone are layouts that tile or spread over several tiles, and the shapes of islands that
lie in stacks, which share texels on purpose. A layout that would have more faults, or as many
and more warnings, stays as it is.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import Enum

from evenweave.arrays import FloatArray
from evenweave.check.numbers import counted, percent
from evenweave.check.warning import Severity
from evenweave.layout.layout import Layout
from evenweave.limits import Limits
from evenweave.measure.stacks import find_stacks
from evenweave.progress import Progress, silent, within
from evenweave.review import LayoutReview
from evenweave.trial.advice import IslandAdvice, worst_first
from evenweave.trial.attainable import apply_unwrap, attainable
from evenweave.trial.corner_uvs import CornerUvs
from evenweave.trial.document import Trial, applied, step
from evenweave.trial.in_order import in_order
from evenweave.trial.island_mesh import IslandMesh, aspect_of, island_meshes
from evenweave.trial.level import LevelWish, level
from evenweave.trial.pack import Packing, PackWish, pack
from evenweave.trial.retexture import joined, retextured
from evenweave.trial.straighten import StraightenVerdict, straighten
from evenweave.trial.verdict import verdicts
from evenweave.trial.worker import NoAdvice, Wish, Worker

JUDGEMENT = frozenset({"no-uvs", "not-finite", "flipped", "stack", "fragment", "hard-edge"})
"""Checks that only an artist can answer: what is missing, meant, or a matter of seams."""

OF_SIZE = frozenset({"density", "density-step", "budget", "tiny"})
OF_PLACE = frozenset({"overlap", "outside-tile", "crosses-tile", "padding", "margin", "coverage"})

ISLAND_SECONDS = 10.0
UNWRAP_SECONDS = 120.0  # of a layout, after which the islands that are left stay as they are
PACK_SECONDS = 3.0
ROUNDING = 1e-6  # of a tile, that coordinates may lose when they are written to a file
MOST_LOST = 0.02  # of coverage, that straight strips may cost


class Placing(Enum):
    """When islands are packed."""

    NEVER = "never"
    AFTER_CHANGES = "after changes"
    ALWAYS = "always"


@dataclass(frozen=True)
class FixWish:
    """What to do, and how long to look for a packing of each layout."""

    unwrap: bool
    straighten: bool
    level: bool
    pack: Placing
    seconds: float = PACK_SECONDS


def asked_for(judged: LayoutReview, seconds: float = PACK_SECONDS) -> FixWish:
    """Return what a layout's findings ask for; nothing where none can be mended safely."""
    checks = {one.check for one in judged.warnings} - JUDGEMENT
    return FixWish(
        unwrap=bool(checks),
        straighten="bowed" in checks,
        level=bool(checks & OF_SIZE),
        pack=Placing.ALWAYS if checks & OF_PLACE else Placing.AFTER_CHANGES,
        seconds=seconds,
    )


@dataclass(frozen=True, eq=False)
class Fixed:
    """The trial with one step more for each layout that was changed.

    said : sentences on what was done and what was left, each begun with the layout's name
    """

    trial: Trial
    said: tuple[str, ...]


def fix_safely(
    trial: Trial,
    worker: Worker,
    *,
    wish: Callable[[LayoutReview], FixWish] = asked_for,
    layouts: tuple[int, ...] | None = None,
    progress: Progress = silent,
) -> Fixed:
    """Fix all layouts of a trial, or some; `wish` tells what to do to each.

    Raises Cancelled where `progress` does.
    """
    numbers = range(len(trial.review.layouts)) if layouts is None else layouts
    said: list[str] = []
    for done, number in enumerate(numbers):
        own = within(progress, done / len(numbers), (done + 1) / len(numbers))
        judged = trial.review.layouts[number]
        reason = _reason_to_leave(judged, trial.review.limits)
        if reason:
            said.append(f"{_name(judged)}: left as it is, {reason}.")
            continue
        trial, words = _fixed(trial, number, wish(judged), worker=worker, progress=own)
        said += [f"{_name(judged)}: {one}." for one in words]
    return Fixed(trial, tuple(said))


def _name(judged: LayoutReview) -> str:
    return judged.layout.name or "no material"


def _reason_to_leave(judged: LayoutReview, limits: Limits) -> str:
    if not judged.layout.island_count:
        return "it has no islands"
    if judged.purpose == "tiling":
        return "its texture repeats, and where islands lie is the artist's choice"
    if judged.looks_tiling:
        return "it looks like a repeating texture; state its purpose in the limits"
    if limits.udim and len(judged.measures.coverage.tile) > 1:
        return "it spreads over several tiles, and what lies where is the artist's choice"
    return ""


def _fixed(
    trial: Trial, number: int, wish: FixWish, *, worker: Worker, progress: Progress
) -> tuple[Trial, list[str]]:
    """Try everything; where that is worse than before, without straightening; else leave it."""
    before = trial.review.layouts[number]
    work = _Work(before, trial.review.limits, wish, worker)
    work.run(within(progress, 0.0, 0.9))
    for bench in work.results():
        change = joined(bench.changes)
        if not len(change.corner):
            return trial, [*work.said, "nothing to do"]
        words = f"fix what is safe in {_name(before)}"
        after = applied(trial, step(words, number, [change]), within(progress, 0.9, 1.0))
        if _is_no_worse(before, after.review.layouts[number]):
            return after, [*work.said, *bench.said]
    return trial, [*work.said, "left as it is, for it would have become worse"]


def _is_no_worse(before: LayoutReview, after: LayoutReview) -> bool:
    faults = [_found(one, Severity.FAULT) for one in (before, after)]
    warnings = [_found(one, Severity.WARNING) for one in (before, after)]
    return faults[1] < faults[0] or (faults[1] == faults[0] and warnings[1] <= warnings[0])


def _found(judged: LayoutReview, severity: Severity) -> int:
    """Count islands, once for each thing found about them."""
    return sum(max(len(one.islands), 1) for one in judged.warnings if one.severity is severity)


@dataclass(frozen=True, eq=False)
class _Bench:
    """A layout as changes made so far leave it."""

    layout: Layout
    changes: tuple[CornerUvs, ...] = ()
    said: tuple[str, ...] = ()

    def then(self, change: CornerUvs, words: str) -> _Bench:
        if not len(change.corner):
            return self
        layout = retextured(self.layout, change)
        said = (*self.said, words) if words else self.said
        return _Bench(layout, (*self.changes, change), said)


class _Work:
    """All fixes of one layout, each tried on what the ones before it left."""

    def __init__(self, judged: LayoutReview, limits: Limits, wish: FixWish, worker: Worker) -> None:
        self._judged, self._limits, self._wish, self._worker = judged, limits, wish, worker
        self._tile = judged.measures.tile
        stacked = {i for group in judged.measures.stacks.group for i in group}
        self._single = tuple(i for i in worst_first(judged) if i not in stacked)
        self._bench = _Bench(judged.layout)
        self._straight: _Bench | None = None
        self.said: list[str] = []

    def run(self, progress: Progress) -> None:
        """Do what is wished."""
        if self._wish.unwrap:
            self._unwrap(within(progress, 0.0, 0.5))
        straight = self._bench
        if self._wish.straighten:
            straight = self._straightened(within(progress, 0.5, 0.6))
        is_straight = straight is not self._bench
        middle = 0.8 if is_straight else 0.6
        if is_straight:
            straight, packing = self._arranged(straight, within(progress, 0.6, 0.8))
        self._bench, plain = self._arranged(self._bench, within(progress, middle, 1.0))
        if is_straight and _is_full_enough(packing, plain):
            self._straight = straight
        elif is_straight:
            self.said.append("bowed strips stay, for straight ones would pack worse")

    def results(self) -> Iterator[_Bench]:
        """Yield what came of it, the best first."""
        if self._straight is not None:
            yield self._straight
        yield self._bench

    def _unwrap(self, progress: Progress) -> None:
        """Unwrap again what the same seams let lie much better, worst first."""
        until = time.monotonic() + UNWRAP_SECONDS
        done, found = 0, []

        def look() -> None:
            progress(done / max(len(self._single), 1), "unwrapping again")

        meshes = island_meshes(self._judged.layout, self._single, aspect=aspect_of(self._tile))
        for change in in_order(self._worker, (self._job(mesh) for mesh in meshes), look):
            done += 1
            found += [] if change is None else [change]
            if time.monotonic() > until:
                break
        if done < len(self._single):
            left = counted(len(self._single) - done, "island")
            self.said.append(f"{left} not looked at, for time ran out")
        words = f"unwrapped {counted(len(found), 'island')} again"
        self._bench = self._bench.then(joined(found), words)

    def _job(self, mesh: IslandMesh) -> Callable[[Wish], CornerUvs | None]:
        def run(is_wanted: Wish) -> CornerUvs | None:
            try:
                found = attainable(mesh, self._worker, seconds=ISLAND_SECONDS, is_wanted=is_wanted)
                advice = IslandAdvice(found, (), verdicts(found, None), "")
                if not advice.is_safe_to_unwrap:
                    return None
                return apply_unwrap(mesh, self._worker, seconds=ISLAND_SECONDS, is_wanted=is_wanted)
            except NoAdvice:
                return None

        return run

    def _straightened(self, progress: Progress) -> _Bench:
        strips = straighten(
            self._bench.layout, self._tile, self._single, self._worker, progress=progress
        )
        wanted = [
            one.change
            for one in strips
            if one is not None and one.verdict is StraightenVerdict.STRAIGHTEN
        ]
        words = f"straightened {counted(len(wanted), 'strip')}"
        return self._bench.then(joined(wanted), words)

    def _arranged(self, bench: _Bench, progress: Progress) -> tuple[_Bench, Packing | None]:
        """Level and pack."""
        growth = float("inf")
        if self._wish.level:
            bench, growth = self._levelled(bench)
        if self._wish.pack is Placing.NEVER or not (
            bench.changes or self._wish.pack is Placing.ALWAYS
        ):
            return bench, None
        limits = self._limits
        rounding_px = ROUNDING * max(self._tile.width, self._tile.height)
        wish = PackWish(
            padding_px=limits.required_padding_px + 2 * rounding_px,
            margin_px=limits.required_margin_px + rounding_px,
            importance=tuple(self._importance().tolist()),
            most_scale=growth,
            seconds=self._wish.seconds,
        )
        stacks = find_stacks(bench.layout, self._tile)
        try:
            packing = pack(bench.layout, self._tile, wish, stacks=stacks, progress=progress)
        except NoAdvice as refusal:
            return replace(bench, said=(*bench.said, f"not packed, for {refusal.reason}")), None
        before = percent(self._judged.measures.coverage.total)
        words = f"packed, from {before} to {percent(packing.coverage)} coverage"
        return bench.then(packing.change, words), packing

    def _levelled(self, bench: _Bench) -> tuple[_Bench, float]:
        """Level; return also by how much all may grow until the target is reached."""
        wish = LevelWish(importance=tuple(self._importance().tolist()))
        stacks = find_stacks(bench.layout, self._tile)
        try:
            found = level(bench.layout, self._tile, wish, stacks=stacks)
        except NoAdvice as refusal:
            return replace(bench, said=(*bench.said, f"not levelled, for {refusal.reason}")), 1.0
        target = self._limits.target_density
        growth = float("inf") if target is None else target / found.density
        return bench.then(found.change, "levelled densities"), growth

    def _importance(self) -> FloatArray:
        return self._judged.island_importance


def _is_full_enough(straight: Packing | None, plain: Packing | None) -> bool:
    if straight is None or plain is None:
        return True
    return straight.coverage >= plain.coverage - MOST_LOST
