"""Ghosts: what could be, drawn over what is. Outlines and cuts as lines for both views."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from evenweave.arrays import FloatArray, IntArray, frozen, ints
from evenweave.layout.layout import Layout
from evenweave.picture.scene.scene import FlatScene
from evenweave.picture.scene.solid_scene import next_corner
from evenweave.raster.colour.colours import Colour
from evenweave.raster.colour.paint import Lines
from evenweave.trial.advice.advice import IslandAdvice
from evenweave.trial.cut.cut import CutProposal
from evenweave.trial.sew.sew import SewProposal
from evenweave.trial.uvs.corner_uvs import CornerUvs

_INK: Colour = (24, 24, 28)
_CHALK: Colour = (255, 255, 255)
_GHOST_DASH = (9.0, 5.0)
_CUT_DASH = (14.0, 9.0)
_SEW_DASH = (6.0, 3.0)
_HIDDEN = 0.4


@dataclass(frozen=True, eq=False)
class Ghost:
    """What a trial would come to.

    outline : (S, 2, 2) tile units, of islands as they would lie
    line_uv : (E, 2, 2) tile units and line_point : (E, 2) rows of `layout.point_m`, the edges to
    cut, or the seams to sew if `is_sewing`
    """

    outline: FloatArray
    line_uv: FloatArray = field(default_factory=lambda: frozen(np.zeros((0, 2, 2))))
    line_point: IntArray = field(default_factory=lambda: ints(np.zeros((0, 2))))
    is_sewing: bool = False


def attainable_ghost(advice: IslandAdvice) -> Ghost | None:
    """Return the ghost of the best flattening with the same seams."""
    found = advice.attainable
    return Ghost(found.outline) if found is not None and len(found.outline) else None


def cut_ghost(cut: CutProposal) -> Ghost:
    """Return the ghost of an island cut open, and where it is cut."""
    return Ghost(cut.outline, cut.edge_uv, cut.edge_point)


def sew_ghost(sew: SewProposal, layout: Layout) -> Ghost:
    """Return the ghost of two islands sewn together, and the seam on both."""
    after = next_corner(layout)
    side = sew.edge_corner.reshape(-1)
    line = layout.uv[layout.corner_uv[np.stack([side, after[side]], axis=1)]]
    return Ghost(sew.outline, frozen(line), sew.edge_point, is_sewing=True)


def change_ghost(scene: FlatScene, islands: Sequence[int], change: CornerUvs) -> Ghost:
    """Return the ghost of islands at new coordinates."""
    layout = scene.layout
    corner = layout.edges.outline
    face = np.searchsorted(layout.face_start, corner, side="right") - 1
    corner = corner[np.isin(layout.face_island[face], np.asarray(islands))]
    value = layout.uv[layout.corner_uv]
    value[change.corner] = change.uv
    return Ghost(frozen(value[np.stack([corner, next_corner(layout)[corner]], axis=1)]))


def flat_lines(ghost: Ghost | None) -> tuple[Lines, ...]:
    """Return what the canvas draws."""
    if ghost is None:
        return ()
    return tuple(
        _stitched(np.ascontiguousarray(segment.reshape(-1, 2)), dash=dash, is_dark=is_dark)
        for segment, dash, is_dark in (
            (ghost.outline, _GHOST_DASH, False),
            (ghost.line_uv, _line_dash(ghost), True),
        )
        if len(segment)
    )


def solid_lines(ghost: Ghost | None, layout: Layout) -> tuple[Lines, ...]:
    """Return what the 3D view draws; what the object hides shows through faintly."""
    if ghost is None or not len(ghost.line_point):
        return ()
    point = np.ascontiguousarray(layout.point_m[ghost.line_point.reshape(-1)])
    line = _stitched(point, dash=_line_dash(ghost), is_dark=True)
    return replace(line, strength=_HIDDEN, is_on_top=True), line


def _line_dash(ghost: Ghost) -> tuple[float, float]:
    return _SEW_DASH if ghost.is_sewing else _CUT_DASH


def _stitched(point: FloatArray, *, dash: tuple[float, float], is_dark: bool) -> Lines:
    """Return dashes on a thread of the opposite tone: they show on any colour."""
    segment = np.arange(len(point), dtype=np.int32).reshape(-1, 2)
    above, below = (_INK, _CHALK) if is_dark else (_CHALK, _INK)
    width = 3.0 if is_dark else 1.4
    return Lines(point, segment, above, width_px=width, casing=below, dash=dash)
