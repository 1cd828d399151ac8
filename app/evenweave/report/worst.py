"""The worst spots of what the colours show, the worst first: what one walks through."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import floats, ints
from evenweave.layout.layout import Layout
from evenweave.measure.results import Measures, WorstSpot
from evenweave.measure.spots import worst_spots
from evenweave.raster.look import Colours

MOST_SPOTS = 50
MEASURE_OF: dict[Colours, str] = {
    "density": "density",
    "area": "density",
    "stretch": "stretch",
    "angle": "angle",
    "overlap": "overlap",
    "padding": "padding",
    "islands": "stretch",
    "plain": "stretch",
}
"""The measure whose spots are walked while colours show something."""

WALKED = (
    "stretch",
    "angle",
    "density",
    "density-range",
    "flipped",
    "degenerate",
    "overlap",
    "padding",
)
"""Every measure that can be walked."""


def spots(layout: Layout, measures: Measures, measure: str) -> tuple[WorstSpot, ...]:
    """Return up to MOST_SPOTS spots of one of WALKED.

    overlap : one a pair of islands, value in square texels; padding : one a pair of islands,
    the least first, value in texels. The others as in `measure.spots.worst_spots`.
    """
    if measure == "overlap":
        return _overlaps(measures)
    if measure == "padding":
        return _gaps(measures)
    return worst_spots(layout, measures, measure, MOST_SPOTS)


def _overlaps(measures: Measures) -> tuple[WorstSpot, ...]:
    overlap = measures.overlap
    order = np.argsort(-overlap.pair_area_px, kind="stable")
    found = []
    for row in order[:MOST_SPOTS]:
        area = float(overlap.pair_area_px[row])
        found.append(_spot("overlap", int(overlap.pair[row, 0]), overlap.pair_point[row], area))
    return tuple(found)


def _gaps(measures: Measures) -> tuple[WorstSpot, ...]:
    gaps = measures.gaps
    known = np.flatnonzero(np.isfinite(gaps.padding_px) & (gaps.padding_to >= 0))
    found: list[WorstSpot] = []
    pairs: set[tuple[int, int]] = set()
    for island in known[np.argsort(gaps.padding_px[known], kind="stable")].tolist():
        other = int(gaps.padding_to[island])
        pair = min(island, other), max(island, other)
        if pair in pairs:
            continue
        pairs.add(pair)
        place, room = gaps.padding_points[island].mean(axis=0), float(gaps.padding_px[island])
        found.append(_spot("padding", island, place, room))
        if len(found) == MOST_SPOTS:
            break
    return tuple(found)


def _spot(measure: str, island: int, place: object, value: float) -> WorstSpot:
    return WorstSpot(measure, island, ints([]), floats(place), value, value)
