"""Edges that deserve a second look, told apart by dash and width, in texture and on object."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.layout.layout import Layout
from evenweave.measure.seams.kinds import is_on_flat
from evenweave.picture.scene.scene import FlatScene
from evenweave.raster.colour.colours import ALERT, PALE
from evenweave.raster.colour.paint import Lines

MOST_EDGES = 60_000  # of one kind; more are only noise


@dataclass(frozen=True)
class SeamKind:
    """How one kind is called and drawn. `line` : how the line looks, in words."""

    word: str
    line: str
    width_px: float
    dash: tuple[float, float] | None


HARD_INSIDE = SeamKind("hard edge without a seam", "dashed", 2.4, (14.0, 9.0))
FLAT_SEAM = SeamKind("seam on flat smooth ground", "dotted", 2.8, (7.0, 3.0))
NONMANIFOLD = SeamKind("edge of more than two faces", "thick", 4.0, None)
SEAM_KINDS = (HARD_INSIDE, FLAT_SEAM, NONMANIFOLD)


def kind_corners(scene: FlatScene) -> tuple[IntArray, ...]:
    """Return the corners whose edges are of each of SEAM_KINDS, in walking order where known."""
    layout, seams = scene.layout, scene.review.measures.seams
    in_order = scene.chains.seam
    on_flat = layout.edges.seam[in_order[is_on_flat(seams)[in_order]]]
    # One side after the other, so that the dashes go on along each.
    flat = np.concatenate((on_flat[:, 0], on_flat[:, 1]))
    return seams.hard_inside, frozen(flat.astype(np.int32)), layout.edges.nonmanifold


def kind_lengths_m(scene: FlatScene) -> tuple[float, float, float]:
    """Return the length in metres of each of SEAM_KINDS, every edge once."""
    seams, layout = scene.review.measures.seams, scene.layout
    ends = edge_ends(layout, layout.edges.nonmanifold, layout.corner_point)
    ends = np.unique(np.sort(ends, axis=1), axis=0)
    way = layout.point_m[ends[:, 1]] - layout.point_m[ends[:, 0]]
    return (
        float(seams.hard_inside_m.sum()),
        float(seams.length_m[is_on_flat(seams)].sum()),
        float(np.linalg.norm(way, axis=1).sum()),
    )


@dataclass(frozen=True, eq=False)
class KindLines:
    """The lines of every kind, in the texture and on the object."""

    flat: tuple[Lines, ...] = ()
    solid: tuple[Lines, ...] = ()


NO_KINDS = KindLines()


def kind_lines(scene: FlatScene) -> KindLines:
    """Return the lines of SEAM_KINDS; of very many edges only the longest."""
    layout = scene.layout
    corners = tuple(_longest(layout, corner) for corner in kind_corners(scene))
    return KindLines(
        _lines(layout, corners, layout.uv, layout.corner_uv),
        _lines(layout, corners, layout.point_m, layout.corner_point),
    )


def _longest(layout: Layout, corner: IntArray) -> IntArray:
    if len(corner) <= MOST_EDGES:
        return corner
    ends = layout.point_m[edge_ends(layout, corner, layout.corner_point)]
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    return corner[np.sort(np.argsort(-length, kind="stable")[:MOST_EDGES])]


def edge_ends(layout: Layout, corner: IntArray, index: IntArray) -> IntArray:
    """Return (N, 2) the rows in `index` (C,) of both ends of the edges that begin at corners."""
    face = np.searchsorted(layout.face_start, corner, side="right") - 1
    is_last = corner + 1 == layout.face_start[face + 1]
    after = np.where(is_last, layout.face_start[face], corner + 1)
    return np.stack((index[corner], index[after]), axis=1).astype(np.int32)


def _lines(
    layout: Layout, corners: tuple[IntArray, ...], point: FloatArray, index: IntArray
) -> tuple[Lines, ...]:
    lines = []
    for kind, corner in zip(SEAM_KINDS, corners, strict=True):
        ends = edge_ends(layout, corner, index).reshape(-1)
        segment = np.arange(len(ends), dtype=np.int32).reshape(-1, 2)
        lines.append(
            Lines(
                np.ascontiguousarray(point[ends]), segment, ALERT, width_px=kind.width_px,
                casing=PALE, dash=kind.dash,
            )
        )  # fmt: skip
    return tuple(lines)
