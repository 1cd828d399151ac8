"""Layouts of flat polygons, each an island: what is packed and levelled in tests."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from tests.shapes import asset

from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.overlap.overlap import measure_overlap
from evenweave.measure.space.gaps import measure_gaps
from evenweave.measure.stacks.stacks import find_stacks

TILE = Tile(1024, 1024)
Corners = NDArray[np.float64]


def box(width: float, height: float, at: ArrayLike = (0.0, 0.0)) -> Corners:
    return np.array([[0, 0], [width, 0], [width, height], [0, height]]) + np.asarray(at, float)


def ring(radius: float, corners: int = 24, at: ArrayLike = (0.0, 0.0)) -> Corners:
    t = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    return radius * np.stack([np.cos(t), np.sin(t)], axis=1) + np.asarray(at, float)


def ell(size: float, thick: float, at: ArrayLike = (0.0, 0.0)) -> Corners:
    shape = [[0, 0], [size, 0], [size, thick], [thick, thick], [thick, size], [0, size]]
    return np.array(shape) + np.asarray(at, float)


def layout(textures: Sequence[Corners], metres: Sequence[float] | None = None) -> Layout:
    """Return a layout of one polygon an island.

    metres : per island, metres on its flat surface for one tile; 1 each if None.
    """
    metres = [1.0] * len(textures) if metres is None else metres
    start = np.cumsum([0, *map(len, textures)])
    faces = [list(range(a, b)) for a, b in pairwise(start)]
    solid = [
        np.column_stack([one * size, np.full(len(one), float(height))])
        for height, (one, size) in enumerate(zip(textures, metres, strict=True))
    ]
    return build_layouts(asset(np.vstack(solid), faces, np.vstack(textures)))[0]


def rooms(one: Layout, tile: Tile = TILE) -> tuple[float, float, float]:
    """Return least padding, least margin and overlap in texels, as the checks measure them."""
    stacks = find_stacks(one, tile)
    overlap = measure_overlap(one, tile, stacks)
    gaps = measure_gaps(one, tile, stacks=stacks, overlap=overlap)
    return float(gaps.padding_px.min()), float(gaps.margin_px.min()), overlap.area_px


def polygons(one: Layout) -> list[Corners]:
    """Return the texture of every island, one face each, in tile units."""
    return [one.uv[one.corner_uv[a:b]] for a, b in pairwise(one.face_start)]
