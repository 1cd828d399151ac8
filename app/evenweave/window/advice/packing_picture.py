"""A small picture of a packing, while it is being looked for."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import ByteArray
from evenweave.picture.scene.scene import FlatScene
from evenweave.picture.scene.solid_scene import next_corner, polygon_edges
from evenweave.raster.camera import fit_flat
from evenweave.raster.colour.colouring import island_tones
from evenweave.raster.colour.paint import Lines, Paint
from evenweave.raster.flat.flat import FlatRenderer, flat_mesh
from evenweave.trial.uvs.corner_uvs import CornerUvs
from evenweave.trial.uvs.retexture import retextured

_INK = (30, 30, 34)


def packing_picture(
    scene: FlatScene, change: CornerUvs, tiles: tuple[tuple[int, int], ...], side_px: int
) -> ByteArray:
    """Return (H, W, 4) uint8 RGBA of the layout as a change makes it, as wide as the tiles."""
    layout = retextured(scene.layout, change)
    after = next_corner(layout)
    triangle = np.ascontiguousarray(layout.corner_uv[layout.triangle_corner], dtype=np.int32)
    mesh = flat_mesh(layout.uv, triangle, polygon_edges(layout, after))
    corner = layout.edges.outline
    outline = np.stack([layout.corner_uv[corner], layout.corner_uv[after[corner]]], axis=1)
    segment = np.ascontiguousarray(outline, dtype=np.int32)
    nothing = np.zeros(len(scene.triangle_island), dtype=np.uint8)
    paint = Paint(
        triangle_colour=island_tones(scene.island_tone, scene.triangle_island, nothing),
        triangle_island=scene.triangle_island,
        island_state=np.zeros(max(layout.island_count, 1), dtype=np.uint8),
        tiles=tiles,
        lines=(Lines(layout.uv, segment, _INK, width_px=0.8),),
    )
    columns, rows = (max(one) + 1 - min(one) for one in zip(*tiles, strict=True))
    per = side_px / max(columns, rows)
    low = np.min(tiles, axis=0)
    box = (float(low[0]), float(low[1]), float(low[0] + columns), float(low[1] + rows))
    view = fit_flat(box, round(per * columns), round(per * rows))
    return FlatRenderer(mesh).picture(view, paint).copy()
