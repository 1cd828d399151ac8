"""Is every island inside its tile: outside-tile, crosses-tile, tiling-hint, udim-hint."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import BoolArray, FloatArray
from evenweave.check.finding import Severity
from evenweave.check.numbers import percent
from evenweave.check.rules.islands import on_islands
from evenweave.check.subject import Check, Hit, Subject
from evenweave.layout import udim
from evenweave.limits.limits import Limits
from evenweave.measure.results import IslandMeasures

ROUNDING_UV = 1e-6
TILING_SHARE = 0.5
WHOLE_TILE_SLACK = 1e-3


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


def fills_tiles(island: IslandMeasures) -> BoolArray:
    """Tell for each island, (I,), whether its box is made of whole tiles."""
    whole = np.rint(island.bounds)
    is_exact = (np.abs(island.bounds - whole) < WHOLE_TILE_SLACK).all(axis=1)
    return np.asarray(is_exact & (whole[:, 2:] > whole[:, :2]).all(axis=1))


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
    """Islands over whole UDIM tiles were laid so on purpose; others were not."""
    beyond = _beyond_px(subject)
    island, has_udim = subject.measures.island, subject.limits.udim
    is_crossing = crosses(island, subject.limits)
    is_whole = fills_tiles(island) & has_udim
    found = []
    for is_failing, variant, severity in (
        (is_crossing & ~is_whole, "udim" if has_udim else "", None),
        (is_crossing & is_whole, "whole", Severity.NOTE),
    ):
        found += on_islands(
            subject,
            is_failing,
            value=beyond,
            badness=beyond,
            limit=0.0,
            variant=variant,
            severity=severity,
        )
    return found


def _tiling(subject: Subject) -> list[Hit]:
    if not subject.guess.kind:
        return []
    words = {
        "share": percent(subject.guess.share),
        "layout": subject.layout.name or "no material",
        "count": f"{subject.layout.island_count:,}",
    }
    return [
        Hit(value=subject.guess.share, limit=TILING_SHARE, variant=subject.guess.kind, words=words)
    ]


def _udim(subject: Subject) -> list[Hit]:
    if not subject.udim_is_guess:
        return []
    tiles = len(subject.measures.coverage.tile)
    words = {"tiles": f"{tiles:,}", "layout": subject.layout.name or "no material"}
    return [Hit(value=float(tiles), limit=1.0, words=words)]


TILING_HINT = Check("tiling-hint", Severity.NOTE, "share", _tiling, needs_own_place=True)
UDIM_HINT = Check("udim-hint", Severity.NOTE, "tiles", _udim, needs_own_place=True)
OUTSIDE_TILE = Check("outside-tile", Severity.FAULT, "texels", _outside, needs_own_place=True)
CROSSES_TILE = Check("crosses-tile", Severity.FAULT, "texels", _crossing, needs_own_place=True)
