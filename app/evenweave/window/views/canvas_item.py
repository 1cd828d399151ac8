"""The item that draws a layout inside a pyqtgraph plot: rasterised when it is painted."""

from __future__ import annotations

import time
from dataclasses import replace

import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPen
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from evenweave.layout import udim
from evenweave.picture.coloured import Coloured
from evenweave.picture.lettering.pins import Pin, flat_callouts
from evenweave.picture.painting.painting import NOTHING, Marks, flat_paint
from evenweave.picture.scene.ellipses import ellipses
from evenweave.raster.camera import FlatView
from evenweave.raster.colour.paint import Lines
from evenweave.raster.flat.flat import FlatRenderer
from evenweave.window.views.pins import PlacedPin, draw_pins, placed_pins

FRAME_S = 1 / 70  # a full picture slower than this is drawn coarsely while moving
_LEAST_NUMBERED_PX = 56.0
_MOST_TILES = 400


class LayoutItem(pg.GraphicsObject):  # type: ignore[misc]  # pyqtgraph carries no types
    """Draws one layout over the whole of its ViewBox. `is_moving` allows a coarser picture."""

    def __init__(self) -> None:
        super().__init__()
        self.coloured: Coloured | None = None
        self.marks: Marks = NOTHING
        self.pins: tuple[Pin, ...] = ()
        self.ghost: tuple[Lines, ...] = ()
        self.chosen_pin = ""
        self.placed: tuple[PlacedPin, ...] = ()
        self.is_moving = False
        self.seconds = 0.0
        self._renderer: FlatRenderer | None = None
        self._view: FlatView | None = None
        self._step = 1.0

    @property
    def renderer(self) -> FlatRenderer | None:
        """What rasterises; its ids are those of the last picture."""
        return self._renderer

    @property
    def is_coarse(self) -> bool:
        """Whether the last picture was drawn at half resolution."""
        return self._step > 1.0

    def show_colours(self, coloured: Coloured | None) -> None:
        """Draw another layout, or the same in other colours."""
        mesh = coloured.flat.mesh if coloured else None
        if mesh is None or self._renderer is None or self._renderer.mesh is not mesh:
            self._renderer = FlatRenderer(mesh) if mesh else None
            self.seconds = 0.0
        self.coloured = coloured
        self.update()

    def triangle_at(self, u: float, v: float) -> int:
        """Return the triangle drawn at a place of the texture, or -1."""
        if self._renderer is None or self._view is None:
            return -1
        x = (u - self._view.u) * self._view.scale + self._view.width / 2
        y = self._view.height / 2 - (v - self._view.v) * self._view.scale
        return self._renderer.pick(x, y)

    def boundingRect(self) -> QRectF:
        box = self.getViewBox()
        return QRectF(box.viewRect()) if box is not None else QRectF()

    def viewRangeChanged(self) -> None:
        self.prepareGeometryChange()
        self.update()

    def viewTransformChanged(self) -> None:
        self.prepareGeometryChange()
        self.update()

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionGraphicsItem,
        widget: QWidget | None = None,
    ) -> None:
        box = self.getViewBox()
        if box is None or self.coloured is None or self._renderer is None:
            return
        seen, place = box.viewRect(), box.sceneBoundingRect()
        if seen.width() <= 0 or place.width() < 1 or place.height() < 1:
            return
        ratio = painter.device().devicePixelRatioF()
        begun = time.perf_counter()
        self._step = 2.0 if self.is_moving and self.seconds > FRAME_S else 1.0
        fine = ratio / self._step
        width, height = max(round(place.width() * fine), 1), max(round(place.height() * fine), 1)
        centre = seen.center()
        view = FlatView(centre.x(), centre.y(), self._scale(width / seen.width()), width, height)
        view = view.snapped()
        self._view = view
        image = self._picture(view, fine)
        if self._step == 1.0:
            self.seconds = time.perf_counter() - begun
        painter.save()
        painter.resetTransform()
        painter.setFont(box.font())
        painter.drawImage(place, image)
        self._draw_tiles(painter, view, place)
        self._draw_pins(painter, view, place)
        painter.restore()

    def _scale(self, scale: float) -> float:
        """Keep the last scale to the last bit while the view only moves: see `FlatRenderer`."""
        last = self._view.scale if self._view else 0.0
        return last if abs(scale - last) <= 1e-9 * scale else scale

    def _picture(self, view: FlatView, ratio: float) -> QImage:
        coloured, renderer = self.coloured, self._renderer
        assert coloured is not None
        assert renderer is not None
        paint = flat_paint(
            coloured.flat,
            coloured.look,
            coloured.colours,
            heat=coloured.heat,
            layers=coloured.layers,
            marks=self.marks,
            pixel_ratio=ratio,
        )
        if coloured.look.ellipses and not self.is_moving:
            shapes = ellipses(coloured.flat, view, renderer.ids(view), pixel_ratio=ratio)
            paint = replace(paint, lines=(shapes, *paint.lines))
        paint = replace(paint, lines=(*paint.lines, *self.ghost))
        rgba = renderer.picture(view, paint)
        height, width = rgba.shape[:2]
        return QImage(rgba.data, width, height, 4 * width, QImage.Format.Format_RGBX8888)

    def _draw_pins(self, painter: QPainter, view: FlatView, place: QRectF) -> None:
        """Draw the notes' pins; `placed` tells where they are in the scene."""
        per = place.width() / view.width
        callouts = [
            replace(one, x=place.left() + one.x * per, y=place.top() + one.y * per)
            for one in flat_callouts(self.pins, view)
        ]
        self.placed = placed_pins(callouts, place)
        painter.setClipRect(place)
        draw_pins(painter, self.placed, self.chosen_pin)

    def _draw_tiles(self, painter: QPainter, view: FlatView, place: QRectF) -> None:
        """Frame the tiles in use and write their UDIM numbers."""
        coloured = self.coloured
        if coloured is None:
            return
        per = place.width() / view.width
        scale = view.scale * per
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for column, row in coloured.flat.tiles[:_MOST_TILES]:
            left = place.left() + (view.origin[0] + column * view.scale) * per
            top = place.top() + (view.origin[1] - (row + 1) * view.scale) * per
            painter.setPen(QPen(QColor(255, 255, 255, 96), 1))
            painter.drawRect(QRectF(left, top, scale, scale))
            number = udim.number(column, row)
            if scale >= _LEAST_NUMBERED_PX and number:
                painter.setPen(QColor(255, 255, 255, 170))
                painter.drawText(QPointF(left + 4, top - 5), str(number))
