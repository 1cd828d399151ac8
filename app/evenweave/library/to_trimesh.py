"""A review's asset as a trimesh scene, with the texture coordinates that were judged."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from evenweave.arrays import IntArray
from evenweave.mesh.asset import Asset
from evenweave.pipeline import LayoutReview, Review

if TYPE_CHECKING:
    import trimesh


def scene_of(review: Review) -> trimesh.Scene:
    """Return a scene in the asset's unit: a mesh for each part of each layout.

    Vertices are split where texture coordinates are; polygons are triangulated as they were
    measured. Faces that no layout could use, for want of coordinates, are left out.
    """
    import trimesh

    scene = trimesh.Scene()
    for one in review.layouts:
        part = review.asset.face_part[one.layout.asset_face[one.layout.triangle_face]]
        for number in np.unique(part):
            name = review.asset.part_names[number]
            triangles = one.layout.triangle_corner[part == number]
            mesh = _mesh(review.asset, one, triangles)
            scene.add_geometry(mesh, node_name=f"{name} {one.layout.name}".strip(), geom_name=None)
    return scene


def _mesh(asset: Asset, layout_review: LayoutReview, triangles: IntArray) -> trimesh.Trimesh:
    import trimesh

    layout = layout_review.layout
    pair = np.stack([layout.corner_point, layout.corner_uv], axis=1)[triangles.reshape(-1)]
    vertex, index = np.unique(pair, axis=0, return_inverse=True)
    material = trimesh.visual.material.SimpleMaterial(name=" + ".join(layout.materials))
    return trimesh.Trimesh(
        vertices=layout.point_m[vertex[:, 0]] / asset.unit.metres,
        faces=index.reshape(-1, 3),
        visual=trimesh.visual.TextureVisuals(uv=layout.uv[vertex[:, 1]], material=material),
        process=False,
    )
