"""Whether a whole layout is squeezed along u or v, as if made for a tile of another shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray, frozen
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.results import TriangleMeasures


@dataclass(frozen=True, eq=False)
class Squeeze:
    """One scale of u against v for a whole layout, and the stretch that is left without it.

    ratio : scale along u over scale along v in texels, the median weighted by surface
    stretch_median, stretch_p95 : (I,) as in `IslandMeasures`, after u is divided by the ratio
    """

    ratio: float
    stretch_median: FloatArray
    stretch_p95: FloatArray


def squeeze(layout: Layout, tile: Tile, triangles: TriangleMeasures) -> Squeeze:
    """Return the squeeze of a layout. The ratio is NaN where nothing is measurable.

    J J^T = U G^-1 U^T, with U the texels of two edges of a triangle in columns and G the dot
    products of the same edges on the surface. A map without distortion that is then scaled by
    r along u has J J^T = s^2 diag(r^2, 1), however its islands are turned; so the root of the
    diagonal's quotient is r on every triangle.
    """
    usable = np.flatnonzero(~triangles.is_degenerate)
    uu, uv, vv = _spread(layout, tile, usable)
    weight = triangles.area_m2[usable]
    with np.errstate(divide="ignore", invalid="ignore"):
        each = np.sqrt(uu / vv)
    ratio = _median(each, weight)
    uu, uv = uu / ratio**2, uv / ratio
    half, rest = (uu + vv) / 2, np.sqrt(np.maximum(((uu - vv) / 2) ** 2 + uv**2, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        stretch = np.sqrt((half + rest) / np.maximum(half - rest, 0.0))
    island = layout.face_island[layout.triangle_face[usable]]
    quantiles = _by_island(stretch, weight, island, layout.island_count)
    return Squeeze(ratio, frozen(quantiles[:, 0]), frozen(quantiles[:, 1]))


def _spread(
    layout: Layout, tile: Tile, triangle: np.ndarray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the entries uu, uv, vv of J J^T of some triangles, in texels per metre squared."""
    corner = layout.triangle_corner[triangle]
    point = layout.point_m[layout.corner_point[corner]]
    texel = layout.uv[layout.corner_uv[corner]] * [tile.width, tile.height]
    a, b = point[:, 1] - point[:, 0], point[:, 2] - point[:, 0]
    aa, ab, bb = (np.einsum("ij,ij->i", x, y) for x, y in ((a, a), (a, b), (b, b)))
    (au, av), (bu, bv) = (texel[:, 1] - texel[:, 0]).T, (texel[:, 2] - texel[:, 0]).T
    determinant = aa * bb - ab * ab
    with np.errstate(divide="ignore", invalid="ignore"):
        uu = (bb * au * au - 2 * ab * au * bu + aa * bu * bu) / determinant
        uv = (bb * au * av - ab * (au * bv + av * bu) + aa * bu * bv) / determinant
        vv = (bb * av * av - 2 * ab * av * bv + aa * bv * bv) / determinant
    return uu, uv, vv


def _median(value: FloatArray, weight: FloatArray) -> float:
    usable = np.isfinite(value) & (value > 0)
    if not usable.any():
        return float("nan")
    order = np.argsort(value[usable], kind="stable")
    reached = np.cumsum(weight[usable][order])
    return float(value[usable][order][np.searchsorted(reached, reached[-1] / 2)])


def _by_island(value: FloatArray, weight: FloatArray, island: np.ndarray, count: int) -> FloatArray:
    """Return (I, 2) the weighted 50th and 95th percentile of each island; NaN where it has none."""
    found = np.full((count, 2), np.nan)
    order = np.lexsort((value, island))
    begins = np.searchsorted(island[order], np.arange(count + 1))
    reached, ordered = np.cumsum(weight[order]), value[order]
    for number in range(count):
        start, end = begins[number], begins[number + 1]
        before = reached[start - 1] if start else 0.0
        if start < end and reached[end - 1] > before:
            wanted = before + (reached[end - 1] - before) * np.array([0.5, 0.95]) * (1 - 1e-12)
            at = np.searchsorted(reached[start:end], wanted)
            found[number] = ordered[start:end][np.minimum(at, end - start - 1)]
    return found
