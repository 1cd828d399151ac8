"""Look longer for a packing: a solver for irregular strips in the worker, or more passes.

spyrrow (the strip packing of Gardeyn & Wauters 2025, from memory) packs outlines into a strip of
fixed height, as short as it can; it knows no holes, no pinned islands and one tile only, and does
worse than the grid beyond some hundred islands. Elsewhere the grid packer goes on.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from evenweave.arrays import FloatArray
from evenweave.errors import Cancelled
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.results import Stacks
from evenweave.progress import Progress, silent, within
from evenweave.trial.pack import Job, Packing, PackWish, outcome, pack, prepared
from evenweave.trial.pack_blocks import turn_matrix
from evenweave.trial.pack_cells import Place
from evenweave.trial.pack_outline import block_outline
from evenweave.trial.pack_search import Placed
from evenweave.trial.pack_strip import Strip, StripResult, solve_strip
from evenweave.trial.worker import NoAdvice, Worker

MOST_BLOCKS = 100  # beyond which the grid does better within any time that is waited
GRID_SHARE = 1 / 3  # of the time, before the strip solver has its turn
OVERRUN_SECONDS = 1.0  # that the strip solver may take beyond its time
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
    job = prepared(layout, tile, wish, stacks)
    is_strip = len(job.moving) <= MOST_BLOCKS and len(wish.tiles) == 1 and not wish.pinned
    first = wish if not is_strip else replace(wish, seconds=GRID_SHARE * wish.seconds)
    best = _Best(found)
    try:
        best.offer(
            pack(
                layout, tile, first, stacks=stacks, found=best.offer,
                progress=within(progress, 0.0, first.seconds / wish.seconds),
            )
        )  # fmt: skip
        if is_strip:
            share = within(progress, first.seconds / wish.seconds, 1.0)
            _look(job, worker, best, seconds=wish.seconds - first.seconds, progress=share)
    except (Cancelled, NoAdvice):
        # The worker gave up or nobody wants more: what was placed stays placed.
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


def _look(job: Job, worker: Worker, best: _Best, *, seconds: float, progress: Progress) -> None:
    """Let the strip solver look for better packings; offer each once its padding is measured."""
    begun = time.monotonic()
    corners = [block_outline(block) for block in job.moving]
    strip = _strip(job, corners, best.packing.scale if best.packing else job.task.bound)

    def go_on() -> bool:
        progress(min(1.0, (time.monotonic() - begun) / seconds), "looking for a better packing")
        return True

    def hear(result: StripResult) -> None:
        one = outcome(job, _placed(job, result))
        if one.padding_px >= job.wish.padding_px - SHORT_PX and (
            one.margin_px >= job.wish.margin_px - SHORT_PX
        ):
            best.offer(one)

    worker.call(
        solve_strip, strip, seconds, seconds=seconds + OVERRUN_SECONDS, is_wanted=go_on, hear=hear
    )


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
