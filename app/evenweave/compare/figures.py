"""The figures compared between two passes, of islands and of layouts."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray
from evenweave.pipeline import LayoutReview, Review


@dataclass(frozen=True)
class Figure:
    """A value before and after; NaN where there is none."""

    before: float
    after: float

    @property
    def has_changed(self) -> bool:
        """Tell whether the two differ by more than rounding."""
        if math.isnan(self.before) or math.isnan(self.after):
            return math.isnan(self.before) != math.isnan(self.after)
        return not math.isclose(self.before, self.after, rel_tol=1e-4, abs_tol=1e-9)


ISLAND: dict[str, Callable[[LayoutReview], FloatArray]] = {
    "surface_m2": lambda one: one.measures.island.surface_m2,
    "uv_area": lambda one: one.measures.island.area_uv,
    "density_px_per_m": lambda one: one.measures.island.density_median,
    "density_octaves": lambda one: one.island_density_octaves,
    "stretch_median": lambda one: one.measures.island.stretch_median,
    "stretch_p95": lambda one: one.measures.island.stretch_p95,
    "flipped_triangles": lambda one: one.measures.island.flipped_triangles.astype(np.float64),
    "padding_px": lambda one: one.measures.gaps.padding_px,
    "margin_px": lambda one: one.measures.gaps.margin_px,
    "seam_m": lambda one: one.measures.seams.island_seam_m,
}

LAYOUT: dict[str, Callable[[LayoutReview], float]] = {
    "islands": lambda one: one.layout.island_count,
    "coverage": lambda one: one.measures.coverage.total,
    "overlap_px": lambda one: one.measures.overlap.area_px,
    "density_px_per_m": lambda one: one.measures.whole.density_median,
    "stretch_median": lambda one: one.measures.whole.stretch_median,
    "stretch_p95": lambda one: one.measures.whole.stretch_p95,
    "padding_px": lambda one: _least(one.measures.gaps.padding_px),
    "margin_px": lambda one: _least(one.measures.gaps.margin_px),
    "seam_m": lambda one: float(one.measures.seams.island_seam_m.sum()) / 2,
    "warnings": lambda one: len(one.findings),
}


def _least(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(known.min()) if len(known) else math.nan


def island_figures(review: Review) -> dict[str, FloatArray]:
    """Return each figure of all islands of a review, (I,) float64, numbered over all layouts."""
    return {
        name: np.concatenate([np.empty(0), *(figure(one) for one in review.layouts)])
        for name, figure in ISLAND.items()
    }


def layout_figures(old: LayoutReview | None, new: LayoutReview | None) -> dict[str, Figure]:
    """Return each figure of a layout before and after."""
    return {
        name: Figure(
            math.nan if old is None else float(figure(old)),
            math.nan if new is None else float(figure(new)),
        )
        for name, figure in LAYOUT.items()
    }
