"""What every island is compared with: importance, target density."""

from __future__ import annotations

import math

import numpy as np

from evenweave.arrays import FloatArray, floats
from evenweave.layout.layout import Layout
from evenweave.limits.limits import Limits
from evenweave.measure.results import Measures
from evenweave.mesh.asset import Asset


def island_importance(asset: Asset, layout: Layout, limits: Limits) -> FloatArray:
    """Return the factor of each island, (I,)."""
    if not limits.importance:
        return floats(np.ones(layout.island_count))
    materials = _island_materials(asset, layout)
    shared: dict[tuple[tuple[int, ...], tuple[int, ...]], float] = {}
    factors = []
    for name, place in zip(
        layout.island_name, zip(layout.island_parts, materials, strict=True), strict=True
    ):
        if place not in shared:
            shared[place] = limits.shared_importance_of(
                [asset.part_names[part] for part in place[0]],
                [asset.material_names[material] for material in place[1]],
            )
        own = limits.own_importance_of(name, layout.name)
        factors.append(shared[place] if own is None else own)
    return floats(factors)


def _island_materials(asset: Asset, layout: Layout) -> list[tuple[int, ...]]:
    """Return the materials of each island, ascending."""
    face_material = asset.face_material[layout.asset_face]
    used = np.zeros((layout.island_count, len(asset.material_names)), dtype=bool)
    used[layout.face_island, face_material] = True
    found: list[list[int]] = [[] for _ in layout.island_name]
    for island, material in np.argwhere(used).tolist():
        found[island].append(material)
    return [tuple(materials) for materials in found]


def target_density(measures: Measures, limits: Limits, importance: FloatArray) -> float:
    """Return the target of importance 1 in texels per metre, NaN where nothing is measurable.

    Without a given one it is the median over the layout's surface of density / importance.
    """
    if limits.target_density is not None:
        return limits.target_density
    if (importance == 1.0).all():
        return measures.whole.density_median
    island = measures.island
    usable = np.isfinite(island.density_median) & (island.density_median > 0)
    if not usable.any():
        return math.nan
    deserved = island.density_median[usable] / importance[usable]
    order = np.argsort(deserved)
    surface = np.cumsum(island.surface_m2[usable][order])
    middle = np.searchsorted(surface, surface[-1] / 2)
    return float(deserved[order][min(int(middle), len(order) - 1)])


def density_octaves(measures: Measures, target: float, importance: FloatArray) -> FloatArray:
    """Return log2(median density / (target * importance)) of each island, (I,)."""
    density = measures.island.density_median
    if not target > 0:
        return floats(np.full(len(density), np.nan))
    return floats(np.log2(np.where(density > 0, density, np.nan) / (target * importance)))


def piled_share(measures: Measures) -> float:
    """Return the share of the texture that islands claim beyond what is covered, stacks once."""
    island, tile = measures.island, measures.tile
    counts_once = np.ones(len(island.area_uv), dtype=bool)
    for group in measures.stacks.group:
        counts_once[list(group[1:])] = False
    claimed = float(np.nansum(island.area_uv[counts_once])) * tile.width * tile.height
    covered = float(measures.coverage.share.sum()) * tile.width * tile.height
    return max(0.0, 1.0 - covered / claimed) if claimed > 0 else 0.0


def deserved_density(measures: Measures, importance: FloatArray) -> float:
    """Return the median density of a layout over importance, weighted by surface; NaN if none."""
    return target_density(measures, Limits(), importance)


def common_density(densities: FloatArray, surface_m2: FloatArray) -> float:
    """Return the median of several layouts' densities, weighted by surface.

    Between two layouts halfway through the surface it is the one of more surface. NaN where
    fewer than two can be compared.
    """
    usable = (densities > 0) & np.isfinite(densities) & (surface_m2 > 0)
    if usable.sum() < 2:
        return math.nan
    order = np.argsort(densities[usable], kind="stable")
    surface = np.cumsum(surface_m2[usable][order])
    return float(densities[usable][order][np.searchsorted(surface, surface[-1] / 2)])
