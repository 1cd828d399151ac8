"""Look longer for a packing: a solver for irregular strips in the worker, and more passes.

spyrrow (the strip packing of Gardeyn & Wauters 2025, from memory) packs outlines into a strip of
fixed height, as short as it can; it knows no holes, no pinned islands and one tile only, and does
worse than the grid beyond some hundred islands. The grid packer goes on in any case.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from contextlib import suppress
from dataclasses import replace
from queue import SimpleQueue
from threading import Event

import numpy as np

from evenweave.arrays import FloatArray
from evenweave.errors import Cancelled
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.results import Stacks
from evenweave.progress import Progress, silent
from evenweave.trial.pack import Job, Packing, PackWish, outcome, pack, prepared
from evenweave.trial.pack_blocks import turn_matrix
from evenweave.trial.pack_cells import Place
from evenweave.trial.pack_outline import block_outline
from evenweave.trial.pack_search import Placed
from evenweave.trial.pack_strip import Strip, StripResult, solve_strip
from evenweave.trial.worker import NoAdvice, Worker

MOST_BLOCKS = 100  # beyond which the grid does better within any time that is waited
FIRST_SECONDS = 1.5  # and at most a third of the time, for a packing to begin with
OVERRUN_SECONDS = 1.0  # that the strip solver may take beyond its time
LOOK_SECONDS = 0.05
SNAP_PX = math.sqrt(2.0)  # what two blocks may come nearer when both go to whole texels
SHORT_PX = 0.005  # texels of padding that rounding may cost


def pack_longer(
    layout: Layout,
    tile: Tile,
    wish: PackWish,
    *,
    stacks: Stacks,
    worker: Worker,
    progress: Progress = silent,
    found: Callable[[Packing], None] = lambda one: None,
) -> Packing:
    """Return the best packing found within `wish.seconds`, begun with that of `pack`.

    found : told each better packing at once. Once there is one, cancelling by `progress` ends
    the search and keeps the best. Raises NoAdvice and Cancelled as `pack` does before that.
    """
    begun = time.monotonic()
    job = prepared(layout, tile, wish, stacks)
    best = _Best(found)

    def tell(share: float, doing: str) -> None:
        spent = time.monotonic() - begun
        progress(min(1.0, spent / wish.seconds), doing)

    def go_on() -> bool:
        tell(0.0, "looking for a better packing")
        return True

    worker.start()
    try:
        first = replace(wish, seconds=min(FIRST_SECONDS, wish.seconds / 3))
        best.offer(pack(layout, tile, first, stacks=stacks, found=best.offer, progress=tell))
        _look(job, worker, best, until=begun + wish.seconds, go_on=go_on)
    except Cancelled:
        if best.packing is None:
            raise
    if best.packing is None:
        raise NoAdvice("no packing was found")
    return best.packing


class _Best:
    """The best packing so far, told as it comes."""

    def __init__(self, found: Callable[[Packing], None]) -> None:
        self.packing: Packing | None = None
        self._found = found

    def offer(self, one: Packing) -> None:
        if self.packing is None or one.scale > self.packing.scale:
            self.packing = one
            self._found(one)


def _look(
    job: Job, worker: Worker, best: _Best, *, until: float, go_on: Callable[[], bool]
) -> None:
    """Let the grid packer go on in a thread while the strip solver looks in the worker."""
    better: SimpleQueue[Packing] = SimpleQueue()
    is_over = Event()

    def stop_when_over(share: float, doing: str) -> None:
        if is_over.is_set():
            raise Cancelled

    def on_the_grid() -> None:
        wish = replace(job.wish, seconds=until - time.monotonic())
        with suppress(Cancelled, NoAdvice):
            pack(
                job.layout, job.tile, wish, stacks=job.stacks, found=better.put,
                progress=stop_when_over,
            )  # fmt: skip

    def look() -> bool:
        while not better.empty():
            best.offer(better.get())
        return go_on()

    with ThreadPoolExecutor(1, thread_name_prefix="packing") as pool:
        grid = pool.submit(on_the_grid)
        try:
            if _suits_a_strip(job):
                _strips(job, worker, best, seconds=until - time.monotonic(), look=look)
            while not wait([grid], LOOK_SECONDS).done:
                look()
            grid.result()
            look()
        finally:
            is_over.set()


def _suits_a_strip(job: Job) -> bool:
    return len(job.moving) <= MOST_BLOCKS and len(job.wish.tiles) == 1 and not job.wish.pinned


def _strips(
    job: Job, worker: Worker, best: _Best, *, seconds: float, look: Callable[[], bool]
) -> None:
    """Let the strip solver look for better packings; offer each once its padding is measured."""
    corners = [block_outline(block) for block in job.moving]
    strip = _strip(job, corners, best.packing.scale if best.packing else job.task.bound)

    def hear(result: StripResult) -> None:
        if best.packing is not None and result.scale <= best.packing.scale:
            return
        one = outcome(job, _placed(job, result))
        if one.padding_px >= job.wish.padding_px - SHORT_PX and (
            one.margin_px >= job.wish.margin_px - SHORT_PX
        ):
            best.offer(one)

    late = time.monotonic() + seconds + OVERRUN_SECONDS
    try:
        worker.call(
            solve_strip, strip, seconds, seconds=seconds + OVERRUN_SECONDS,
            is_wanted=lambda: look() and time.monotonic() < late, hear=hear,
        )  # fmt: skip
    except NoAdvice:
        return  # where the solver fails, what was placed stays placed
    except Cancelled:
        if time.monotonic() < late:
            raise


def _strip(job: Job, corners: list[FloatArray], scale: float) -> Strip:
    wish, grid = job.wish, job.task.grid
    snap = SNAP_PX if wish.on_texel_grid else 0.0
    any_turn = wish.turns == "free" and not wish.on_texel_grid
    return Strip(
        outlines=tuple(tuple((float(x), float(y)) for x, y in ring) for ring in corners),
        degrees=tuple(None if any_turn else tuple(poses) for poses in job.task.turned),
        room_px=(grid.room[0] * grid.cell_px - snap, grid.room[1] * grid.cell_px - snap),
        padding_px=wish.padding_px + snap,
        scale=scale,
        most_scale=job.task.bound,
    )


def _placed(job: Job, result: StripResult) -> Placed:
    """Return the solver's packing as places of lowest corners, on whole texels where wished."""
    places = []
    for block, (degrees, x, y) in zip(job.moving, result.moves, strict=True):
        low = (block.line_px.reshape(-1, 2) @ turn_matrix(degrees)).min(axis=0)
        at = (low + np.array([x, y])) * result.scale
        if job.wish.on_texel_grid:
            at = np.round(at)
        at /= job.task.grid.cell_px
        places.append(Place(0, degrees, float(at[0]), float(at[1])))
    return Placed(result.scale, tuple(places), 1.0)
