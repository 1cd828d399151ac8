"""What no packing can exceed, in closed form."""

from __future__ import annotations

import math
from collections.abc import Sequence

from evenweave.trial.pack_blocks import Block, TurnedBlock


def largest_scale(
    blocks: Sequence[Block],
    turned: Sequence[dict[float, TurnedBlock]],
    *,
    room_px: tuple[float, float],
    tiles: int,
    padding_px: float,
) -> float:
    """Return a scale that cannot be exceeded; inf where nothing has a size.

    Half of the padding belongs to each block. A block of area A and outline L, scaled by s and
    grown by half the padding, r, covers A s^2 + r L s + pi r^2 (Steiner's formula; exact where
    no notch is narrower than the padding), and all of them must fit into the room grown by as
    much. Besides, each block must fit into the room in one of its turns.
    """
    r = padding_px / 2
    area = sum(block.area_px for block in blocks)
    outline = r * sum(block.outline_px for block in blocks)
    whole = tiles * (room_px[0] + padding_px) * (room_px[1] + padding_px)
    left = whole - len(blocks) * math.pi * r * r
    if left <= 0:
        return 0.0
    root = outline + math.sqrt(outline * outline + 4 * area * left)
    fits = [max(_fit(one, room_px) for one in poses.values()) for poses in turned]
    return min([2 * left / root if root > 0 else math.inf, *fits])


def _fit(one: TurnedBlock, room_px: tuple[float, float]) -> float:
    sides = zip(room_px, one.size_px.tolist(), strict=True)
    return min((room / side if side > 0 else math.inf) for room, side in sides)
