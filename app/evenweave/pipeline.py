"""The one pipeline and its one frozen result: asset and limits in, `Review` out."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenweave.arrays import FloatArray
from evenweave.check.finding import Finding
from evenweave.check.guess import guess_purpose, with_udim
from evenweave.check.run import judge
from evenweave.check.subject import Subject
from evenweave.check.target import (
    common_density,
    density_octaves,
    deserved_density,
    island_importance,
    target_density,
)
from evenweave.check.tile import on_own_tile, tile_of
from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout
from evenweave.limits.limits import Limits
from evenweave.measure.islands.squeeze import squeeze
from evenweave.measure.measure import measure
from evenweave.measure.results import Measures
from evenweave.measure.seams.continuing import continuing
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
    limits : with the size of the texture, and UDIM on where the layout uses it
    warnings : gravest first
    """

    layout: Layout
    measures: Measures
    limits: Limits
    purpose: str
    target_density: float
    target_is: str
    island_importance: FloatArray
    island_density_octaves: FloatArray
    looks_tiling: bool
    findings: tuple[Finding, ...]

    @property
    def udim(self) -> bool:
        """Whether islands may lie in any UDIM tile."""
        return self.limits.udim


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
        lightmaps=_lightmaps(asset, limits),
        progress=within(progress, 0.0, LAYOUT_SHARE),
    )
    measured = _measured(layouts, asset, limits, within(progress, LAYOUT_SHARE, 1.0))
    judged = _judged(measured, asset, limits)
    progress(1.0, "done")
    return Review(asset=asset, grouping=grouping, limits=limits, layouts=judged)


def revise(
    old: Review, asset: Asset, changed: Collection[int], progress: Progress = silent
) -> Review:
    """Review an asset that differs in the coordinates of some layouts; take over the others.

    changed : numbers of those layouts; others of the same materials in the same set change along.
    Raises `Cancelled` where `progress` does.
    """
    built = build_layouts(
        asset,
        old.grouping.uv_set,
        old.grouping.merged,
        lightmaps=_lightmaps(asset, old.limits),
        progress=within(progress, 0.0, LAYOUT_SHARE),
    )
    moved = {
        (material, old.layouts[number].layout.uv_set)
        for number in changed
        for material in old.layouts[number].layout.materials
    }
    numbers = [
        number
        for number, one in enumerate(built)
        if number in changed or any((name, one.uv_set) in moved for name in one.materials)
    ]
    new = _measured(
        tuple(built[number] for number in numbers),
        asset,
        old.limits,
        within(progress, LAYOUT_SHARE, 1.0),
    )
    measured = [_Measured(one.layout, one.measures) for one in old.layouts]
    for number, one in zip(numbers, new, strict=True):
        measured[number] = one
    judged = _judged(measured, asset, old.limits)
    layouts = tuple(
        one if number in numbers or _says_more(one, before) else before
        for number, (one, before) in enumerate(zip(judged, old.layouts, strict=True))
    )
    progress(1.0, "done")
    return replace(old, asset=asset, layouts=layouts)


def _says_more(layout_review: LayoutReview, before: LayoutReview) -> bool:
    """Tell whether a layout that stayed as it was is judged otherwise beside changed ones."""
    return [found.what for found in layout_review.findings] != [
        found.what for found in before.findings
    ]


def rejudge(old: Review, limits: Limits, progress: Progress = silent) -> Review:
    """Judge again under other limits. Measures anew only where the tile's size changed.

    Layouts are the same ones, unless the limits say of other sets that they are lightmaps.
    """
    if _lightmaps(old.asset, limits) != _lightmaps(old.asset, old.limits):
        return review(old.asset, limits, old.grouping, progress)
    kept = tuple(
        one for one in old.layouts if tile_of(on_own_tile(one.layout, limits)) == one.measures.tile
    )
    again = tuple(one.layout for one in old.layouts if one not in kept)
    new = {id(one.layout): one for one in _measured(again, old.asset, limits, progress)}
    measured = [new.get(id(one.layout), _Measured(one.layout, one.measures)) for one in old.layouts]
    return replace(old, limits=limits, layouts=_judged(measured, old.asset, limits))


def _lightmaps(asset: Asset, limits: Limits) -> tuple[str, ...]:
    return tuple(one.name for one in asset.uv_sets if limits.use_of(one.name) == "lightmap")


@dataclass(frozen=True, eq=False)
class _Measured:
    """A layout that is measured and not yet judged."""

    layout: Layout
    measures: Measures


def _measured(
    layouts: tuple[Layout, ...], asset: Asset, limits: Limits, progress: Progress
) -> tuple[_Measured, ...]:
    whole = sum(len(layout.triangle_face) for layout in layouts) or 1
    done = 0
    found = []
    for layout in layouts:
        start, done = done, done + len(layout.triangle_face)
        tile = tile_of(on_own_tile(layout, limits))
        part = within(progress, start / whole, done / whole)
        found.append(_Measured(layout, measure(layout, asset, tile, progress=part)))
    return tuple(found)


def _judged(
    measured: Sequence[_Measured], asset: Asset, limits: Limits
) -> tuple[LayoutReview, ...]:
    """Judge the layouts of one asset, each by itself and beside the others."""
    subjects = [_subject(one.layout, one.measures, asset, limits) for one in measured]
    is_compared = [
        one.purpose == "unique" and not one.looks_tiling and not one.is_lightmap for one in subjects
    ]
    common = common_density(
        np.where(is_compared, [one.own_density for one in subjects], np.nan),
        np.array([one.measures.whole.surface_m2 for one in subjects]),
    )
    return tuple(
        _reviewed(
            replace(
                one, is_first=number == 0, asset_density=common if is_compared[number] else np.nan
            )
        )
        for number, one in enumerate(subjects)
    )


def _subject(layout: Layout, measures: Measures, asset: Asset, limits: Limits) -> Subject:
    importance = island_importance(asset, layout, limits)
    target = target_density(measures, limits, importance)
    own, udim_is_guess = with_udim(layout, measures, on_own_tile(layout, limits))
    return Subject(
        asset=asset,
        layout=layout,
        measures=measures,
        limits=own,
        purpose=own.purpose_of(layout.name),
        target_density=target,
        target_is="median" if own.target_density is None else "given",
        importance=importance,
        octaves=density_octaves(measures, target, importance),
        guess=guess_purpose(layout, measures, own),
        udim_is_guess=udim_is_guess,
        own_density=deserved_density(measures, importance),
        continuing=continuing(layout, measures.island),
        squeeze=squeeze(layout, measures.tile, measures.triangle, own.stretch_median)
        if measures.whole.stretch_median > own.stretch_median
        else None,
    )


def _reviewed(subject: Subject) -> LayoutReview:
    return LayoutReview(
        layout=subject.layout,
        measures=subject.measures,
        limits=subject.limits,
        purpose=subject.purpose,
        target_density=subject.target_density,
        target_is=subject.target_is,
        island_importance=subject.importance,
        island_density_octaves=subject.octaves,
        looks_tiling=subject.looks_tiling,
        findings=judge(subject),
    )
