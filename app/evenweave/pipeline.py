"""The one pipeline and its one frozen result: asset and limits in, `Review` out."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from evenweave.arrays import FloatArray
from evenweave.check.finding import Finding
from evenweave.check.guess import guess_purpose, with_udim
from evenweave.check.run import judge
from evenweave.check.subject import Subject
from evenweave.check.target import (
    density_octaves,
    island_importance,
    target_density,
)
from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout, Tile
from evenweave.limits import Limits
from evenweave.measure.measure import measure
from evenweave.measure.results import Measures
from evenweave.mesh.asset import Asset
from evenweave.progress import Progress, silent, within

LAYOUT_SHARE = 0.3
"""Share of the whole time that cutting into islands takes; measuring takes the rest."""


@dataclass(frozen=True)
class Grouping:
    """Which layouts to look at.

    uv_set : name of the set, or None for each material's first
    merged : groups of material names that share one layout; others stand alone
    """

    uv_set: str | None = None
    merged: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True, eq=False)
class LayoutReview:
    """One layout, measured and judged.

    target_density : texels per metre; target_is : "given" or "median" (of this layout)
    island_importance : (I,) factor, 1 = normal
    island_density_octaves : (I,) log2(median density / (target * importance))
    looks_tiling : the texture plainly repeats or is shared, and the purpose is not stated
    udim : islands may lie in any UDIM tile: the limits or the textures' names say so, or islands
    fill further tiles
    warnings : gravest first
    """

    layout: Layout
    measures: Measures
    purpose: str
    target_density: float
    target_is: str
    island_importance: FloatArray
    island_density_octaves: FloatArray
    looks_tiling: bool
    udim: bool
    findings: tuple[Finding, ...]


@dataclass(frozen=True, eq=False)
class Review:
    """What Evenweave knows of one file under one set of limits; all that views look at."""

    asset: Asset
    grouping: Grouping
    limits: Limits
    layouts: tuple[LayoutReview, ...]


def review(
    asset: Asset,
    limits: Limits,
    grouping: Grouping = Grouping(),
    progress: Progress = silent,
) -> Review:
    """Cut the asset into layouts, measure and judge each.

    Raises `Cancelled` where `progress` does.
    """
    layouts = build_layouts(
        asset,
        grouping.uv_set,
        grouping.merged,
        progress=within(progress, 0.0, LAYOUT_SHARE),
    )
    judged = _measured(layouts, asset, limits, within(progress, LAYOUT_SHARE, 1.0))
    progress(1.0, "done")
    return Review(asset=asset, grouping=grouping, limits=limits, layouts=judged)


def revise(
    old: Review, asset: Asset, changed: Collection[int], progress: Progress = silent
) -> Review:
    """Review an asset that differs in the coordinates of some layouts; take over the others.

    changed : numbers of those layouts. Raises `Cancelled` where `progress` does.
    """
    built = build_layouts(
        asset,
        old.grouping.uv_set,
        old.grouping.merged,
        progress=within(progress, 0.0, LAYOUT_SHARE),
    )
    numbers = sorted(changed)
    judged = _measured(
        tuple(built[number] for number in numbers),
        asset,
        old.limits,
        within(progress, LAYOUT_SHARE, 1.0),
    )
    layouts = list(old.layouts)
    for number, one in zip(numbers, judged, strict=True):
        layouts[number] = one
    progress(1.0, "done")
    return replace(old, asset=asset, layouts=tuple(layouts))


def rejudge(old: Review, limits: Limits, progress: Progress = silent) -> Review:
    """Judge again under other limits. Measures anew only where the tile's size changed."""
    if _tile(limits) == _tile(old.limits):
        layouts = tuple(_judged(one.layout, one.measures, old.asset, limits) for one in old.layouts)
    else:
        layouts = _measured(tuple(one.layout for one in old.layouts), old.asset, limits, progress)
    return replace(old, limits=limits, layouts=layouts)


def _tile(limits: Limits) -> Tile:
    return Tile(limits.tile_width, limits.tile_height)


def _measured(
    layouts: tuple[Layout, ...], asset: Asset, limits: Limits, progress: Progress
) -> tuple[LayoutReview, ...]:
    whole = sum(len(layout.triangle_face) for layout in layouts) or 1
    done = 0
    judged = []
    for layout in layouts:
        start, done = done, done + len(layout.triangle_face)
        measures = measure(
            layout, asset, _tile(limits), progress=within(progress, start / whole, done / whole)
        )
        judged.append(_judged(layout, measures, asset, limits))
    return tuple(judged)


def _judged(layout: Layout, measures: Measures, asset: Asset, limits: Limits) -> LayoutReview:
    importance = island_importance(asset, layout, limits)
    target = target_density(measures, limits, importance)
    limits, udim_is_guess = with_udim(layout, measures, limits)
    subject = Subject(
        asset=asset,
        layout=layout,
        measures=measures,
        limits=limits,
        purpose=limits.purpose_of(layout.name),
        target_density=target,
        target_is="median" if limits.target_density is None else "given",
        importance=importance,
        octaves=density_octaves(measures, target, importance),
        guess=guess_purpose(layout, measures, limits),
        udim_is_guess=udim_is_guess,
    )
    return LayoutReview(
        layout=layout,
        measures=measures,
        purpose=subject.purpose,
        target_density=target,
        target_is=subject.target_is,
        island_importance=importance,
        island_density_octaves=subject.octaves,
        looks_tiling=subject.looks_tiling,
        udim=limits.udim,
        findings=judge(subject),
    )
