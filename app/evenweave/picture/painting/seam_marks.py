"""A seam pointed at: both its sides, the run it belongs to, and which end meets which."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.picture.scene.scene import FlatScene
from evenweave.picture.scene.seam_kinds import edge_ends
from evenweave.raster.colour.colours import ALERT, PALE
from evenweave.raster.colour.paint import Dots, Lines

_EDGE_PX, _RUN_PX, _LINK_PX = 3.6, 1.6, 1.2
_LINK_DASH = (6.0, 3.0)
_RING_PX = 4.5


def run_rows(scene: FlatScene, row: int) -> IntArray:
    """Return the seam rows of the run between two islands that a seam belongs to."""
    chain = int(scene.seam_chain[row])
    first, end = scene.chains.chain_start[chain : chain + 2]
    return scene.chains.seam[first:end]


def flat_seam(scene: FlatScene, row: int) -> tuple[tuple[Lines, ...], Dots]:
    """Return how a seam is marked in the texture.

    Both sides of its run thinly, of its own edge strongly, a dashed link between the two, and
    rings round the ends that are one point on the object.
    """
    layout = scene.layout
    own = layout.edges.seam[row]
    run = np.ascontiguousarray(layout.edges.seam[run_rows(scene, row)].T).reshape(-1)
    ends = layout.uv[edge_ends(layout, own, layout.corner_uv)]
    link = ends.mean(axis=1)
    lines = (
        _lines(layout.uv[edge_ends(layout, run, layout.corner_uv)], _RUN_PX),
        _lines(link[None], _LINK_PX, dash=_LINK_DASH),
        _lines(ends, _EDGE_PX),
    )
    points = edge_ends(layout, own, layout.corner_point)
    meets = 0 if points[1, 0] == points[0, 0] else 1
    ring = np.stack((ends[0, 0], ends[1, meets]))
    return lines, Dots(ring, ALERT, radius_px=_RING_PX, casing=PALE)


def solid_seam(scene: FlatScene, row: int) -> tuple[Lines, ...]:
    """Return how a seam is marked on the object, seen through it."""
    layout = scene.layout
    run = layout.edges.seam[run_rows(scene, row), 0]
    own = layout.edges.seam[row : row + 1, 0]
    return (
        _lines(layout.point_m[edge_ends(layout, run, layout.corner_point)], _RUN_PX, on_top=True),
        _lines(layout.point_m[edge_ends(layout, own, layout.corner_point)], _EDGE_PX, on_top=True),
    )


def run_length_m(scene: FlatScene, row: int) -> float:
    """Return the length in metres of the run a seam belongs to."""
    return float(scene.chains.length_m[scene.seam_chain[row]])


def _lines(
    ends: FloatArray,
    width_px: float,
    *,
    dash: tuple[float, float] | None = None,
    on_top: bool = False,
) -> Lines:
    point = np.ascontiguousarray(ends.reshape(-1, ends.shape[-1]))
    segment = np.arange(len(point), dtype=np.int32).reshape(-1, 2)
    return Lines(point, segment, ALERT, width_px=width_px, casing=PALE, dash=dash, is_on_top=on_top)
