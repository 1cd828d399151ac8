"""Seams: how the texture goes on across them, whether shading agrees, who could be sewn to whom."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.results import Seams, TriangleMeasures
from evenweave.measure.seams import seams_kernels as kernels
from evenweave.measure.seams.corners import corner_faces, edge_length_m
from evenweave.measure.seams.shading import Shading
from evenweave.mesh.asset import Asset


def measure_seams(
    layout: Layout, asset: Asset, triangles: TriangleMeasures, tile: Tile
) -> Seams:  # fmt: skip
    """Return the measures of every seam; each looks at the triangles along the edge.

    turn_degrees : lay both sides flat; the angle between the texture's +v on one side and on
    the other, as the checker's chevrons show it. density_step_octaves, turn_degrees : NaN at
    degenerate triangles; fold_degrees : NaN at triangles without surface.
    is_hard : the file's normals of the two sides differ at either end by more than 2.56 degrees
    (cosine 0.999); where the file has no normals, smoothing groups part the faces and they do
    not lie flat to each other.
    island_seam_m : each seam once, also where both its sides are of the island.
    fragment_share : of the outline on the surface, in which a seam inside an island counts at
    both sides. Folds between mirrored halves are outline, but cannot be sewn.
    """
    seam = layout.edges.seam
    corner_face = corner_faces(layout)
    length, step, turn, fold = kernels.seam_steps(
        seam, corner_face, layout.face_start, layout.corner_point, layout.corner_uv,
        layout.triangle_corner, layout.point_m, layout.uv, triangles.s1, triangles.s2,
        )  # fmt: skip
    island = layout.face_island[corner_face[seam]].reshape(-1, 2)
    shading = Shading.of(layout, asset, corner_face)
    is_hard = shading.hard_seams(layout, frozen(fold))
    hard_inside = frozen(shading.hard_inside(layout))
    border = layout.edges.border
    border_m = _sums(
        layout.face_island[corner_face[border]],
        edge_length_m(layout, border, corner_face),
        layout.island_count,
    )
    can_sew = kernels.split_seams(
        seam, corner_face, layout.face_start, layout.corner_point, layout.corner_uv
    )
    seam_m, fragment, fragment_share = kernels.chief_neighbours(
        frozen(island), frozen(length), frozen(can_sew), frozen(border_m)
    )
    return Seams(
        length_m=frozen(length),
        island=frozen(island),
        density_step_octaves=frozen(step),
        turn_degrees=frozen(turn),
        is_hard=frozen(is_hard),
        fold_degrees=frozen(fold),
        hard_inside=hard_inside,
        hard_inside_m=frozen(edge_length_m(layout, hard_inside, corner_face)),
        island_seam_m=frozen(seam_m),
        island_border_m=frozen(border_m),
        fragment=frozen(fragment),
        fragment_share=frozen(fragment_share),
    )


def _sums(index: IntArray, value: FloatArray, count: int) -> FloatArray:
    """Return the (count,) sums of the values at each index."""
    sums: FloatArray = np.bincount(index, weights=value, minlength=count).astype(np.float64)
    return sums
