"""Strip packing of outlines by spyrrow, then tightened. Runs in the worker process."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from dataclasses import dataclass
from threading import Thread
from typing import Any

import numpy as np

from evenweave.trial.tighten.tighten import Loose, Lying, tight, tighten
from evenweave.trial.work.worker import tell

LOOK_SECONDS = 0.1
START_SECONDS = 0.5  # that the solver takes beyond its time
BLOCKS_PER_SECOND = 6.0  # of one solution; many short ones beat a few long ones
LEAST_SECONDS, MOST_SECONDS = 2, 15
TIGHTENING = 0.04  # seconds a block, left at the end
WORTH_TELLING = 5e-4  # of the scale
FEASIBLE = (0, 3, 4)  # kinds of reports of solutions without collisions


@dataclass(frozen=True, eq=False)
class Strip:
    """What is to be packed, in texels at scale 1.

    outlines : per block its (x, y) points; degrees : per block the turns allowed, None for any
    room_px : width and height the blocks must lie in; padding_px : texels between them
    known : a packing of them; most_scale : beyond which none is wanted
    loose : the same blocks for tightening; None where they are to lie on whole texels
    """

    outlines: tuple[tuple[tuple[float, float], ...], ...]
    degrees: tuple[tuple[float, ...] | None, ...]
    room_px: tuple[float, float]
    padding_px: float
    known: Lying
    most_scale: float
    loose: Loose | None


def solve_strip(strip: Strip, seconds: float, seed: int) -> None:
    """Look for packings larger than the one known; `tell` each as a `Lying`.

    The solver shortens a strip of fixed height. A strip as high as the room is at some scale
    allows that scale, if it becomes no longer than the room; the next strip is set between.
    What comes out is tightened both ways, and with seed 0 the known packing to begin with.
    seed : other seeds find other packings
    """
    until = time.monotonic() + seconds
    if seed == 0 and strip.loose is not None:
        tell_tighter(strip.loose, strip.known, seconds)
    scale = aim = min(strip.known.scale, strip.most_scale)
    while (share := _share(strip, until - time.monotonic())) > 0:
        seed += 1000
        shortest = min(
            _solutions(strip, scale, aim, share, seed), key=lambda one: one[0], default=None
        )
        if shortest is None:
            continue
        width, moves = shortest
        lying = _lying(min(aim, strip.room_px[0] / width), moves)
        if strip.loose is not None:
            lying = tight(strip.loose, lying, lambda: time.monotonic() < until)
        if lying.scale > scale:
            scale = lying.scale
            tell(lying)
        aim = min(math.sqrt(aim * strip.room_px[0] / width), strip.most_scale)


def tell_tighter(loose: Loose, lying: Lying, seconds: float) -> None:
    """Tighten a packing and `tell` it whenever it has become noticeably larger."""
    until, told = time.monotonic() + seconds, 0.0
    for after in tighten(loose, lying):
        is_over = time.monotonic() > until
        if is_over or after.scale > (1 + WORTH_TELLING) * told:
            told = after.scale
            tell(after)
        if is_over:
            break


def _share(strip: Strip, left: float) -> int:
    """Return the whole seconds of the next solution; 0 where too few are left for one."""
    count = len(strip.outlines)
    left -= START_SECONDS
    left -= min(TIGHTENING * count, left / 2)
    usual = min(max(round(count / BLOCKS_PER_SECOND), LEAST_SECONDS), MOST_SECONDS)
    return max(0, int(left) if left < 2 * usual else usual)


def _lying(scale: float, moves: tuple[tuple[float, float, float], ...]) -> Lying:
    move = np.array(moves)
    return Lying(scale, move[:, 0], move[:, 1:], np.zeros(len(move), dtype=np.int32))


def _solutions(
    strip: Strip, scale: float, aim: float, seconds: int, seed: int
) -> Iterator[tuple[float, tuple[tuple[float, float, float], ...]]]:
    """Yield the width that the blocks take, and their moves, of every solution on the way.

    The solver keeps the separation to the edges of the strip too: the strip is that much wider.
    """
    import spyrrow

    gap = strip.padding_px / scale
    items = [
        spyrrow.Item(str(number), list(outline), 1, None if turns is None else list(turns))
        for number, (outline, turns) in enumerate(zip(strip.outlines, strip.degrees, strict=True))
    ]
    instance = spyrrow.StripPackingInstance("", strip.room_px[1] / aim + 2 * gap, items)
    config = spyrrow.StripPackingConfig(
        min_items_separation=gap or None, total_computation_time=seconds, num_workers=1, seed=seed
    )
    reports = spyrrow.ProgressQueue()
    solving = Thread(target=instance.solve, args=(config, reports), daemon=True)
    solving.start()
    while solving.is_alive():
        solving.join(LOOK_SECONDS)
        for kind, solution in reports.drain():
            if int(kind) in FEASIBLE:
                yield solution.width - 2 * gap, _moves(solution, len(items), gap)


def _moves(solution: Any, count: int, gap: float) -> tuple[tuple[float, float, float], ...]:
    found = {int(one.id): one for one in solution.placed_items}
    return tuple(
        (
            float(found[number].rotation),
            float(found[number].translation[0]) - gap,
            float(found[number].translation[1]) - gap,
        )
        for number in range(count)
    )
