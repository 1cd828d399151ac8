"""`Halos`: the room that islands need, drawn round them and along the edges of tiles."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import ByteArray, IntArray
from evenweave.raster.bands import over_bands
from evenweave.raster.camera import FlatView
from evenweave.raster.overlay.halos_kernels import shade_halos
from evenweave.raster.overlay.tile_places import tile_places

_STRIPE_PX = 7


@dataclass(frozen=True, eq=False)
class Halos:
    """Distances in texels at samples of K tiles, `step` texels apart, row 0 lowest.

    nearest : (K, rows, columns) float32 to the nearest island's outline; second : to that of the
    nearest other island; both large beyond half_px; owner : int32, the nearest island, -1 none
    tiles : column and row of each tile; tile_px : its width and height in texels
    half_px : width of a halo, half the required padding; margin_px : room along a tile's edge
    """

    nearest: NDArray[np.float32]
    second: NDArray[np.float32]
    owner: IntArray
    tiles: tuple[tuple[int, int], ...]
    tile_px: tuple[int, int]
    step: float
    half_px: float
    margin_px: float


def draw_halos(rgba: ByteArray, ids: IntArray, halos: Halos, view: FlatView, ratio: float) -> None:
    """Draw halos over a picture (H, W, 4) of `view`, dark where two meet; and the margin.

    ids : (H, W) triangle at each pixel, -1 where none
    """
    place = tile_places(view, halos.tiles)
    texel_x, texel_y = place.inside_x * halos.tile_px[0], place.inside_y * halos.tile_px[1]
    packed_rgba = rgba.view(np.uint32)[:, :, 0]
    period = max(3, round(_STRIPE_PX * ratio))
    over_bands(
        view.height,
        lambda row0, row1: shade_halos(
            ids, place.tile_x, place.tile_y, place.number, texel_x, texel_y,
            halos.nearest, halos.second, halos.owner, halos.step, halos.tile_px,
            halos.half_px, halos.margin_px, view.scale / max(halos.tile_px), ratio, period,
            row0, row1, packed_rgba,
        ),
    )  # fmt: skip
