"""The asset in space: what is shown and marked on it, what is framed, and how it is painted."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QRectF, QSize, Qt, QTimer
from PySide6.QtGui import (
    QColor,
    QPainter,
    QPaintEvent,
    QPalette,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from evenweave.check.finding import Finding
from evenweave.measure.results import WorstSpot
from evenweave.picture.coloured import Coloured
from evenweave.picture.lettering.pins import Pin
from evenweave.picture.painting.painting import NOTHING, Marks
from evenweave.picture.painting.spot_marks import spot_box, spot_normal
from evenweave.raster.camera import Orbit
from evenweave.raster.colour.colours import GROUND
from evenweave.raster.colour.paint import Lines
from evenweave.window.parts.palette import GRID
from evenweave.window.views.framing import Glide
from evenweave.window.views.pins import draw_pins
from evenweave.window.views.solid_picture import SolidPicture

STILL_MS = 140


class SolidPane(QWidget):
    """Shows the asset. Hands are given to it by `SolidView`."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.picture = SolidPicture()
        self._chosen_pin = ""
        self._glide = Glide(self)
        self._still = QTimer(self, interval=STILL_MS, singleShot=True)
        self._still.timeout.connect(self._on_still_timeout)
        self._is_waiting = False
        self._home_wanted = True
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setAccessibleName(self.tr("Object in 3D"))

    # What is shown.

    def show_layout(self, coloured: Coloured | None) -> None:
        """Show another layout's faces in colour; the camera stays unless the asset is another."""
        self.picture.marks = NOTHING
        is_other = self._show(coloured)
        if coloured is not None and is_other:
            self.picture.camera = Orbit(up_axis=coloured.scene.solid.up_axis)
            self.home(is_sudden=True)

    def set_colours(self, coloured: Coloured) -> None:
        """Show the same layout under another look, or measured anew."""
        self._show(coloured)

    def _show(self, coloured: Coloured | None) -> bool:
        was_empty = self.picture.coloured is None
        is_other = self.picture.show(coloured)
        if is_other:
            self._begin_moving()
            self._is_waiting = was_empty and self.picture.is_slow
        self.update()
        return is_other

    def set_selection(self, islands: tuple[int, ...]) -> None:
        """Outline these islands."""
        self._mark(replace(self.picture.marks, selection=islands))

    def set_hover(self, island: int) -> None:
        """Lighten this island; -1 for none."""
        if island != self.picture.marks.hover:
            self._mark(replace(self.picture.marks, hover=island))

    def show_places(self, finding: Finding | None) -> None:
        """Point out a finding's places; None for none."""
        self._mark(replace(self.picture.marks, finding=finding))

    def set_seam(self, row: int) -> None:
        """Point out a seam's edge, by its row; -1 for none."""
        self._mark(replace(self.picture.marks, seam=row))

    def show_spot(self, spot: WorstSpot | None) -> None:
        """Point out one of the worst spots, move there and turn to face it; None for none."""
        self._mark(replace(self.picture.marks, spot=spot))
        coloured, start = self.picture.coloured, self.picture.camera
        if spot is None or coloured is None:
            return
        box = spot_box(coloured.flat, spot)
        normal = spot_normal(coloured.flat, spot)
        start = start if normal is None else start.facing(normal)
        if box is not None:
            self._home_wanted = False
            self._glide_to(start.fitted(*box, self._aspect))

    def set_ghost(self, lines: tuple[Lines, ...]) -> None:
        """Draw where cuts and sews would be."""
        self.picture.ghost = lines
        self.update()

    def set_pins(self, pins: tuple[Pin, ...], chosen: str) -> None:
        """Show the pins of notes whose places can be seen, one of them chosen."""
        self.picture.pins, self._chosen_pin = pins, chosen
        self.update()

    def _mark(self, marks: Marks) -> None:
        """Answer at once; the smoother picture follows."""
        self.picture.marks = marks
        if self.picture.is_smooth:
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
        coloured = self.picture.coloured
        if coloured is None:
            return
        low, high = coloured.scene.solid.bounds(coloured.layout_index, islands)
        self._glide_to(self.picture.camera.fitted(low, high, self._aspect), is_sudden=is_sudden)

    @property
    def _aspect(self) -> float:
        return max(self.width(), 1) / max(self.height(), 1)

    def _glide_to(self, goal: Orbit, *, is_sudden: bool = False) -> None:
        start = self.picture.camera

        def move(share: float) -> None:
            if 0.0 < share < 1.0:
                self._begin_moving()
            self.picture.camera = start.towards(goal, share)
            self.update()

        if is_sudden:
            self._glide.stop()
            move(1.0)
        else:
            self._glide.start(move)

    def frame_places(self, finding: Finding) -> None:
        """Move to a finding's islands."""
        self.frame(finding.islands)

    def _begin_moving(self) -> None:
        self.picture.is_moving = True
        self._still.start()

    def _on_still_timeout(self) -> None:
        self.picture.is_moving = False
        if self.picture.is_stale:
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
        self.picture.camera = self.picture.camera.turned(yaw, pitch)
        self.update()

    def _shift(self, right: float, down: float) -> None:
        self._take_over()
        self.picture.camera = self.picture.camera.shifted(right, down, max(self.height(), 1))
        self.update()

    def _zoom(self, factor: float) -> None:
        self._take_over()
        self.picture.camera = self.picture.camera.zoomed(factor)
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(60 * GRID, 45 * GRID)

    def minimumSizeHint(self) -> QSize:
        return QSize(16 * GRID, 12 * GRID)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        self.picture.size, self.picture.ratio = self.size(), self.devicePixelRatioF()
        image = None if self._is_waiting else self.picture.drawn()
        if image is None:
            painter.fillRect(self.rect(), QColor(*GROUND))
            if self._is_waiting:  # the rest of the window is new as well, and goes first
                QTimer.singleShot(1, self._on_rest_painted)
        else:
            # Smoothly: two by two pixels of a finer picture make one.
            hint = QPainter.RenderHint.SmoothPixmapTransform
            painter.setRenderHint(hint, self.picture.is_smooth)
            painter.drawImage(QRectF(self.rect()), image)
            draw_pins(painter, self.picture.placed, self._chosen_pin)
        if self.hasFocus():
            painter.setPen(QPen(self.palette().color(QPalette.ColorRole.Highlight), 2))
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))
        painter.end()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if self._home_wanted:
            self.home(is_sudden=True)
