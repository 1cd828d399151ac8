"""Strip packing of outlines by spyrrow. Runs in the worker process."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from threading import Thread
from typing import Any

from evenweave.trial.worker import tell

FIRST_AIM = 1.03  # times the scale to beat, at which the height of the first strip is set
LOOK_SECONDS = 0.1
START_SECONDS = 0.5  # that the solver takes beyond its time
FEASIBLE = (0, 3, 4)  # kinds of reports of solutions without collisions
PARTS = ((1.0,), (0.4, 0.6), (0.25, 0.25, 0.5))


@dataclass(frozen=True)
class Strip:
    """What is to be packed, in texels at scale 1.

    outlines : per block its (x, y) points; degrees : per block the turns allowed, None for any
    room_px : width and height the blocks must lie in; padding_px : texels between them
    scale : at which they are known to fit; most_scale : beyond which none is wanted
    """

    outlines: tuple[tuple[tuple[float, float], ...], ...]
    degrees: tuple[tuple[float, ...] | None, ...]
    room_px: tuple[float, float]
    padding_px: float
    scale: float
    most_scale: float


@dataclass(frozen=True)
class StripResult:
    """A better packing: per block the turn, then the way (x, y) it moves, all times the scale."""

    scale: float
    moves: tuple[tuple[float, float, float], ...]


def solve_strip(strip: Strip, seconds: float) -> None:
    """Look for packings larger than the one known; `tell` each as a `StripResult`.

    The solver shortens a strip of fixed height. A strip as high as the room is at some scale
    allows that scale, if it becomes no longer than the room; the next strip is set between.
    Padding is that of the scale to beat, so that it is never less at a better one.
    """
    scale, aim = strip.scale, min(FIRST_AIM * strip.scale, strip.most_scale)
    parts = PARTS[0 if seconds < 4 else 1 if seconds < 8 else 2]
    for number, part in enumerate(parts):
        shortest = math.inf
        for width, moves in _solutions(
            strip, scale, aim, max(1, int(part * (seconds - START_SECONDS))), number + 1
        ):
            shortest = min(shortest, width)
            reached = min(aim, strip.room_px[0] / width)
            if reached > scale:
                scale = reached
                tell(StripResult(scale, moves))
        if math.isfinite(shortest):
            aim = math.sqrt(aim * strip.room_px[0] / shortest)
        aim = min(max(aim, scale * 1.002), strip.most_scale)


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
