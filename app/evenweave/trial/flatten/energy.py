"""How much a flattening stretches: the number that advice compares, and those that people read.

The symmetric Dirichlet energy (Smith & Schaefer, "Bijective Parameterization with Free
Boundaries", SIGGRAPH 2015), weighted by surface, after the one uniform scale that makes it
least, and divided by 4 so that 1 is no distortion at all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray

NEEDLE = 5e-7  # area over the square of the longest side, below which a triangle has no surface


@dataclass(frozen=True)
class Energy:
    """How a flattening stretches.

    flips : triangles whose handedness differs from the island's, or that are collapsed;
    flipped_share : their share of the surface; value : >= 1, inf where no
    triangle is usable; mean_stretch, p95_stretch : surface-weighted max(t1, 1/t2);
    scale : uniform scale (uv units per metre) at which the energy is least;
    is_mirrored : the island as a whole is a mirror image.
    """

    flips: int
    value: float
    mean_stretch: float
    p95_stretch: float
    scale: float
    is_mirrored: bool
    flipped_share: float

    @property
    def rank(self) -> tuple[int, float]:
        """Order from better to worse: flips first, since they do not count in `value`."""
        return self.flips, self.value


def singular_values(
    point_m: FloatArray, uv: FloatArray, triangle: IntArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return s1 >= |s2| (signed) of the map from surface to uv, and surface areas, (T,) each.

    NaN for triangles without surface.
    """
    p, q = point_m[triangle], uv[triangle]
    e1, e2 = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
    length = np.linalg.norm(e1, axis=1)
    double = np.linalg.norm(np.cross(e1, e2), axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        along = (e1 * e2).sum(axis=1) / length
        height = double / length
        f1, f2 = q[:, 1] - q[:, 0], q[:, 2] - q[:, 0]
        x = f1 / length[:, None]
        y = (f2 - along[:, None] * x) / height[:, None]
        a, c, b, d = x[:, 0], x[:, 1], y[:, 0], y[:, 1]
        s1 = np.hypot((a + d) / 2, (c - b) / 2) + np.hypot((a - d) / 2, (c + b) / 2)
        s2 = (a * d - b * c) / s1
    s2 = np.where(s1 == 0, 0.0, s2)
    return s1, s2, double / 2


def _longest(point_m: FloatArray, triangle: IntArray) -> FloatArray:
    """Return (T,) the longest side of each triangle."""
    p = point_m[triangle]
    side: FloatArray = np.linalg.norm(p - np.roll(p, 1, axis=1), axis=2)
    return np.asarray(side.max(axis=1), np.float64)


def has_surface(point_m: FloatArray, triangle: IntArray) -> BoolArray:
    """Return (T,) bool, False where rounding decides on what a triangle is."""
    p = point_m[triangle]
    double = np.linalg.norm(np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]), axis=1)
    told: BoolArray = double / 2 > NEEDLE * _longest(point_m, triangle) ** 2
    return told


def energy(point_m: FloatArray, uv: FloatArray, triangle: IntArray) -> Energy:
    """Return the energy of a flattening. point_m (N, 3), uv (N, 2), triangle (T, 3).

    Triangles without surface, or so thin that rounding decides on them, do not count.
    """
    with np.errstate(all="ignore"):
        s1, s2, area = singular_values(point_m, uv, triangle)
        usable = np.isfinite(s1) & np.isfinite(s2) & has_surface(point_m, triangle)
        s1, s2, area = s1[usable], s2[usable], area[usable]
        is_mirrored = bool((area * s1 * s2).sum() < 0)
        if is_mirrored:
            s2 = -s2
        # A collapsed triangle is no better than a flipped one.
        upright = s2 > 1e-9 * np.maximum(s1, 1e-300)
        flips = int((~upright).sum()) + int((~np.isfinite(uv)).any())
        share = float(area[~upright].sum() / max(area.sum(), 1e-300))
        s1, s2, area = s1[upright], s2[upright], area[upright]
        if not len(area):
            return Energy(flips, np.inf, np.inf, np.inf, np.nan, is_mirrored, share)
        weight = area / area.sum()
        shrink = (weight * (s1**-2 + s2**-2)).sum() / (weight * (s1**2 + s2**2)).sum()
        k = shrink**0.25
        t1, t2 = k * s1, k * s2
        value = float((weight * (t1**2 + t2**2 + t1**-2 + t2**-2)).sum() / 4)
        worst = np.maximum(t1, 1 / t2)
    order = np.argsort(worst)
    reached = np.cumsum(weight[order])
    p95 = worst[order][min(int(np.searchsorted(reached, 0.95)), len(worst) - 1)]
    return Energy(
        flips=flips,
        value=value,
        mean_stretch=float((weight * worst).sum()),
        p95_stretch=float(p95),
        scale=1 / float(k),
        is_mirrored=is_mirrored,
        flipped_share=share,
    )
