"""The tile that a layout is judged on: the limits' own, or as large as the texture's image."""

from __future__ import annotations

from dataclasses import replace

from evenweave.layout.layout import Layout, Tile
from evenweave.limits import LARGEST_TILE, Limits

_LEAST_TEXELS = 16


def on_own_tile(layout: Layout, limits: Limits) -> Limits:
    """Return the limits with the size of the layout's texture, where nobody gave a tile's size.

    The first slot whose image is found decides; images of a few texels stand in for textures.
    """
    if not limits.takes_tile_from_texture:
        return limits
    for slot in layout.slots:
        width, height = slot.image.width, slot.image.height
        if min(width, height) >= _LEAST_TEXELS and max(width, height) <= LARGEST_TILE:
            return replace(limits, tile_width=width, tile_height=height, tile_from_texture=True)
    return limits


def tile_of(limits: Limits) -> Tile:
    """Return the size of one tile."""
    return Tile(limits.tile_width, limits.tile_height)


def is_from_texture(layout: Layout, limits: Limits) -> bool:
    """Tell whether limits, before they were made the layout's own, leave its tile to a texture."""
    return on_own_tile(layout, limits) is not limits
