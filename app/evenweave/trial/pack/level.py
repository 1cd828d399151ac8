"""Level densities: every island scaled about its own centre to what its importance deserves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray, frozen, ints
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.distortion.jacobian import measure_triangles
from evenweave.measure.islands.islands import measure_islands
from evenweave.measure.results import Stacks
from evenweave.measure.space.tiles import island_group
from evenweave.trial.uvs.corner_uvs import CornerUvs
from evenweave.trial.work.worker import NoAdvice

STEPS = 200  # of bisection; more than a float64 has bits


@dataclass(frozen=True)
class LevelOptions:
    """How to level.

    density : texels per metre that an island of importance 1 gets; None keeps the texture area
    importance : per island a factor above 0; empty: all 1. A stack has that of its most important
    least, most : an island is scaled by no less and no more than this
    """

    density: float | None = None
    importance: tuple[float, ...] = ()
    least: float = 0.0
    most: float = np.inf


@dataclass(frozen=True, eq=False)
class Levelled:
    """What levelling does.

    change : corners of the islands whose size changes
    scale : (I,) float64, 1 where an island has no density to level by
    density : texels per metre that an island of importance 1 gets
    is_limited : (I,) bool, `least` or `most` keeps the island from its density
    density_before, density_after : (I,) texels per metre, NaN where there is none
    """

    change: CornerUvs
    scale: FloatArray
    density: float
    is_limited: BoolArray
    density_before: FloatArray
    density_after: FloatArray


def level(layout: Layout, tile: Tile, options: LevelOptions, *, stacks: Stacks) -> Levelled:
    """Return scale factors that give every island its density, and the coordinates they lead to.

    An island's density is the median over its surface, as the checks compare it. Members of a
    stack share their texels: they are scaled alike about one centre, by the geometric mean of
    their densities, and count once in the area that is kept. Scaling makes islands overlap or
    leaves gaps: pack afterwards. Raises NoAdvice where no island has a density.
    """
    group = island_group(layout.island_count, stacks.group)
    island, _ = measure_islands(layout, tile, measure_triangles(layout, tile))
    density = np.asarray(island.density_median)
    is_usable = np.isfinite(density) & (density > 0) & (island.area_uv > 0)
    if not is_usable.any():
        raise NoAdvice("no island has a density to level by")
    octaves, texture, members = _of_stacks(group, density, island.area_uv, is_usable)
    deserved = np.zeros(len(group))
    np.maximum.at(deserved, group, np.array(options.importance or np.ones(len(group))))
    has = members > 0
    per_unit = deserved[has] / np.exp2(octaves[has])
    target = options.density
    if target is None:
        target = _keeping_area(per_unit, texture[has], options)
    wanted, given = np.ones(len(group)), np.ones(len(group))
    wanted[has] = target * per_unit
    given[has] = np.clip(target * per_unit, options.least, options.most)
    scale = given[group]
    before = np.where(is_usable, density, np.nan)
    return Levelled(
        change=_scaled(layout, scale, group),
        scale=frozen(scale),
        density=float(target),
        is_limited=frozen((given != wanted)[group]),
        density_before=frozen(before),
        density_after=frozen(before * scale),
    )


def _of_stacks(
    group: IntArray, density: FloatArray, area: FloatArray, is_usable: BoolArray
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return (I,) mean log2 density, mean texture area and usable members of each stack.

    In the row of its first member; the rows of other members are empty.
    """
    mine, count = group[is_usable], len(group)
    members = np.bincount(mine, minlength=count)
    whole = np.maximum(members, 1)
    octaves = np.bincount(mine, np.log2(density[is_usable]), count) / whole
    return octaves, np.bincount(mine, area[is_usable], count) / whole, members.astype(np.int32)


def _keeping_area(per_unit: FloatArray, texture: FloatArray, options: LevelOptions) -> float:
    """Return the density at which the texture area stays what it is.

    Without limits in closed form; with them by bisection, for the area grows with the density.
    Where the limits forbid to keep it, the density at which the last island meets its limit.
    """
    total = texture.sum()
    density = float(np.sqrt(total / (texture * per_unit**2).sum()))
    if options.least <= 0 and np.isinf(options.most):
        return density
    low = options.least / per_unit.max()
    high = options.most / per_unit.min() if np.isfinite(options.most) else density
    # With a least scale alone the area at the closed form can only be too large.
    high = max(high, density)
    for _ in range(STEPS):
        middle = (low + high) / 2
        scale = np.clip(middle * per_unit, options.least, options.most)
        if (texture * scale**2).sum() < total:
            low = middle
        else:
            high = middle
    return float((low + high) / 2)


def _scaled(layout: Layout, scale: FloatArray, group: IntArray) -> CornerUvs:
    """Scale islands about the middle of their bounds, members of a stack about the first's."""
    corner_island = np.repeat(layout.face_island, np.diff(layout.face_start))
    value = layout.uv[layout.corner_uv]
    low, high = np.full((len(scale), 2), np.inf), np.full((len(scale), 2), -np.inf)
    np.minimum.at(low, corner_island, value)
    np.maximum.at(high, corner_island, value)
    centre = ((low + high) / 2)[group]
    corner = np.flatnonzero(scale[corner_island] != 1.0)
    island = corner_island[corner]
    moved = centre[island] + (value[corner] - centre[island]) * scale[island, None]
    return CornerUvs.of(ints(corner), moved)
