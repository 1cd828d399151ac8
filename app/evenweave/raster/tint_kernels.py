# mypy: allow-untyped-defs
"""Kernels for colours that are worked out: three floats from 0 to 255 of either precision."""

from __future__ import annotations

from typing import NamedTuple

from numba import njit

from evenweave.raster.kernel_types import u32


class Tint(NamedTuple):
    """A colour on its way into a picture, each channel 0 to 255."""

    red: float
    green: float
    blue: float


@njit(cache=True, nogil=True)
def scaled(tint, tone):
    """Return a colour made brighter or darker."""
    return Tint(tint.red * tone, tint.green * tone, tint.blue * tone)


@njit(cache=True, nogil=True)
def towards(tint, aim, share):
    """Return a colour moved by a share of the way towards another."""
    return Tint(
        tint.red + (aim.red - tint.red) * share,
        tint.green + (aim.green - tint.green) * share,
        tint.blue + (aim.blue - tint.blue) * share,
    )


@njit(cache=True, nogil=True)
def packed_tint(tint, half):
    """Return a colour in four bytes, opaque. half : 0.5 in the colour's precision."""
    return (
        u32(tint.red + half)
        | (u32(tint.green + half) << u32(8))
        | (u32(tint.blue + half) << u32(16))
        | u32(0xFF000000)
    )
