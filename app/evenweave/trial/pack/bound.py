"""What no packing can exceed, in closed form."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from evenweave.trial.nest.blocks import Block, TurnedBlock


def largest_scale(
    blocks: Sequence[Block], *, room_px: tuple[float, float], tiles: int, padding_px: float
) -> float:
    """Return a scale at which all blocks together fill the room; inf where nothing has a size.

    Half of the padding belongs to each block. A block of area A and outline L, scaled by s and
    grown by half the padding, r, covers A s^2 + r L s + pi r^2 (Steiner's formula; exact where
    no notch is narrower than the padding), and all of them must fit into the room grown by as
    much.
    """
    r = padding_px / 2
    area = sum(block.area_px for block in blocks)
    outline = r * sum(block.outline_px for block in blocks)
    whole = tiles * (room_px[0] + padding_px) * (room_px[1] + padding_px)
    left = whole - len(blocks) * math.pi * r * r
    if left <= 0:
        return 0.0
    root = outline + math.sqrt(outline * outline + 4 * area * left)
    return 2 * left / root if root > 0 else math.inf


def fit_at_turns(poses: Iterable[TurnedBlock], room_px: tuple[float, float]) -> float:
    """Return the largest scale at which one block fits into the room in one of its turns."""
    return max(_fit(one, room_px) for one in poses)


def fit_at_any_turn(block: Block, room_px: tuple[float, float]) -> float:
    """Return a scale beyond which one block fits into the room at no turn.

    Its longest chord must be no longer than the room's diagonal, and it must be no wider across
    its narrowest direction, which is that of an edge of its hull, than the room's shorter side.
    """
    import shapely

    hull = shapely.get_coordinates(shapely.MultiPoint(block.line_px.reshape(-1, 2)).convex_hull)
    chord = float(np.hypot(*(hull[:, None] - hull[None]).T).max())
    edge = np.diff(hull, axis=0)
    edge = edge[np.hypot(*edge.T) > 0]
    normal = np.stack([edge[:, 1], -edge[:, 0]], axis=1) / np.hypot(*edge.T)[:, None]
    width = float(np.ptp(hull @ normal.T, axis=0).min(initial=chord))
    sides = ((math.hypot(*room_px), chord), (min(room_px), width))
    return min(room / side if side > 0 else math.inf for room, side in sides)


def _fit(block: TurnedBlock, room_px: tuple[float, float]) -> float:
    sides = zip(room_px, block.size_px.tolist(), strict=True)
    return min((room / side if side > 0 else math.inf) for room, side in sides)
