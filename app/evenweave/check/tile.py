"""The tile that a layout is judged on: the limits' own, or as large as the texture's image."""

from __future__ import annotations

from dataclasses import replace

from evenweave.layout.layout import Layout, Tile
from evenweave.limits.limits import LARGEST_TILE, Limits

_LEAST_TEXELS = 16


def on_own_tile(layout: Layout, limits: Limits) -> Limits:
    """Return the limits of the layout's UV set, with the size of its texture if nobody gave one.

    The first slot whose image is found decides; images of a few texels stand in for textures.
    """
    own = limits.in_set(layout.uv_set)
    size = _texture_size(layout) if own.takes_tile_from_texture else None
    return replace(own, tile_width=size[0], tile_height=size[1]) if size else own


def is_from_texture(layout: Layout, limits: Limits) -> bool:
    """Tell whether limits, before they were made the layout's own, leave its tile to a texture."""
    own = limits.in_set(layout.uv_set)
    return own.takes_tile_from_texture and _texture_size(layout) is not None


def _texture_size(layout: Layout) -> tuple[int, int] | None:
    for slot in layout.slots:
        width, height = slot.image.width, slot.image.height
        if min(width, height) >= _LEAST_TEXELS and max(width, height) <= LARGEST_TILE:
            return width, height
    return None


def tile_of(limits: Limits) -> Tile:
    """Return the size of one tile."""
    return Tile(limits.tile_width, limits.tile_height)
