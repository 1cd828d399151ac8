"""Hard edges: where the file shades the two faces of an edge apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout
from evenweave.measure.seams import shading_kernels as kernels
from evenweave.mesh.asset import Asset


@dataclass(frozen=True, eq=False)
class Shading:
    """What the file says of shading: normals at corners, smoothing groups of faces.

    asset_shift : (F,) int32 to add to a layout's corner to get the asset's
    """

    is_stated: bool
    corner_face: IntArray
    asset_shift: IntArray
    corner_normal: IntArray
    normal: FloatArray
    face_smoothing: IntArray

    @classmethod
    def of(cls, layout: Layout, asset: Asset, corner_face: IntArray) -> Shading:
        """Gather what concerns a layout's faces."""
        smoothing = asset.face_smoothing[layout.asset_face]
        has_groups = bool(len(smoothing)) and bool(smoothing.max() >= 0)
        return cls(
            is_stated=len(asset.normal) > 0 or has_groups,
            corner_face=corner_face,
            asset_shift=frozen(asset.face_start[layout.asset_face] - layout.face_start[:-1]),
            corner_normal=asset.corner_normal,
            normal=asset.normal,
            face_smoothing=frozen(smoothing),
        )

    def hard_seams(self, layout: Layout, fold_degrees: FloatArray) -> BoolArray:
        """Return (S,) whether each seam is a hard edge."""
        if not self.is_stated:
            return np.zeros(len(fold_degrees), dtype=bool)
        is_hard: BoolArray = kernels.hard_seams(
            layout.edges.seam, self.corner_face, layout.face_start, layout.corner_point,
            self.asset_shift, self.corner_normal, self.normal, self.face_smoothing, fold_degrees,
        )  # fmt: skip
        return is_hard

    def hard_inside(self, layout: Layout) -> IntArray:
        """Return (H,) corners of the hard edges inside islands."""
        if not self.is_stated:
            return np.zeros(0, dtype=np.int32)
        corners: IntArray = kernels.hard_inner_edges(
            layout.edges.twin, self.corner_face, layout.face_start, layout.corner_point,
            layout.corner_uv, layout.triangle_corner, layout.point_m, self.asset_shift,
            self.corner_normal, self.normal, self.face_smoothing,
        )  # fmt: skip
        return corners
