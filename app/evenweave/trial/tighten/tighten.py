"""Tighten a packing: move every block a little, all at once, so that all can become larger.

With the direction fixed in which two convex pieces are apart, their gap is linear in their
places and in the common scale: the largest scale within a small step is a linear programme. Its
solution keeps the padding exactly, whatever the directions. Then the directions are taken anew
(compaction after Li & Milenkovic 1995, from memory; here in both directions, and turning).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.trial.tighten.rows import Bodies, Room, Step, best_step

STEP = 0.04  # of the side of a block's share of the room, that a block moves in one step
MOST_STEPS = 60
GAINS = 2e-5  # share of the scale; a step that gains less is followed by a shorter one
SHORTER, SHORTEST = 0.5, 1 / 16


@dataclass(frozen=True, eq=False)
class Loose:
    """What is to be tightened.

    pieces : per block its convex pieces, (N, 2) texels at scale 1
    room_px : lowest and highest x and y, in which blocks must lie
    padding_px : texels between blocks; most_scale : no scale is larger
    straight : (B,) degrees; blocks may be turned a little too, and rather towards these angles or
    quarter turns from them than away. None: they are not turned
    """

    pieces: tuple[tuple[FloatArray, ...], ...]
    room_px: Room
    padding_px: float
    most_scale: float
    straight: FloatArray | None


@dataclass(frozen=True, eq=False)
class Lying:
    """Where blocks lie: a point has become scale * (x @ turn_matrix(degrees) + shift).

    degrees : (B,); shift : (B, 2); tile : (B,) int32 number of the tile
    """

    scale: float
    degrees: FloatArray
    shift: FloatArray
    tile: IntArray


def tighten(loose: Loose, lying: Lying) -> Iterator[Lying]:
    """Yield the packing after each step, ever larger, until small moves help no more.

    Where blocks were nearer than the padding they no longer are after the first step, and the
    scale may be less. Nothing is yielded where no step can be made.
    """
    middle = np.array([_middle(pieces) for pieces in loose.pieces])
    bodies = _bodies(loose, lying, middle)
    degrees = np.array(lying.degrees, dtype=np.float64)
    width, height = (high - low for low, high in loose.room_px)
    longest = way = STEP * math.sqrt(width * height / len(middle))
    scale = 0.0
    for _ in range(MOST_STEPS):
        step = _step(bodies, loose, degrees, way)
        gain = step.scale / scale - 1 if step and scale > 0 else math.inf
        if step is not None and gain > 0:
            degrees = degrees + np.degrees(step.turn)
            bodies, scale = bodies.after(step), step.scale
            turned = [one @ _turn(angle) for one, angle in zip(middle, degrees, strict=True)]
            shift = bodies.middle / scale - np.array(turned)
            yield replace(lying, scale=scale, degrees=degrees, shift=shift)
        if step is None or gain < GAINS:
            way *= SHORTER
        if way < SHORTEST * longest or scale >= loose.most_scale:
            break


def tight(loose: Loose, lying: Lying, go_on: Callable[[], bool]) -> Lying:
    """Return the packing after as many steps as `go_on`, asked before each, allows."""
    steps = tighten(loose, lying)
    while go_on():
        after = next(steps, None)
        if after is None:
            break
        lying = after
    return lying


def _step(bodies: Bodies, loose: Loose, degrees: FloatArray, way: float) -> Step | None:
    """Return the best step, the last part of which only moves and is exact."""
    if loose.straight is None:
        return best_step(bodies, loose.room_px, loose.padding_px, loose.most_scale, way=way)
    off = (degrees - loose.straight + 45.0) % 90.0 - 45.0
    first = best_step(
        bodies, loose.room_px, loose.padding_px, loose.most_scale, way=way, off=np.radians(off)
    )
    if first is None:
        return None
    between = bodies.after(replace(first, scale=bodies.scale))
    last = best_step(between, loose.room_px, loose.padding_px, loose.most_scale, way=way)
    return None if last is None else replace(last, turn=first.turn)


def _bodies(loose: Loose, lying: Lying, middle: FloatArray) -> Bodies:
    turns = [_turn(angle) for angle in lying.degrees.tolist()]
    corner: list[FloatArray] = []
    owner: list[int] = []
    for number, (pieces, turn) in enumerate(zip(loose.pieces, turns, strict=True)):
        corner.extend((piece - middle[number]) @ turn for piece in pieces)
        owner.extend([number] * len(pieces))
    at = [one @ turn for one, turn in zip(middle, turns, strict=True)]
    return Bodies(
        corner=np.vstack(corner),
        start=np.cumsum([0, *map(len, corner)]),
        owner=np.array(owner),
        tile=lying.tile,
        middle=lying.scale * (np.array(at) + lying.shift),
        scale=lying.scale,
    )


def _middle(pieces: tuple[FloatArray, ...]) -> FloatArray:
    corners = np.vstack(pieces)
    middle: FloatArray = (corners.min(axis=0) + corners.max(axis=0)) / 2
    return middle


def _turn(degrees: float) -> FloatArray:
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.array([[c, s], [-s, c]])
