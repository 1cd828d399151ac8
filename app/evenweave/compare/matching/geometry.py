"""Geometry that changed after the coordinates were made: new faces, and which lack sensible UVs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import BoolArray, FloatArray, IntArray, frozen, ints
from evenweave.compare.matching.lattice import cells, steps_per_m
from evenweave.compare.matching.matching import IslandMatch
from evenweave.compare.matching.surface import Surface
from evenweave.measure.results import TriangleMeasures
from evenweave.pipeline import LayoutReview

OFF_SHARE = 0.01
"""A triangle off the old surface by more than this share of its own size is new."""

MOST_STRETCH = 4.0
MOST_OCTAVES = 2.0


@dataclass(frozen=True, eq=False)
class NewFaces:
    """Faces of one new layout whose surface was not there before.

    face : (N,) int32 of the layout; area_m2 : of all of them
    senseless : (M,) int32 those with coordinates that cannot be meant: no texel area, stretched
    more than 4 to 1, 4 times as dense or sparse as their island, or mirrored in it
    bare : (B,) int32 faces of the asset, new and without coordinates
    points : (P, 2) uv places of the senseless ones, worst surface first, some 100 at most
    """

    face: IntArray
    area_m2: float
    senseless: IntArray
    bare: IntArray
    points: FloatArray


def new_faces(match: IslandMatch, layouts: tuple[LayoutReview, ...]) -> tuple[NewFaces, ...]:
    """Return for each new layout the faces that were not there before."""
    is_new = _is_new_triangle(match)
    start = match.new.layout_triangle
    bare = _bare_faces(match.new, is_new)
    return tuple(
        _of_layout(one, is_new[start[k] : start[k + 1]], bare) for k, one in enumerate(layouts)
    )


def _is_new_triangle(match: IslandMatch) -> BoolArray:
    """Tell for each new triangle, (T,), whether it is off the old surface, with a new corner."""
    surface, landing = match.new, match.new_landing
    off = OFF_SHARE * np.sqrt(surface.area_m2[landing.triangle]) + 1e-6 * surface.size_m
    # The first sample of each triangle is its middle.
    first = np.flatnonzero(np.diff(landing.triangle, prepend=-1))
    is_new: BoolArray = (landing.distance_m > off)[first] & (surface.area_m2 > 0)
    rows = np.flatnonzero(is_new)
    is_new[rows[_has_old_corners(match, rows)]] = False
    return is_new


def _has_old_corners(match: IslandMatch, triangle: NDArray[np.intp]) -> BoolArray:
    """Tell for each new triangle whether it joins old points: a quad's other diagonal does."""
    old, new = match.old, match.new
    steps, origin = steps_per_m(old, new), old.bounds_m[:3]
    if len(triangle) == 0:
        return np.zeros(0, dtype=bool)
    known = np.unique(cells(old.corner_m.reshape(-1, 3), steps, origin))
    corner = cells(new.corner_m[triangle].reshape(-1, 3), steps, origin)
    return np.asarray(np.isin(corner, known).reshape(-1, 3).all(axis=1))


def _bare_faces(surface: Surface, is_new: BoolArray) -> IntArray:
    return np.unique(surface.face[is_new & (surface.island < 0)])


def _of_layout(layout_review: LayoutReview, is_new: BoolArray, bare: IntArray) -> NewFaces:
    layout, triangle = layout_review.layout, layout_review.measures.triangle
    is_senseless = is_new & _is_senseless(layout_review, triangle)
    rows = np.flatnonzero(is_senseless)
    rows = rows[np.argsort(-triangle.area_m2[rows], kind="stable")][:100]
    corner_uv = layout.uv[layout.corner_uv[layout.triangle_corner[rows]]]
    missing = np.concatenate((layout.missing_face, layout.unusable_face))
    return NewFaces(
        face=frozen(np.unique(layout.triangle_face[is_new])),
        area_m2=float(triangle.area_m2[is_new].sum()),
        senseless=frozen(np.unique(layout.triangle_face[is_senseless])),
        bare=ints(np.intersect1d(bare, missing)),
        points=frozen(corner_uv.mean(axis=1)),
    )


def _is_senseless(layout_review: LayoutReview, triangle: TriangleMeasures) -> BoolArray:
    """Tell for each triangle, (T,), whether its coordinates cannot be meant."""
    island = layout_review.layout.face_island[layout_review.layout.triangle_face]
    usual = layout_review.measures.island
    with np.errstate(invalid="ignore", divide="ignore"):
        density = np.sqrt(triangle.s1 * np.abs(triangle.s2))
        octaves = np.abs(np.log2(density / usual.density_median[island]))
        stretch = triangle.s1 / np.abs(triangle.s2)
        is_against = (triangle.s2 < 0) != (usual.flipped_share[island] > 0.5)
        is_wild = (stretch > MOST_STRETCH) | (octaves > MOST_OCTAVES) | is_against
    return np.asarray(triangle.is_degenerate | is_wild)
