"""`Heat`: the numbers behind the colours of one layout, their range and what they are called."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from evenweave.arrays import ByteArray, FloatArray, frozen
from evenweave.limits.limits import DEFAULT, Limits
from evenweave.measure.distortion import distortion
from evenweave.measure.results import TriangleMeasures
from evenweave.picture.scene.depth import triangle_depth
from evenweave.pipeline import LayoutReview
from evenweave.quantities.catalogue import BY_MODE
from evenweave.quantities.quantity import Quantity
from evenweave.raster.colour.colours import DIVERGING, SEQUENTIAL, colour_map
from evenweave.raster.flat.flat import FlatMesh
from evenweave.raster.look import Colours

_SAMPLE = 1 << 16


@dataclass(frozen=True, eq=False)
class Heat:
    """Values to be shown as colours.

    value : (T,) float64 per triangle of the layout, NaN where not measurable
    low, high : ends of the colours; values beyond take the end's colour
    centre : the value that is right (the middle of a diverging map), or None
    colours : (256, 3) uint8 from low to high
    """

    mode: Colours
    value: FloatArray
    low: float
    high: float
    centre: float | None
    unit: str
    label: str
    colours: ByteArray


def heat(
    layout_review: LayoutReview,
    mode: Colours,
    *,
    limits: Limits = DEFAULT,
    mesh: FlatMesh | None = None,
) -> Heat | None:
    """Return the numbers of a mode; None for "islands" and "plain", which show none.

    limits : for "padding", whose colours end at what is required
    mesh : the layout's triangles ready to draw, if at hand (for "overlap")
    """
    measures, quantity = layout_review.measures, BY_MODE.get(mode)
    triangle, area = measures.triangle, measures.triangle.area_m2
    if quantity is None:
        return None
    if mode == "density":
        return _diverging(mode, quantity, density_octaves(layout_review), area)
    if mode == "area":
        return _diverging(mode, quantity, area_octaves(layout_review), area)
    if mode == "stretch":
        return _sequential(mode, quantity, stretch(triangle), area, low=1.0)
    if mode == "angle":
        return _sequential(mode, quantity, angle_degrees(triangle), area, low=0.0)
    if mode == "overlap":
        depth = triangle_depth(layout_review.layout, mesh)
        return _sequential(mode, quantity, depth, area, low=1.0)
    return _padding(quantity, layout_review, limits.required_padding_px)


def density_octaves(layout_review: LayoutReview) -> FloatArray:
    """Return (T,) log2 of density over (target times importance)."""
    layout, triangle = layout_review.layout, layout_review.measures.triangle
    wanted = layout_review.target_density * layout_review.island_importance
    targets = np.take(wanted, np.take(layout.face_island, layout.triangle_face))
    with np.errstate(divide="ignore", invalid="ignore"):
        return _finite(distortion.density_octaves(triangle.s1, triangle.s2, targets))


def area_octaves(layout_review: LayoutReview) -> FloatArray:
    """Return (T,) log2 of the area scale over that of the layout's median density."""
    triangle, whole = layout_review.measures.triangle, layout_review.measures.whole
    with np.errstate(divide="ignore", invalid="ignore"):
        median = whole.density_median
        return _finite(2.0 * distortion.density_octaves(triangle.s1, triangle.s2, median))


def stretch(triangle: TriangleMeasures) -> FloatArray:
    """Return (T,) s1 / |s2|, 1 = none."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return _finite(distortion.stretch(triangle.s1, triangle.s2))


def angle_degrees(triangle: TriangleMeasures) -> FloatArray:
    """Return (T,) the greatest change of an angle."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return _finite(distortion.angle_distortion_degrees(triangle.s1, triangle.s2))


def histogram(heat: Heat, weight: FloatArray, bins: int = 96) -> FloatArray:
    """Return (bins,) shares of the surface between `low` and `high`; the ends hold what is beyond.

    weight : (T,) surface of the triangles
    """
    known = np.isfinite(heat.value)
    place = (heat.value[known] - heat.low) * (bins / (heat.high - heat.low))
    index = np.clip(place, 0, bins - 1).astype(np.int64)
    share = np.bincount(index, weights=weight[known], minlength=bins)
    total = share.sum()
    return np.asarray(share / total if total > 0 else share, dtype=np.float64)


def _finite(value: FloatArray) -> FloatArray:
    value[~np.isfinite(value)] = np.nan
    return frozen(value)


def _reached(value: FloatArray, weight: FloatArray) -> float:
    """Return what 98 % of the surface does not exceed, from a regular sample: always the same."""
    step = max(1, len(value) // _SAMPLE)
    value, weight = value[::step], weight[::step]
    known = np.isfinite(value) & (weight > 0)
    if not known.any():
        return math.nan
    order = np.argsort(value[known], kind="stable")
    share = np.cumsum(weight[known][order])
    return float(value[known][order][np.searchsorted(share, 0.98 * share[-1])])


def _at_least(value: float, steps: tuple[float, ...]) -> float:
    return next((step for step in steps if step >= value), steps[-1])


def _diverging(mode: Colours, quantity: Quantity, octaves: FloatArray, weight: FloatArray) -> Heat:
    high = _at_least(_reached(np.abs(octaves), weight), quantity.tops)
    table = colour_map(DIVERGING).table
    return Heat(mode, octaves, -high, high, 0.0, quantity.unit, quantity.label, table)


def _sequential(
    mode: Colours, quantity: Quantity, value: FloatArray, weight: FloatArray, *, low: float
) -> Heat:
    high = _at_least(_reached(value, weight), quantity.tops)
    table = colour_map(SEQUENTIAL).table
    return Heat(mode, value, low, high, None, quantity.unit, quantity.label, table)


def _padding(quantity: Quantity, layout_review: LayoutReview, required_px: float) -> Heat:
    layout, gaps = layout_review.layout, layout_review.measures.gaps
    high = max(required_px, 1.0)
    island = np.minimum(gaps.padding_px, high)
    value = frozen(np.take(island, np.take(layout.face_island, layout.triangle_face)))
    table = colour_map(SEQUENTIAL).reversed().table
    return Heat("padding", value, 0.0, high, None, quantity.unit, quantity.label, table)
