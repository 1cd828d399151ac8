"""Whether a whole layout is squeezed along u or v, as if made for a tile of another shape."""

from __future__ import annotations

from dataclasses import dataclass

from evenweave.arrays import FloatArray, frozen
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.distortion.jacobian_kernels import triangle_jacobians
from evenweave.measure.islands.islands_kernels import island_quantiles
from evenweave.measure.islands.squeeze_kernels import median_ratio
from evenweave.measure.results import TriangleMeasures

_MEDIAN, _P95 = 2, 3  # of the quantiles told of an island


@dataclass(frozen=True, eq=False)
class Squeeze:
    """One scale of u against v for a whole layout, and the stretch that is left without it.

    ratio : scale along u over scale along v in texels, the median weighted by surface
    stretch_median, stretch_p95 : (I,) as in `IslandMeasures`, after u is divided by the ratio
    """

    ratio: float
    stretch_median: FloatArray
    stretch_p95: FloatArray


def squeeze(
    layout: Layout, tile: Tile, triangles: TriangleMeasures, least: float = 0.0
) -> Squeeze | None:
    """Return the squeeze of a layout; None where nothing is measurable or it is below `least`.

    J J^T = U G^-1 U^T, with U the texels of two edges of a triangle in columns and G the dot
    products of the same edges on the surface. A map without distortion that is then scaled by
    r along u has J J^T = s^2 diag(r^2, 1), however its islands are turned; so the root of the
    diagonal's quotient is r on every triangle.
    """
    corners = (
        layout.triangle_corner, layout.corner_point, layout.corner_uv, layout.point_m, layout.uv,
    )  # fmt: skip
    width, height = float(tile.width), float(tile.height)
    area_m2, is_degenerate = triangles.area_m2, triangles.is_degenerate
    ratio = float(median_ratio(*corners, area_m2, is_degenerate, width, height))
    if not max(ratio, 1 / ratio if ratio else 0.0) > least:
        return None
    s1, s2, *_ = triangle_jacobians(*corners, width / ratio, height)
    _, stretch = island_quantiles(
        layout.triangle_face, layout.face_island, s1, s2, area_m2, is_degenerate,
        layout.island_count,
    )  # fmt: skip
    return Squeeze(ratio, frozen(stretch[:-1, _MEDIAN]), frozen(stretch[:-1, _P95]))
