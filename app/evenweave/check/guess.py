"""What a layout seems to be made for where nobody said: repeated, shared, or in UDIM tiles."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from evenweave.check.rules.place import fills_tiles
from evenweave.check.subject import Guess
from evenweave.check.target import piled_share
from evenweave.layout.layout import Layout
from evenweave.layout.udim import has_number
from evenweave.limits.limits import Limits
from evenweave.measure.results import Measures

SHARE = 0.5
"""More than this share of a layout must speak for a guess."""

_WIDER = 0.25
_STICKS_OUT = 0.02
_FILLED = 0.4
_SAME_PLACE = 1e-4
_FEWEST = 6
_WITHIN = 0.9
_BAND_SLACK, _TALLEST_BAND, _UNLIKE_LENGTHS = 0.05, 0.5, 1.1
_CELLS = (2, 3, 4, 5, 6, 8, 10, 16)
_CELL_FILLED, _CELL_SLACK = 0.6, 0.01
_MANY, _STACK_SIZE = 50, 5


def with_udim(layout: Layout, measures: Measures, limits: Limits) -> tuple[Limits, bool]:
    """Return the limits with UDIM on where the layout uses it, and whether that is a guess.

    It is no guess where the limits or the textures' names say so. It is one where islands fill
    further tiles and the textures are not known to be a single image.
    """
    if limits.udim or any(slot.image.is_udim for slot in layout.slots):
        return replace(limits, udim=True), False
    is_told = limits.states_purpose_of(layout.name) or limits.use_of(layout.uv_set) == "lightmap"
    has_image = any(not slot.image.stands_in for slot in layout.slots)
    if has_image or is_told:
        return limits, False
    is_filling = _fills_further_tiles(measures)
    return (replace(limits, udim=True), True) if is_filling else (limits, False)


def _fills_further_tiles(measures: Measures) -> bool:
    """Tell whether islands lie in several numbered tiles, and half of the further ones are full.

    Copies that were put whole tiles away from others are no sign of UDIM.
    """
    island, coverage = measures.island, measures.coverage
    further = (coverage.tile != 0).any(axis=1)
    if not further.any() or not has_number(coverage.tile).all():
        return False
    low, high = island.bounds[:, :2] - island.tile, island.bounds[:, 2:] - island.tile
    if not ((low > -_STICKS_OUT) & (high < 1 + _STICKS_OUT)).all():
        return False
    away = (island.tile != 0).any(axis=1)
    place = np.hstack([low, high])
    at_home, elsewhere = place[~away], place[away]
    if len(at_home) and all(
        (np.abs(at_home - one).max(axis=1) < _SAME_PLACE).any() for one in elsewhere
    ):
        return False
    full = coverage.share[further] >= _FILLED
    return bool(full.mean() >= SHARE)


def guess_purpose(layout: Layout, measures: Measures, limits: Limits) -> Guess:
    """Return what the layout seems to be, nothing where its purpose is stated.

    limits : with UDIM on where the layout uses it
    """
    is_told = limits.states_purpose_of(layout.name) or limits.use_of(layout.uv_set) == "lightmap"
    if is_told or not layout.island_count:
        return Guess()
    island = measures.island
    whole = float(island.surface_m2.sum())
    wide = (island.bounds[:, 2:] - island.bounds[:, :2] >= 1 + _WIDER).any(axis=1)
    if not limits.udim and whole > 0:
        repeats = wide | (fills_tiles(island) & (island.tile != 0).any(axis=1))
        share = float(island.surface_m2[repeats].sum()) / whole
        if share > SHARE:
            return Guess("outside", share, is_plain=True)
    if measures.overlap.area_px > limits.overlap_px2:
        for kind, share in _patterns(measures):
            if share > SHARE:
                return Guess(kind, share, is_plain=True)
    piled = piled_share(measures)
    crossing = float(island.surface_m2[island.crosses_tile].sum())
    if piled > SHARE and crossing <= SHARE * whole:
        return Guess("piled", piled)
    return Guess()


def _patterns(measures: Measures) -> Iterator[tuple[str, float]]:
    """Yield each way of sharing texture on purpose, with the share of islands that follow it."""
    yield "grid", _in_cells(measures)
    yield "bands", max(_in_bands(measures, axis) for axis in (0, 1))
    yield "shared", _in_stacks(measures)


def _in_bands(measures: Measures, axis: int) -> float:
    """Return the share of islands that share a band across the tile, 0 where there are no bands.

    Islands of unlike length that begin and end at one height lie in one band.
    """
    low, high = measures.island.bounds[:, axis], measures.island.bounds[:, axis + 2]
    length = measures.island.bounds[:, 3 - axis] - measures.island.bounds[:, 1 - axis]
    band = np.full(len(low), -1)
    count = 0
    for one in np.argsort(low, kind="stable").tolist():
        height = high[one] - low[one]
        if band[one] >= 0 or not 0 < height < _TALLEST_BAND:
            continue
        slack = _BAND_SLACK * height
        mine = (np.abs(low - low[one]) < slack) & (np.abs(high - high[one]) < slack) & (band < 0)
        if length[mine].max() > _UNLIKE_LENGTHS * length[mine].min():
            band[mine] = count
            count += 1
    return _shared_places(measures, band) if count > 1 else 0.0


def _in_cells(measures: Measures) -> float:
    """Return the share of islands that each fill a cell of a regular grid, cells used again."""
    bounds = measures.island.bounds
    best = 0.0
    for columns in _CELLS:
        for rows in _CELLS:
            count = np.array([columns, rows])
            low, high = bounds[:, :2] * count, bounds[:, 2:] * count
            cell = np.floor((low + high) / 2)
            is_inside = (low > cell - _CELL_SLACK) & (high < cell + 1 + _CELL_SLACK)
            fits = (is_inside & (high - low > _CELL_FILLED)).all(axis=1)
            number = np.where(fits, cell[:, 0] + 1e4 * cell[:, 1], -1).astype(np.int64)
            if fits.mean() > _WITHIN:
                best = max(best, _shared_places(measures, number))
    return best


def _shared_places(measures: Measures, place: NDArray[np.int64]) -> float:
    """Return the share of islands in places that several use, if islands overlap nowhere else.

    place : (I,) number of each island's place, negative where it has none
    """
    pair = measures.overlap.pair
    apart = pair[pair[:, 0] != pair[:, 1]]
    same = (place[apart[:, 0]] == place[apart[:, 1]]) & (place[apart[:, 0]] >= 0)
    if not len(apart) or same.mean() < _WITHIN:
        return 0.0
    _, number, uses = np.unique(place[place >= 0], return_inverse=True, return_counts=True)
    several = uses[number] > 1
    if several.sum() < _FEWEST or (uses > 1).sum() < 2:
        return 0.0
    return float(several.sum()) / len(place)


def _in_stacks(measures: Measures) -> float:
    """Return the share of islands in stacks, 0 unless many islands lie on many others."""
    sizes = [len(group) for group in measures.stacks.group]
    count = len(measures.island.area_uv)
    if count < _MANY or not sizes or sum(sizes) < _STACK_SIZE * len(sizes):
        return 0.0
    return sum(sizes) / count
