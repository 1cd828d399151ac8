"""Seams and edges told apart by what they mean for shading."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import BoolArray, FloatArray
from evenweave.layout.layout import Layout
from evenweave.measure.results import Seams
from evenweave.measure.seams.corners import corner_faces

FLAT_DEGREES = 8.0  # fold up to which ground counts as flat; our choice, no source


def is_on_flat(seams: Seams) -> BoolArray:
    """Return (S,) whether a seam lies on flat smooth ground: shaded through, and hardly a fold."""
    with np.errstate(invalid="ignore"):
        return np.asarray(~seams.is_hard & (seams.fold_degrees <= FLAT_DEGREES))


def island_lengths_m(layout: Layout, seams: Seams) -> tuple[FloatArray, FloatArray]:
    """Return (I,) metres of hard edges inside each island, and of its seams on smooth ground.

    A seam counts for both islands at its sides, twice where an island meets itself.
    """
    hard, smooth = np.zeros(layout.island_count), np.zeros(layout.island_count)
    face = corner_faces(layout)[seams.hard_inside]
    np.add.at(hard, layout.face_island[face], seams.hard_inside_m)
    shaded = ~seams.is_hard
    for side in (0, 1):
        np.add.at(smooth, seams.island[shaded, side], seams.length_m[shaded])
    return hard, smooth
