"""Is every island inside its tile: outside-tile, crosses-tile, tiling-hint."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from evenweave.arrays import BoolArray, FloatArray
from evenweave.check.finding import Severity
from evenweave.check.numbers import percent
from evenweave.check.rules.islands import on_islands
from evenweave.check.subject import Check, Hit, Subject
from evenweave.layout import udim
from evenweave.limits import Limits
from evenweave.measure.results import IslandMeasures

ROUNDING_UV = 1e-6
TILING_SHARE = 0.5


def beyond_tile(island: IslandMeasures, limits: Limits) -> FloatArray:
    """Return how far each island sticks out of its tile, (I, 2) tile units along u and v.

    Without UDIM the tile is 0-1; with UDIM it is the one that holds the middle of the island.
    """
    origin = island.tile if limits.udim else np.zeros_like(island.tile)
    low, high = island.bounds[:, :2], island.bounds[:, 2:]
    out: FloatArray = np.maximum(np.maximum(origin - low, high - origin - 1), 0.0)
    return out


def _sticks_out(island: IslandMeasures, limits: Limits) -> BoolArray:
    furthest = beyond_tile(island, limits).max(axis=1, initial=0.0)
    return np.asarray(furthest > ROUNDING_UV)


def is_outside(island: IslandMeasures, limits: Limits) -> BoolArray:
    """Tell for each island, (I,), whether all of it lies where no tile is.

    Without UDIM the tile is 0-1; with UDIM any that has a number. Coordinates closer than
    exporters' six decimals are equal.
    """
    if limits.udim:
        return ~udim.has_number(island.tile)
    u0, v0, u1, v1 = island.bounds.T
    least, most = ROUNDING_UV, 1 - ROUNDING_UV
    is_beyond = (u1 < least) | (v1 < least) | (u0 > most) | (v0 > most)
    return np.asarray(is_beyond & _sticks_out(island, limits))


def crosses(island: IslandMeasures, limits: Limits) -> BoolArray:
    """Tell for each island whether it lies partly in its tile and partly out of it."""
    return np.asarray(_sticks_out(island, limits) & ~is_outside(island, limits))


def share_outside(island: IslandMeasures, limits: Limits) -> FloatArray:
    """Return how much of each island's box lies outside its UDIM tile, (I,) in 0 to 1.

    All of it where that tile has no number. It does not matter whether UDIM is allowed.
    """
    low, high = island.bounds[:, :2], island.bounds[:, 2:]
    inside = np.minimum(high, island.tile + 1) - np.maximum(low, island.tile)
    size = np.maximum(high - low, np.finfo(float).tiny)
    share = np.clip(inside / size, 0.0, 1.0).prod(axis=1)
    return np.where(is_outside(island, replace(limits, udim=True)), 1.0, 1.0 - share)


def _beyond_px(subject: Subject) -> FloatArray:
    tile = subject.measures.tile
    beyond = beyond_tile(subject.measures.island, subject.limits) * [tile.width, tile.height]
    furthest: FloatArray = beyond.max(axis=1, initial=0.0)
    return furthest


def _outside(subject: Subject) -> list[Hit]:
    island, limits = subject.measures.island, subject.limits
    if limits.udim:
        tile = subject.measures.tile
        distance = udim.beyond_numbers(island.tile) * [tile.width, tile.height]
        beyond = distance.max(axis=1, initial=0.0)
    else:
        beyond = _beyond_px(subject)
    return on_islands(
        subject,
        is_outside(island, limits),
        value=beyond,
        badness=beyond,
        limit=0.0,
        variant="udim" if limits.udim else "",
    )


def _crossing(subject: Subject) -> list[Hit]:
    beyond = _beyond_px(subject)
    is_crossing = crosses(subject.measures.island, subject.limits)
    return on_islands(
        subject,
        is_crossing,
        value=beyond,
        badness=beyond,
        limit=0.0,
        variant="udim" if subject.limits.udim else "",
    )


def _tiling(subject: Subject) -> list[Hit]:
    if not subject.looks_tiling:
        return []
    share = max(subject.outside_share, subject.piled_share)
    return [
        Hit(
            value=share,
            limit=TILING_SHARE,
            variant="outside" if share == subject.outside_share else "piled",
            words={"share": percent(share), "layout": subject.layout.name or "no material"},
        )
    ]


TILING_HINT = Check("tiling-hint", Severity.FAULT, "share", _tiling, needs_own_place=True)
OUTSIDE_TILE = Check("outside-tile", Severity.FAULT, "texels", _outside, needs_own_place=True)
CROSSES_TILE = Check("crosses-tile", Severity.FAULT, "texels", _crossing, needs_own_place=True)
