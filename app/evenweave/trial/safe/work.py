"""The safe fixes of one layout, each tried on what the ones before it left."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.check.numbers import counted, percent
from evenweave.layout.layout import Layout
from evenweave.limits.limits import Limits
from evenweave.measure.stacks.stacks import find_stacks
from evenweave.pipeline import LayoutReview
from evenweave.progress import Progress, within
from evenweave.trial.advice.advice import IslandAdvice, worst_first
from evenweave.trial.advice.verdict import verdicts
from evenweave.trial.flatten.attainable import apply_unwrap, attainable
from evenweave.trial.flatten.flatten import EASY
from evenweave.trial.flatten.island_mesh import IslandMesh, aspect_of, island_meshes
from evenweave.trial.pack.level import LevelOptions, level
from evenweave.trial.pack.pack import Packing, PackOptions, pack
from evenweave.trial.safe.options import FixOptions, Placing
from evenweave.trial.straighten.straighten import StraightenVerdict, straighten
from evenweave.trial.uvs.corner_uvs import CornerUvs
from evenweave.trial.uvs.retexture import joined, retextured
from evenweave.trial.work.in_order import in_order
from evenweave.trial.work.worker import NoAdvice, TooLate, Wanted, Worker

ISLAND_SECONDS = 10.0
MOST_WORK = 1_000_000  # triangles of a layout, after which the islands that are left stay
ISLAND_WORK = 100  # triangles that an island counts for beside its own
ROUNDING = 1e-6  # of a tile, that coordinates may lose when they are written to a file
MOST_LOST = 0.02  # of coverage, that straight strips may cost


@dataclass(frozen=True, eq=False)
class Bench:
    """A layout as changes made so far leave it."""

    layout: Layout
    changes: tuple[CornerUvs, ...] = ()
    said: tuple[str, ...] = ()

    def then(self, change: CornerUvs, words: str) -> Bench:
        """Return the layout with one change more; itself where there is nothing to change."""
        if not len(change.corner):
            return self
        layout = retextured(self.layout, change)
        said = (*self.said, words) if words else self.said
        return Bench(layout, (*self.changes, change), said)


class Work:
    """All fixes of one layout, each tried on what the ones before it left."""

    def __init__(
        self, judged: LayoutReview, limits: Limits, options: FixOptions, worker: Worker
    ) -> None:
        self._judged, self._limits, self._options, self._worker = judged, limits, options, worker
        self._tile = judged.measures.tile
        stacked = {i for group in judged.measures.stacks.group for i in group}
        self._single = tuple(i for i in worst_first(judged) if i not in stacked)
        self._bench = Bench(judged.layout)
        self._straight: Bench | None = None
        self.said: list[str] = []

    def run(self, progress: Progress) -> None:
        """Do what is wished."""
        if self._options.unwrap:
            self._unwrap(within(progress, 0.0, 0.5))
        straight = self._bench
        if self._options.straighten:
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

    def results(self) -> Iterator[Bench]:
        """Yield what came of it, the best first."""
        if self._straight is not None:
            yield self._straight
        yield self._bench

    def _unwrap(self, progress: Progress) -> None:
        """Unwrap again what the same seams let lie much better, worst first."""
        islands = _within_budget(self._single, self._judged.measures.island.triangles)
        done, found, late = 0, [], 0

        def look() -> None:
            progress(done / max(len(islands), 1), "unwrapping again")

        meshes = island_meshes(self._judged.layout, islands, aspect=aspect_of(self._tile))
        for change in in_order(self._worker, (self._job(mesh) for mesh in meshes), look):
            done += 1
            if isinstance(change, TooLate):
                late += 1
            elif change is not None:
                found.append(change)
        if len(islands) < len(self._single):
            left = counted(len(self._single) - len(islands), "island")
            self.said.append(f"{left} not looked at, for there are too many to look at at once")
        if late:
            self.said.append(f"{counted(late, 'island')} given up, for the machine is too busy")
        words = f"unwrapped {counted(len(found), 'island')} again"
        self._bench = self._bench.then(joined(found), words)

    def _job(self, mesh: IslandMesh) -> Callable[[Wanted], CornerUvs | TooLate | None]:
        def run(is_wanted: Wanted) -> CornerUvs | TooLate | None:
            try:
                found = attainable(mesh, self._worker, seconds=ISLAND_SECONDS, is_wanted=is_wanted)
                advice = IslandAdvice(found, (), verdicts(found, None), "")
                if not advice.is_safe_to_unwrap:
                    return None
                if found.energy_best and found.energy_best.value <= EASY:
                    # Further sweeps of the solver would change next to nothing.
                    return CornerUvs.of(mesh.corner, found.corner_uv)
                return apply_unwrap(mesh, self._worker, seconds=ISLAND_SECONDS, is_wanted=is_wanted)
            except TooLate as late:
                return late
            except NoAdvice:
                return None

        return run

    def _straightened(self, progress: Progress) -> Bench:
        late = self._worker.late
        strips = straighten(
            self._bench.layout, self._tile, self._single, self._worker, progress=progress
        )
        wanted = [
            one.change
            for one in strips
            if one is not None and one.verdict is StraightenVerdict.STRAIGHTEN
        ]
        if late := self._worker.late - late:
            strips_late = counted(late, "island")
            self.said.append(f"{strips_late} not tried as a strip, for the machine is too busy")
        words = f"straightened {counted(len(wanted), 'strip')}"
        return self._bench.then(joined(wanted), words)

    def _arranged(self, bench: Bench, progress: Progress) -> tuple[Bench, Packing | None]:
        """Level and pack."""
        growth = float("inf")
        if self._options.level:
            bench, growth = self._levelled(bench)
        if self._options.pack is Placing.NEVER or not (
            bench.changes or self._options.pack is Placing.ALWAYS
        ):
            return bench, None
        limits = self._judged.limits
        rounding_px = ROUNDING * max(self._tile.width, self._tile.height)
        options = PackOptions(
            padding_px=limits.required_padding_px + 2 * rounding_px,
            margin_px=limits.required_margin_px + rounding_px,
            importance=tuple(self._importance().tolist()),
            most_scale=growth,
            seconds=self._options.seconds,
        )
        stacks = find_stacks(bench.layout, self._tile)
        try:
            packing = pack(bench.layout, self._tile, options, stacks=stacks, progress=progress)
        except NoAdvice as refusal:
            return replace(bench, said=(*bench.said, f"not packed, for {refusal.reason}")), None
        before = percent(self._judged.measures.coverage.total)
        words = f"packed, from {before} to {percent(packing.coverage)} coverage"
        if packing.is_cut_short:
            words += " (the best so far, for the machine is too busy to look further)"
        return bench.then(packing.change, words), packing

    def _levelled(self, bench: Bench) -> tuple[Bench, float]:
        """Level; return also by how much all may grow until the target is reached."""
        options = LevelOptions(importance=tuple(self._importance().tolist()))
        stacks = find_stacks(bench.layout, self._tile)
        try:
            found = level(bench.layout, self._tile, options, stacks=stacks)
        except NoAdvice as refusal:
            return replace(bench, said=(*bench.said, f"not levelled, for {refusal.reason}")), 1.0
        target = self._limits.target_density
        growth = float("inf") if target is None else target / found.density
        return bench.then(found.change, "levelled densities"), growth

    def _importance(self) -> FloatArray:
        return self._judged.island_importance


def _within_budget(islands: Sequence[int], triangles: IntArray) -> tuple[int, ...]:
    """Return the first islands, as many as together are not too much work."""
    work = np.cumsum(triangles[list(islands)] + ISLAND_WORK)
    return tuple(islands[: int(np.searchsorted(work, MOST_WORK, side="right"))])


def _is_full_enough(straight: Packing | None, plain: Packing | None) -> bool:
    if straight is None or plain is None:
        return True
    return straight.coverage >= plain.coverage - MOST_LOST
