"""Worst spots: connected patches of bad triangles, the largest and worst first.

Everything is weighted by surface, so that one needle of a triangle never leads the table.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import FloatArray, floats, frozen
from evenweave.layout.layout import Layout
from evenweave.measure.distortion.distortion import (
    angle_distortion_degrees,
    density_octaves,
    stretch,
)
from evenweave.measure.islands.spots_kernels import join_patches
from evenweave.measure.results import Measures, WorstSpot

MEASURES = ("stretch", "angle", "density", "density-range", "flipped", "degenerate")
"""What spots can be asked for."""

NOTHING = {"stretch": 1e-3, "angle": 0.05, "density": 1e-3, "density-range": 1e-3}
"""Excess up to here is rounding of the file's numbers: log2 of a ratio, or degrees."""


def triangle_excess(layout: Layout, measures: Measures, measure_name: str) -> FloatArray:
    """Return (T,) float64: how far each triangle is from right, 0 and up; NaN not measurable.

    stretch : log2(s1 / |s2|); angle : 2 asin((s1 - |s2|) / (s1 + |s2|)) in degrees (Snyder,
    USGS PP 1395, 1987, eq. 4-9); density : |log2(density / the layout's median)|;
    density-range : the same against the island's median; flipped, degenerate : 1 or 0.
    """
    triangle = measures.triangle
    if measure_name == "flipped":
        return np.where(triangle.is_degenerate, 0.0, triangle.s2 < 0.0)
    if measure_name == "degenerate":
        return triangle.is_degenerate.astype(np.float64)
    if measure_name == "stretch":
        return np.asarray(np.log2(stretch(triangle.s1, triangle.s2)))
    if measure_name == "angle":
        return angle_distortion_degrees(triangle.s1, triangle.s2)
    if measure_name == "density":
        median = measures.whole.density_median
        return np.abs(density_octaves(triangle.s1, triangle.s2, median))
    if measure_name == "density-range":
        medians = measures.island.density_median[layout.face_island[layout.triangle_face]]
        return np.abs(density_octaves(triangle.s1, triangle.s2, medians))
    raise ValueError(f"no measure is called {measure_name!r}")


def worst_spots(
    layout: Layout,
    measures: Measures,
    measure_name: str,
    count: int,
    *,
    beyond: float | None = None,
) -> tuple[WorstSpot, ...]:
    """Return up to `count` connected patches of bad triangles, the worst first.

    Bad is an excess (see `triangle_excess`) greater than `beyond`; by default, the worst tenth
    of the surface, as far as it exceeds half of what the worst thousandth has. Triangles are
    connected that share a uv corner within one island. A patch's value is its surface-weighted
    mean excess, its badness the excess times surface (texel area where a triangle has no
    surface), its point the middle of the triangle that adds most.
    """
    excess = triangle_excess(layout, measures, measure_name)
    bad = np.flatnonzero(excess > _threshold(excess, measures, measure_name, beyond))
    island = layout.face_island[layout.triangle_face[bad]]
    order = np.argsort(island, kind="stable")
    bad, island = bad[order], island[order]
    if len(bad) == 0 or count <= 0:
        return ()
    corners = layout.corner_uv[layout.triangle_corner[bad]]
    patch = join_patches(corners, island, len(layout.uv))
    badness = np.bincount(patch, weights=excess[bad] * _weight(measures)[bad])
    leading = np.argsort(-badness, kind="stable")[:count]
    members = np.argsort(patch, kind="stable")
    bound = np.concatenate([[0], np.cumsum(np.bincount(patch))])
    return tuple(
        _spot(layout, measures, measure_name, bad[members[bound[k] : bound[k + 1]]], excess)
        for k in leading
    )


def _weight(measures: Measures) -> FloatArray:
    """Return (T,) the surface of each triangle; without surface a trifle, to rank by texels."""
    triangle = measures.triangle
    surface = np.nan_to_num(triangle.area_m2, nan=0.0, posinf=0.0)
    texels = np.abs(np.nan_to_num(triangle.area_px, nan=0.0, posinf=0.0, neginf=0.0))
    return np.where(surface > 0.0, surface, 1e-12 * (1.0 + texels))


def _threshold(
    excess: FloatArray, measures: Measures, measure_name: str, beyond: float | None
) -> float:
    """Return the excess above which a triangle is bad."""
    if beyond is not None:
        return beyond
    if measure_name not in NOTHING:
        return 0.0
    known = np.flatnonzero(excess >= 0.0)
    if len(known) == 0:
        return np.inf
    order = known[np.argsort(excess[known], kind="stable")]
    passed = np.cumsum(_weight(measures)[order])
    tenth, thousandth = (
        excess[order[min(np.searchsorted(passed, share * passed[-1]), len(order) - 1)]]
        for share in (0.9, 0.999)
    )
    # A plateau of equal excess is bad as a whole: hence the step below the quantile.
    return float(max(np.nextafter(tenth, -np.inf), thousandth / 2.0, NOTHING[measure_name]))


def _spot(
    layout: Layout,
    measures: Measures,
    measure_name: str,
    triangles: NDArray[np.intp],
    excess: FloatArray,
) -> WorstSpot:
    weight = _weight(measures)[triangles]
    share = excess[triangles] * weight
    worst = triangles[np.argmax(share)]
    corners = layout.corner_uv[layout.triangle_corner[worst]]
    return WorstSpot(
        measure=measure_name,
        island=int(layout.face_island[layout.triangle_face[worst]]),
        triangles=frozen(triangles.astype(np.int32)),
        point=floats(layout.uv[corners].mean(axis=0)),
        value=float(share.sum() / weight.sum()),
        badness=float(share.sum()),
    )
