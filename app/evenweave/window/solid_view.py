"""The 3D view: the whole asset in space, coloured like the canvas, to turn about and pick from."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import numpy as np
from PySide6.QtCore import QEvent, QPoint, QPointF, QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import (
    QColor,
    QContextMenuEvent,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPalette,
    QPen,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from evenweave.check.warning import LayoutWarning
from evenweave.measure.results import WorstSpot
from evenweave.raster.camera import Orbit
from evenweave.raster.colours import GROUND
from evenweave.raster.paint import Lines
from evenweave.raster.solid import SolidRenderer
from evenweave.report.coloured import Coloured
from evenweave.report.painting import NOTHING, Marks, solid_paint
from evenweave.report.pins import Pin, seen_callouts
from evenweave.report.spot_marks import spot_box, spot_normal
from evenweave.window.framing import Glide
from evenweave.window.palette import GRID
from evenweave.window.pins import PlacedPin, draw_pins, pin_at, placed_pins

STILL_MS = 140
FRAME_S = 1 / 45  # a full picture slower than this is drawn coarsely while moving
SMOOTH_S = 0.008  # one faster than this is drawn at twice the resolution when still
_TRIANGLE_S = 3.5e-8  # what a triangle of a large mesh costs in a picture
COARSE, FULL, SMOOTH = 2.0, 1.0, 0.5  # pixels of the display per pixel of the picture
_CLICK_PX = 4.0
_TURN_PER_PX = math.radians(0.4)
_KEY_TURN = math.radians(10)
_ZOOM_STEP = 1.2


class SolidView(QWidget):
    """Shows the asset. Left drag turns, middle or Shift drag moves, the wheel zooms.

    island_hovered(island) : of the layout shown, -1 over none; island_clicked(island, modifiers)
    cursor_moved(u, v, triangle) : u is NaN where the pointer is over no triangle of the layout
    pin_clicked(mark); menu_asked(global position, u, v, triangle, mark of the pin there or "")
    """

    island_hovered = Signal(int)
    island_clicked = Signal(int, Qt.KeyboardModifier)
    cursor_moved = Signal(float, float, int)
    pin_clicked = Signal(str)
    menu_asked = Signal(QPoint, float, float, int, str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.camera = Orbit()
        self.marks: Marks = NOTHING
        self.seconds = 0.0
        self.placed: tuple[PlacedPin, ...] = ()
        self._pins: tuple[Pin, ...] = ()
        self._ghost: tuple[Lines, ...] = ()
        self._chosen_pin = ""
        self._coloured: Coloured | None = None
        self._renderer: SolidRenderer | None = None
        self._glide = Glide(self)
        self._is_moving = False
        self._still = QTimer(self, interval=STILL_MS, singleShot=True)
        self._still.timeout.connect(self._on_still_timeout)
        self._step = FULL
        self._is_waiting = False
        self._home_wanted = True
        self._hovered = -1
        self._pressed: QPointF | None = None
        self._last = QPointF()
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setAccessibleName(self.tr("Object in 3D"))

    # What is shown.

    def show_layout(self, coloured: Coloured | None) -> None:
        """Show another layout's faces in colour; the camera stays unless the asset is another."""
        self.marks = NOTHING
        self._hovered = -1
        is_other = self._show(coloured)
        if coloured is not None and is_other:
            self.camera = Orbit(up_axis=coloured.scene.solid.up_axis)
            self.home(is_sudden=True)

    def set_colours(self, coloured: Coloured) -> None:
        """Show the same layout under another look, or measured anew."""
        self._show(coloured)

    def _show(self, coloured: Coloured | None) -> bool:
        mesh = coloured.scene.solid.mesh if coloured else None
        was_empty = self._renderer is None
        is_other = mesh is None or self._renderer is None or self._renderer.mesh is not mesh
        if is_other:
            self._renderer = SolidRenderer(mesh) if mesh else None
            # Not drawn yet: a guess, so that the first picture of a large mesh is a quick one.
            self.seconds = len(mesh.triangle) * _TRIANGLE_S if mesh else 0.0
            self._begin_moving()
            self._is_waiting = was_empty and self.seconds > FRAME_S
        self._coloured = coloured
        self.update()
        return is_other

    def set_selection(self, islands: tuple[int, ...]) -> None:
        """Outline these islands."""
        self._mark(replace(self.marks, selection=islands))

    def set_hover(self, island: int) -> None:
        """Lighten this island; -1 for none."""
        if island != self.marks.hover:
            self._mark(replace(self.marks, hover=island))

    def show_places(self, warning: LayoutWarning | None) -> None:
        """Point out a warning's places; None for none."""
        self._mark(replace(self.marks, warning=warning))

    def set_seam(self, row: int) -> None:
        """Point out a seam's edge, by its row; -1 for none."""
        self._mark(replace(self.marks, seam=row))

    def show_spot(self, spot: WorstSpot | None) -> None:
        """Point out one of the worst spots, move there and turn to face it; None for none."""
        self._mark(replace(self.marks, spot=spot))
        if spot is None or self._coloured is None:
            return
        box = spot_box(self._coloured.flat, spot)
        normal = spot_normal(self._coloured.flat, spot)
        start = self.camera if normal is None else self.camera.facing(normal)
        if box is not None:
            self._home_wanted = False
            self._glide_to(start.fitted(*box, self._aspect))

    def set_ghost(self, lines: tuple[Lines, ...]) -> None:
        """Draw where cuts and sews would be."""
        self._ghost = lines
        self.update()

    def set_pins(self, pins: tuple[Pin, ...], chosen: str) -> None:
        """Show the pins of notes whose places can be seen, one of them chosen."""
        self._pins, self._chosen_pin = pins, chosen
        self.update()

    def _mark(self, marks: Marks) -> None:
        """Answer at once; the smoother picture follows."""
        self.marks = marks
        if self._step == SMOOTH:
            self._begin_moving()
        self.update()

    # Where one looks from.

    def home(self, *, is_sudden: bool = False) -> None:
        """Show the whole asset."""
        self.frame((), is_sudden=is_sudden)
        self._home_wanted = True

    def frame(self, islands: tuple[int, ...], *, is_sudden: bool = False) -> None:
        """Move to these islands; to the whole asset where there are none."""
        self._home_wanted = False
        if self._coloured is None:
            return
        low, high = self._coloured.scene.solid.bounds(self._coloured.layout_index, islands)
        self._glide_to(self.camera.fitted(low, high, self._aspect), is_sudden=is_sudden)

    @property
    def _aspect(self) -> float:
        return max(self.width(), 1) / max(self.height(), 1)

    def _glide_to(self, goal: Orbit, *, is_sudden: bool = False) -> None:
        start = self.camera

        def move(share: float) -> None:
            if 0.0 < share < 1.0:
                self._begin_moving()
            self.camera = start.towards(goal, share)
            self.update()

        if is_sudden:
            self._glide.stop()
            move(1.0)
        else:
            self._glide.start(move)

    def frame_places(self, warning: LayoutWarning) -> None:
        """Move to a warning's islands."""
        self.frame(warning.islands)

    def _begin_moving(self) -> None:
        self._is_moving = True
        self._still.start()

    def _on_still_timeout(self) -> None:
        self._is_moving = False
        if self._step != self._wanted_step():
            self.update()

    def _on_rest_painted(self) -> None:
        self._is_waiting = False
        self.update()

    def _take_over(self) -> None:
        """A hand moves the camera now."""
        self._home_wanted = False
        self._glide.stop()
        self._begin_moving()

    def _turn(self, yaw: float, pitch: float) -> None:
        self._take_over()
        self.camera = self.camera.turned(yaw, pitch)
        self.update()

    def _shift(self, right: float, down: float) -> None:
        self._take_over()
        self.camera = self.camera.shifted(right, down, max(self.height(), 1))
        self.update()

    def _zoom(self, factor: float) -> None:
        self._take_over()
        self.camera = self.camera.zoomed(factor)
        self.update()

    # The picture.

    @property
    def is_moving(self) -> bool:
        """Whether a hand, or a framing, has moved the camera just now."""
        return self._is_moving

    @property
    def is_coarse(self) -> bool:
        """Whether the last picture was drawn at half resolution."""
        return self._step == COARSE

    def _wanted_step(self) -> float:
        """Coarse while a large mesh moves; smooth when a small one is still."""
        if self._is_moving:
            return COARSE if self.seconds > FRAME_S else FULL
        return SMOOTH if 0.0 < self.seconds < SMOOTH_S else FULL

    def _picture(self) -> QImage | None:
        coloured, renderer = self._coloured, self._renderer
        if coloured is None or renderer is None:
            return None
        begun = time.perf_counter()
        self._step = self._wanted_step()
        ratio = self.devicePixelRatioF() / self._step
        width, height = max(round(self.width() * ratio), 1), max(round(self.height() * ratio), 1)
        paint = solid_paint(
            coloured.scene.solid,
            coloured.flat,
            coloured.look,
            layout_index=coloured.layout_index,
            colours=coloured.whole,
            layers=coloured.layers,
            marks=self.marks,
            pixel_ratio=ratio,
        )
        paint = replace(paint, lines=(*paint.lines, *self._ghost))
        rgba = renderer.picture(self.camera, width, height, paint=paint)
        if self._step == FULL:
            self.seconds = time.perf_counter() - begun
        return QImage(rgba.data, width, height, 4 * width, QImage.Format.Format_RGBX8888)

    def _place_pins(self) -> None:
        """Find where the pins stand; those behind the object are left out."""
        self.placed = ()
        if self._renderer is None or not self._pins:
            return
        ratio = self.devicePixelRatioF() / self._step
        size = max(round(self.width() * ratio), 1), max(round(self.height() * ratio), 1)
        seen = seen_callouts(self._pins, self._renderer, self.camera, size)
        callouts = [replace(one, x=one.x / ratio, y=one.y / ratio) for one in seen]
        self.placed = placed_pins(callouts, QRectF(self.rect()))

    # The pointer.

    def triangle_at(self, position: QPointF) -> int:
        """Return the triangle of the layout shown at a position, or -1."""
        coloured, renderer = self._coloured, self._renderer
        if coloured is None or renderer is None:
            return -1
        ratio = self.devicePixelRatioF() / self._step
        number = renderer.pick(position.x() * ratio, position.y() * ratio)
        first, end = coloured.scene.solid.triangle_start[coloured.layout_index :][:2]
        return number - first if first <= number < end else -1

    def _uv_at(self, position: QPointF, triangle: int) -> tuple[float, float]:
        """Return the texture coordinates under the pointer."""
        coloured = self._coloured
        if coloured is None:
            return math.nan, math.nan
        layout = coloured.flat.layout
        corner = layout.triangle_corner[triangle]
        origin, ray = self.camera.ray(
            position.x(), position.y(), max(self.width(), 1), max(self.height(), 1)
        )
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

    def tiles_per_px(self, triangle: int) -> float:
        """How much of a tile one pixel shows where the pointer is; NaN where none is known."""
        here = self._uv_at(self._last, triangle)
        steps = (self._last + QPointF(1.0, 0.0), self._last + QPointF(0.0, 1.0))
        return max(math.dist(here, self._uv_at(step, triangle)) for step in steps)

    def _island_of(self, triangle: int) -> int:
        coloured = self._coloured
        return int(coloured.flat.triangle_island[triangle]) if coloured and triangle >= 0 else -1

    def _hover(self, island: int) -> None:
        if island != self._hovered:
            self._hovered = island
            self.island_hovered.emit(island)

    def sizeHint(self) -> QSize:
        return QSize(60 * GRID, 45 * GRID)

    def minimumSizeHint(self) -> QSize:
        return QSize(16 * GRID, 12 * GRID)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        image = None if self._is_waiting else self._picture()
        if image is None:
            painter.fillRect(self.rect(), QColor(*GROUND))
            if self._is_waiting:  # the rest of the window is new as well, and goes first
                QTimer.singleShot(1, self._on_rest_painted)
        else:
            # Smoothly: two by two pixels of a finer picture make one.
            hint = QPainter.RenderHint.SmoothPixmapTransform
            painter.setRenderHint(hint, self._step == SMOOTH)
            painter.drawImage(QRectF(self.rect()), image)
            self._place_pins()
            draw_pins(painter, self.placed, self._chosen_pin)
        if self.hasFocus():
            painter.setPen(QPen(self.palette().color(QPalette.ColorRole.Highlight), 2))
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))
        painter.end()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if self._home_wanted:
            self.home(is_sudden=True)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._pressed = self._last = event.position()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        position = event.position()
        way, self._last = position - self._last, position
        buttons = event.buttons()
        is_left = bool(buttons & Qt.MouseButton.LeftButton)
        is_shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if buttons & Qt.MouseButton.MiddleButton or (is_left and is_shift):
            self._shift(way.x(), way.y())
        elif is_left:
            self._turn(-way.x() * _TURN_PER_PX, way.y() * _TURN_PER_PX)
        elif buttons == Qt.MouseButton.NoButton:
            triangle = self.triangle_at(position)
            self._hover(self._island_of(triangle))
            u, v = self._uv_at(position, triangle) if triangle >= 0 else (math.nan, math.nan)
            self.cursor_moved.emit(u, v, triangle)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        pressed, self._pressed = self._pressed, None
        way = event.position() - (pressed or event.position())
        if pressed is None or math.hypot(way.x(), way.y()) > _CLICK_PX:
            return
        triangle = self.triangle_at(event.position())
        mark = pin_at(self.placed, event.position())
        if event.button() == Qt.MouseButton.RightButton:
            u, v = self._uv_at(event.position(), triangle) if triangle >= 0 else (math.nan,) * 2
            self.menu_asked.emit(event.globalPosition().toPoint(), u, v, triangle, mark)
        elif event.button() == Qt.MouseButton.LeftButton and mark:
            self.pin_clicked.emit(mark)
        elif event.button() == Qt.MouseButton.LeftButton:
            self.island_clicked.emit(self._island_of(triangle), event.modifiers())

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Answer the keyboard; a mouse is answered on release."""
        event.accept()
        if event.reason() == QContextMenuEvent.Reason.Keyboard:
            self.menu_asked.emit(event.globalPos(), math.nan, math.nan, -1, "")

    def wheelEvent(self, event: QWheelEvent) -> None:
        self._zoom(_ZOOM_STEP ** (event.angleDelta().y() / 120))
        event.accept()

    def leaveEvent(self, event: QEvent) -> None:
        self._hover(-1)
        self.cursor_moved.emit(math.nan, math.nan, -1)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        turns = {
            Qt.Key.Key_Left: (-1, 0),
            Qt.Key.Key_Right: (1, 0),
            Qt.Key.Key_Up: (0, 1),
            Qt.Key.Key_Down: (0, -1),
        }
        key = Qt.Key(event.key())
        if key in turns and event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            step = 0.08 * self.height()
            self._shift(-turns[key][0] * step, turns[key][1] * step)
        elif key in turns:
            self._turn(turns[key][0] * _KEY_TURN, turns[key][1] * _KEY_TURN)
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self._zoom(_ZOOM_STEP)
        elif key == Qt.Key.Key_Minus:
            self._zoom(1 / _ZOOM_STEP)
        elif key == Qt.Key.Key_Home:
            self.home()
        else:
            super().keyPressEvent(event)
