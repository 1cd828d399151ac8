"""Per island, and for the layout as a whole: what its triangles amount to."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.islands import islands_kernels as kernels
from evenweave.measure.results import IslandMeasures, LayoutMeasures, TriangleMeasures

# Single-precision files leave coordinates at a tile's edge off by a few units in the last place.
_EDGE_SLACK = 2.0**-22


def measure_islands(
    layout: Layout, tile: Tile, triangles: TriangleMeasures
) -> tuple[IslandMeasures, LayoutMeasures]:
    """Return the measures of every island and of all of them together.

    Quantiles are weighted by surface: the least value such that triangles with values up to
    it hold at least that share of the measurable surface. Degenerate triangles count in
    `triangles`, `degenerate_triangles`, `surface_m2` and `area_uv` and nowhere else.

    stretch_l2, stretch_linf : Sander et al. 2001, of the map from texture to surface, times
    the root of texel area over surface area: 1 for a uniform scale.
    dirichlet : mean over the surface of (t1^2 + t2^2 + 1 / t1^2 + 1 / t2^2) / 4 after the best
    uniform scale t = k s of the island: 1 at least. Of triangles that are turned as most of
    the island's surface is; flips are counted apart.
    flipped_share : share of the measurable surface whose triangles are flipped.
    """
    count = layout.island_count
    sums, counts = kernels.sum_islands(
        layout.triangle_face, layout.face_island, triangles.s1, triangles.s2,
        triangles.area_m2, triangles.area_px, triangles.is_degenerate, count,
    )  # fmt: skip
    bounds = kernels.island_bounds(
        layout.face_start, layout.corner_uv, layout.face_island, layout.uv, count
    )
    density, stretch = kernels.island_quantiles(
        layout.triangle_face, layout.face_island, triangles.s1, triangles.s2,
        triangles.area_m2, triangles.is_degenerate, count,
    )  # fmt: skip
    tile_px = float(tile.width) * float(tile.height)
    l2, linf = _sander(sums)
    island_tile, crosses_tile = _tiles(bounds)
    island = IslandMeasures(
        faces=frozen(counts[:, kernels.FACES]),
        triangles=frozen(counts[:, kernels.TRIANGLES]),
        surface_m2=frozen(sums[:, kernels.SURFACE]),
        area_uv=frozen(sums[:, kernels.AREA_UV] / tile_px),
        bounds=frozen(bounds),
        tile=frozen(island_tile),
        crosses_tile=frozen(crosses_tile),
        density_median=frozen(density[:count, 2]),
        density_p5=frozen(density[:count, 1]),
        density_p95=frozen(density[:count, 3]),
        density_min=frozen(density[:count, 0]),
        density_max=frozen(density[:count, 4]),
        stretch_median=frozen(stretch[:count, 2]),
        stretch_p95=frozen(stretch[:count, 3]),
        stretch_max=frozen(stretch[:count, 4]),
        stretch_l2=frozen(l2),
        stretch_linf=frozen(linf),
        dirichlet=frozen(_dirichlet(sums)),
        flipped_triangles=frozen(counts[:, kernels.FLIPPED]),
        flipped_share=frozen(_ratio(sums[:, kernels.FLIPPED_SURFACE], sums[:, kernels.MEASURED])),
        degenerate_triangles=frozen(counts[:, kernels.DEGENERATE]),
    )
    whole = sums.sum(axis=0, keepdims=True)
    whole[0, kernels.LINF] = sums[:, kernels.LINF].max(initial=0.0)
    whole_l2, whole_linf = _sander(whole)
    return island, LayoutMeasures(
        surface_m2=float(whole[0, kernels.SURFACE]),
        area_uv=float(whole[0, kernels.AREA_UV] / tile_px),
        density_median=float(density[count, 2]),
        density_p5=float(density[count, 1]),
        density_p95=float(density[count, 3]),
        stretch_median=float(stretch[count, 2]),
        stretch_p95=float(stretch[count, 3]),
        stretch_max=float(stretch[count, 4]),
        stretch_l2=float(whole_l2[0]),
        stretch_linf=float(whole_linf[0]),
    )


def _ratio(above: FloatArray, below: FloatArray) -> FloatArray:
    """Return above / below, NaN where below is 0."""
    ratio = np.full(len(above), np.nan)
    np.divide(above, below, out=ratio, where=below > 0)
    return ratio


def _sander(sums: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the L2 and L-infinity texture stretch, normalised so that 1 is a uniform scale."""
    measured = sums[:, kernels.MEASURED]
    scale = np.sqrt(_ratio(sums[:, kernels.MEASURED_AREA_PX], measured))
    l2 = np.sqrt(_ratio(sums[:, kernels.INVERSE_SQUARES], 2 * measured)) * scale
    return l2, sums[:, kernels.LINF] * scale


def _dirichlet(sums: FloatArray) -> FloatArray:
    """Return the symmetric Dirichlet energy over 4 after the best scale.

    With P and Q the means of s1^2 + s2^2 and of 1 / s1^2 + 1 / s2^2, the best scale is
    k^4 = Q / P, and the energy (k^2 P + Q / k^2) / 4 = sqrt(P Q) / 2.
    """
    flipped = sums[:, kernels.FLIPPED_SURFACE]
    straight = sums[:, kernels.MEASURED] - flipped
    is_mirrored = flipped > straight
    surface = np.where(is_mirrored, flipped, straight)
    mirrored = sums[:, kernels.MIRRORED_SQUARES]
    squares = np.where(is_mirrored, mirrored, sums[:, kernels.SQUARES] - mirrored)
    mirrored = sums[:, kernels.MIRRORED_INVERSE_SQUARES]
    inverse = np.where(is_mirrored, mirrored, sums[:, kernels.INVERSE_SQUARES] - mirrored)
    return np.sqrt(_ratio(squares, surface) * _ratio(inverse, surface)) / 2


def _tiles(bounds: FloatArray) -> tuple[IntArray, BoolArray]:
    """Return (I, 2) the tile of the middle of the bounds, and whether the bounds leave it."""
    tile = np.floor((bounds[:, :2] + bounds[:, 2:]) / 2)
    slack = _EDGE_SLACK * np.maximum(1.0, np.abs(bounds))
    crosses = (bounds[:, :2] + slack[:, :2] < tile) | (bounds[:, 2:] - slack[:, 2:] > tile + 1)
    return tile.astype(np.int32), crosses[:, 0] | crosses[:, 1]
