"""The one pipeline and its one frozen result: asset and limits in, `Review` out."""

from __future__ import annotations

from dataclasses import dataclass

from evenweave.arrays import FloatArray
from evenweave.check.warning import LayoutWarning
from evenweave.layout.layout import Layout
from evenweave.limits import Limits
from evenweave.measure.results import Measures
from evenweave.mesh.asset import Asset


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
    looks_tiling : the layout looks like a repeating or shared texture
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
    warnings: tuple[LayoutWarning, ...]


@dataclass(frozen=True, eq=False)
class Review:
    """What Evenweave knows of one file under one set of limits. Windows and reports look at this."""

    asset: Asset
    grouping: Grouping
    limits: Limits
    layouts: tuple[LayoutReview, ...]
