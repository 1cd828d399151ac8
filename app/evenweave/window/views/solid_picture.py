"""The picture in the 3D view: rasterised as coarsely as the moment asks, and picked from."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize
from PySide6.QtGui import QImage

from evenweave.picture.coloured import Coloured
from evenweave.picture.lettering.pins import Pin, seen_callouts
from evenweave.picture.painting.painting import NOTHING, Marks, solid_paint
from evenweave.raster.camera import Orbit
from evenweave.raster.colour.paint import Lines
from evenweave.raster.solid.solid import SolidRenderer
from evenweave.window.views.pins import PlacedPin, placed_pins

FRAME_S = 1 / 45  # a full picture slower than this is drawn coarsely while moving
_SMOOTH_S = 0.008  # one faster than this is drawn at twice the resolution when still
_TRIANGLE_S = 3.5e-8  # what a triangle of a large mesh costs in a picture
_COARSE, _FULL, _SMOOTH = 2.0, 1.0, 0.5  # pixels of the display per pixel of the picture


class SolidPicture:
    """Draws one asset from one place at a time.

    camera : where one looks from; size, ratio : of the view, and its device pixels per pixel
    seconds : what the last full picture took; marks, pins, ghost : what is drawn besides
    placed : where the pins stand in the last picture; is_moving : allows a coarser one
    """

    def __init__(self) -> None:
        self.camera = Orbit()
        self.size, self.ratio = QSize(1, 1), 1.0
        self.coloured: Coloured | None = None
        self.marks: Marks = NOTHING
        self.pins: tuple[Pin, ...] = ()
        self.ghost: tuple[Lines, ...] = ()
        self.placed: tuple[PlacedPin, ...] = ()
        self.seconds = 0.0
        self.is_moving = False
        self._renderer: SolidRenderer | None = None
        self._step = _FULL

    def show(self, coloured: Coloured | None) -> bool:
        """Take other colours, and tell whether they are of another asset."""
        mesh = coloured.scene.solid.mesh if coloured else None
        is_other = mesh is None or self._renderer is None or self._renderer.mesh is not mesh
        if is_other:
            self._renderer = SolidRenderer(mesh) if mesh else None
            # Not drawn yet: a guess, so that the first picture of a large mesh is a quick one.
            self.seconds = len(mesh.triangle) * _TRIANGLE_S if mesh else 0.0
        self.coloured = coloured
        return is_other

    @property
    def is_slow(self) -> bool:
        """Whether a full picture takes too long to move with the hand."""
        return self.seconds > FRAME_S

    @property
    def is_coarse(self) -> bool:
        """Whether the last picture was drawn at half resolution."""
        return self._step == _COARSE

    @property
    def is_smooth(self) -> bool:
        """Whether the last picture was drawn at twice the resolution."""
        return self._step == _SMOOTH

    @property
    def is_stale(self) -> bool:
        """Whether the next picture would be finer or coarser than the last."""
        return self._step != self._wanted_step()

    def _wanted_step(self) -> float:
        """Coarse while a large mesh moves; smooth when a small one is still."""
        if self.is_moving:
            return _COARSE if self.is_slow else _FULL
        return _SMOOTH if 0.0 < self.seconds < _SMOOTH_S else _FULL

    def drawn(self) -> QImage | None:
        """Return the picture, None where there is nothing to draw."""
        coloured, renderer = self.coloured, self._renderer
        if coloured is None or renderer is None:
            return None
        begun = time.perf_counter()
        self._step = self._wanted_step()
        width, height = self._pixels
        paint = solid_paint(
            coloured.scene.solid,
            coloured.flat,
            coloured.look,
            layout_index=coloured.layout_index,
            colours=coloured.whole,
            layers=coloured.layers,
            marks=self.marks,
            pixel_ratio=self._fine,
        )
        paint = replace(paint, lines=(*paint.lines, *self.ghost))
        rgba = renderer.picture(self.camera, width, height, paint=paint)
        if self._step == _FULL:
            self.seconds = time.perf_counter() - begun
        self._place_pins()
        return QImage(rgba.data, width, height, 4 * width, QImage.Format.Format_RGBX8888)

    @property
    def _fine(self) -> float:
        """Pixels of the picture per pixel of the view."""
        return self.ratio / self._step

    @property
    def _pixels(self) -> tuple[int, int]:
        width, height = self.size.width() * self._fine, self.size.height() * self._fine
        return max(round(width), 1), max(round(height), 1)

    def _place_pins(self) -> None:
        """Find where the pins stand; those behind the object are left out."""
        self.placed = ()
        if self._renderer is None or not self.pins:
            return
        fine = self._fine
        seen = seen_callouts(self.pins, self._renderer, self.camera, self._pixels)
        callouts = [replace(one, x=one.x / fine, y=one.y / fine) for one in seen]
        self.placed = placed_pins(callouts, QRectF(QPointF(), self.size.toSizeF()))

    # What is under the pointer.

    def triangle_at(self, position: QPointF) -> int:
        """Return the triangle of the layout shown at a position, or -1."""
        coloured, renderer = self.coloured, self._renderer
        if coloured is None or renderer is None:
            return -1
        number = renderer.pick(position.x() * self._fine, position.y() * self._fine)
        first, end = coloured.scene.solid.triangle_start[coloured.layout_index :][:2]
        return number - first if first <= number < end else -1

    def island_of(self, triangle: int) -> int:
        """Return the island of a triangle of the layout shown, or -1."""
        coloured = self.coloured
        return int(coloured.flat.triangle_island[triangle]) if coloured and triangle >= 0 else -1

    def uv_at(self, position: QPointF, triangle: int) -> tuple[float, float]:
        """Return where a position lies on the texture; NaN where that cannot be told.

        triangle : of the layout shown, whose plane is met
        """
        coloured = self.coloured
        if coloured is None or triangle < 0:
            return math.nan, math.nan
        layout = coloured.flat.layout
        corner = layout.triangle_corner[triangle]
        size = max(self.size.width(), 1), max(self.size.height(), 1)
        origin, ray = self.camera.ray(position.x(), position.y(), *size)
        edge = layout.point_m[layout.corner_point[corner]] - origin
        weight = np.array([
            ray @ np.cross(edge[1], edge[2]),
            ray @ np.cross(edge[2], edge[0]),
            ray @ np.cross(edge[0], edge[1]),
        ])  # fmt: skip
        total = weight.sum()
        if total == 0:
            return math.nan, math.nan
        u, v = weight @ layout.uv[layout.corner_uv[corner]] / total
        return float(u), float(v)

    def tiles_per_px(self, position: QPointF, triangle: int) -> float:
        """How much of a tile one pixel shows at a position; NaN where none is known."""
        here = self.uv_at(position, triangle)
        steps = (position + QPointF(1.0, 0.0), position + QPointF(0.0, 1.0))
        return max(math.dist(here, self.uv_at(step, triangle)) for step in steps)
