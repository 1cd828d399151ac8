"""The worst spots of what the colours show, the worst first: what one walks through."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray, floats, ints
from evenweave.layout.layout import Layout
from evenweave.measure.islands.spots import worst_spots
from evenweave.measure.results import Measures, WorstSpot
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
    the least first, overlapping ones aside, value in texels. The others as in
    `measure.spots.worst_spots`.
    """
    if measure == "overlap":
        return _overlaps(measures)
    if measure == "padding":
        return _gaps(measures)
    return worst_spots(layout, measures, measure, MOST_SPOTS)


def partner(measures: Measures, spot: WorstSpot) -> int:
    """Return the other island of an overlap or a gap; -1 where a spot is of one island alone."""
    if spot.measure == "padding":
        return int(measures.gaps.padding_to[spot.island])
    if spot.measure == "overlap":
        return int(measures.overlap.pair[_overlap_row(measures, spot), 1])
    return -1


def spot_segments(measures: Measures, spot: WorstSpot) -> FloatArray:
    """Return (N, 2, 2) uv lines that show a spot without triangles.

    overlap : round its worst place; padding : from island to island
    """
    if spot.measure == "padding":
        return np.asarray(measures.gaps.padding_points[spot.island][None])
    if spot.measure == "overlap":
        ring = measures.overlap.pair_patch[_overlap_row(measures, spot)]
        return np.asarray(np.stack((ring, np.roll(ring, -1, axis=0)), axis=1))
    return np.zeros((0, 2, 2))


def _overlap_row(measures: Measures, spot: WorstSpot) -> int:
    overlap = measures.overlap
    is_it = (overlap.pair[:, 0] == spot.island) & (overlap.pair_point == spot.point).all(axis=1)
    return int(np.argmax(is_it))


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
    # Islands that lie on each other have no gap, but an overlap: they are walked there.
    pairs = {(a, b) for a, b in measures.overlap.pair.tolist()}
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
