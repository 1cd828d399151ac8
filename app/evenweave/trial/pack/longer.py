"""Look longer for a packing: a solver for irregular strips in the workers, or more passes.

spyrrow (the strip packing of Gardeyn & Wauters 2025, from memory) packs outlines into a strip of
fixed height, as short as it can; it knows no holes, no pinned islands and one tile only, and does
worse than the grid beyond some hundred islands. There the grid packer goes on, and what it finds
is tightened in a worker.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import partial
from queue import Empty, SimpleQueue
from threading import Event
from typing import Any

from evenweave.errors import Cancelled
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.results import Stacks
from evenweave.progress import Progress, silent
from evenweave.trial.nest.outline import block_outline, has_holes
from evenweave.trial.nest.search import NEAR, Placed, Search
from evenweave.trial.pack.pack import (
    Job,
    Packing,
    PackOptions,
    is_better,
    may_tighten,
    may_turn,
    outcome,
    pack,
    prepared,
)
from evenweave.trial.tighten.strip import Strip, solve_strip, tell_tighter
from evenweave.trial.tighten.tight import ROUNDING_PX, loosened, lying, placed
from evenweave.trial.tighten.tighten import Loose, Lying
from evenweave.trial.work.worker import NoAdvice, Worker

MOST_BLOCKS = 100  # beyond which the grid does better within any time that is waited
FIRST_SECONDS = 1.5  # and at most a third of the time, for a packing to begin with
MOST_LOOSE = 2000  # blocks, beyond which a step of tightening takes too long
OVERRUN_SECONDS = 1.0  # that the strip solver may take beyond its time
PROMISING = 0.99  # of the best scale: what may become better than that when tightened
LOOK_SECONDS = 0.05
SNAP_PX = math.sqrt(2.0)  # what two blocks may come nearer when both go to whole texels


def pack_longer(
    layout: Layout,
    tile: Tile,
    options: PackOptions,
    *,
    stacks: Stacks,
    worker: Worker,
    progress: Progress = silent,
    hear: Callable[[Packing], None] = lambda one: None,
) -> Packing:
    """Return the best packing found within `wish.seconds`, begun with that of `pack`.

    found : told each better packing at once. Once there is one, cancelling by `progress` ends
    the search and keeps the best. Raises NoAdvice and Cancelled as `pack` does before that.
    """
    begun = time.monotonic()
    first = replace(options, seconds=min(FIRST_SECONDS, options.seconds / 3))
    job = prepared(layout, tile, replace(options, seconds=options.seconds - first.seconds), stacks)
    best = _Best(hear)

    def tell_share(share: float, doing: str) -> None:
        spent = time.monotonic() - begun
        progress(min(1.0, spent / options.seconds), doing)

    def go_on() -> bool:
        tell_share(0.0, "looking for a better packing")
        return True

    worker.start()
    try:
        packing = pack(layout, tile, first, stacks=stacks, hear=best.offer, progress=tell_share)
        best.offer(packing)
        _Look(job, worker, best, packing.lying, until=begun + options.seconds).run(go_on)
    except Cancelled:
        if best.packing is None:
            raise
    if best.packing is None:
        raise NoAdvice("no packing was found")
    return best.packing


class _Best:
    """The best packing so far, told as it comes."""

    def __init__(self, hear: Callable[[Packing], None]) -> None:
        self.packing: Packing | None = None
        self._found = hear

    @property
    def scale(self) -> float:
        """How much larger the islands are in the best packing; 0 where there is none."""
        return self.packing.scale if self.packing else 0.0

    def offer(self, offered: Packing) -> None:
        if offered.scale > self.scale:
            self.packing = offered
            self._found(offered)


@dataclass(frozen=True)
class _Look:
    """The search after the first packing, in threads; packings are measured and told in `run`."""

    job: Job
    worker: Worker
    best: _Best
    known: Lying
    until: float
    found: SimpleQueue[Placed] = field(default_factory=SimpleQueue)
    over: Event = field(default_factory=Event)

    def run(self, go_on: Callable[[], bool]) -> None:
        """Search until time is up; `go_on` may raise Cancelled."""
        ways = self._ways()
        with ThreadPoolExecutor(len(ways), thread_name_prefix="packing") as pool:
            going = [pool.submit(way) for way in ways]
            try:
                is_over = False
                while not is_over:
                    is_over = not wait(going, LOOK_SECONDS).not_done
                    self._judge()
                    is_over = is_over or self.best.scale >= NEAR * self.job.task.bound
                    go_on()
            finally:
                self.over.set()
            for one in going:
                one.result()

    def _judge(self) -> None:
        """Measure what was found, and offer it if it is better."""
        while not self.found.empty():
            one = self.found.get()
            if one.scale > self.best.scale:
                packing = outcome(self.job, one)
                if is_better(packing, self.best.scale, self.job.options):
                    self.best.offer(packing)

    def _ways(self) -> list[Callable[[], None]]:
        """Return what is to be done at the same time."""
        job = self.job
        if _suits_a_strip(job):
            strip = _strip(job, self.known)
            seeds = range(self.worker.children)
            ways: list[Callable[[], None]] = [partial(self._strips, strip, one) for one in seeds]
            is_plain = strip.loose is not None and not any(has_holes(block) for block in job.moving)
            return ways if is_plain else [ways[0], partial(self._on_the_grid, SimpleQueue())]
        rough: SimpleQueue[Lying] = SimpleQueue()
        rough.put(self.known)
        ways = [partial(self._on_the_grid, rough)]
        if may_tighten(job) and len(job.moving) <= MOST_LOOSE:
            ways.append(partial(self._tighten, rough))
        return ways

    def _strips(self, strip: Strip, seed: int) -> None:
        """Let the strip solver look in a worker."""
        seconds = self.until - time.monotonic()
        self._ask(solve_strip, strip, seconds, seed, seconds=seconds)

    def _on_the_grid(self, rough: SimpleQueue[Lying]) -> None:
        """Let the grid packer go on. rough : is given what it finds too."""
        task = self.job.task

        def go_on() -> bool:
            return not self.over.is_set() and time.monotonic() < self.until

        def tell(placed: Placed) -> None:
            self.found.put(placed)
            rough.put(lying(task, placed))

        # What it finds may be tightened, and so become better than what is tight already.
        share = PROMISING if may_tighten(self.job) else 1.0
        start = Placed(share * self.known.scale, (), 1.0)
        Search(task, start.scale, go_on).better(start, self.job.options.passes, tell)

    def _tighten(self, rough: SimpleQueue[Lying]) -> None:
        """Have the newest packing of the grid packer tightened in a worker, again and again."""
        loose = _loose(self.job)
        while not self.over.is_set() and (left := self.until - time.monotonic()) > 0:
            newest = None
            with suppress(Empty):
                newest = rough.get(timeout=LOOK_SECONDS)
                while True:
                    newest = rough.get_nowait()
            if newest is not None and newest.scale > PROMISING * self.best.scale:
                self._ask(tell_tighter, loose, newest, left, seconds=left)

    def _ask(self, work: Callable[..., None], *arguments: Any, seconds: float) -> None:
        """Run a task in a worker; where it fails, what was placed stays placed."""
        late = time.monotonic() + seconds + OVERRUN_SECONDS

        def hear(lying: Lying) -> None:
            self.found.put(_placed(self.job, lying))

        with suppress(NoAdvice, Cancelled):
            self.worker.call(
                work, *arguments, seconds=seconds + OVERRUN_SECONDS,
                is_wanted=lambda: not self.over.is_set() and time.monotonic() < late, hear=hear,
            )  # fmt: skip


def _suits_a_strip(job: Job) -> bool:
    return len(job.moving) <= MOST_BLOCKS and len(job.options.tiles) == 1 and not job.options.pinned


def _loose(job: Job) -> Loose:
    return loosened(job.task, may_turn=may_turn(job.options))


def _strip(job: Job, known: Lying) -> Strip:
    options, grid = job.options, job.task.grid
    snap = SNAP_PX if options.on_texel_grid else 0.0
    corners = [block_outline(block) for block in job.moving]
    return Strip(
        outlines=tuple(tuple((float(x), float(y)) for x, y in ring) for ring in corners),
        degrees=tuple(None if may_turn(job.options) else tuple(poses) for poses in job.task.turned),
        room_px=(grid.room[0] * grid.cell_px - snap, grid.room[1] * grid.cell_px - snap),
        padding_px=options.padding_px + snap + ROUNDING_PX,
        known=known,
        most_scale=job.task.bound,
        loose=_loose(job) if may_tighten(job) else None,
    )


def _placed(job: Job, lying: Lying) -> Placed:
    """Return the places of lowest corners, on whole texels where wished."""
    found, cell = placed(job.task, lying), job.task.grid.cell_px
    if not job.options.on_texel_grid:
        return found
    whole = (
        replace(p, x=round(p.x * cell) / cell, y=round(p.y * cell) / cell) for p in found.places
    )
    return replace(found, places=tuple(whole))
