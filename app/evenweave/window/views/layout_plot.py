"""A layout on a plot with axes in tiles: what is shown and marked on it, and what is framed."""

from __future__ import annotations

from dataclasses import replace

import pyqtgraph as pg
from PySide6.QtCore import QRectF, Qt, QTimer
from PySide6.QtGui import (
    QColor,
)
from PySide6.QtWidgets import QPushButton, QWidget

from evenweave.check.finding import Finding
from evenweave.measure.results import WorstSpot
from evenweave.picture.coloured import Coloured
from evenweave.picture.lettering.pins import Pin
from evenweave.picture.painting.painting import Marks
from evenweave.picture.painting.spot_marks import spot_bounds
from evenweave.picture.scene.places import place_bounds
from evenweave.picture.scene.scene import Bounds
from evenweave.raster.colour.colours import GROUND_OUTSIDE
from evenweave.raster.colour.paint import Lines
from evenweave.window.parts.palette import GRID, current
from evenweave.window.views.canvas_item import LayoutItem
from evenweave.window.views.framing import Glide

STILL_MS = 120  # after the last movement the picture is drawn in full
_ROOM = 0.06  # left free round what is framed
_LEAST_SPAN, _MOST_SPAN = 1e-5, 4e6
_SPOT_SHARE = 0.6  # of an island's size, shown to each side of a noted place


class LayoutPlot(pg.PlotWidget):  # type: ignore[misc]  # pyqtgraph carries no types
    """Shows one layout, its marks and pins. Hands are given to it by `UvCanvas`."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent, background=None)
        self.item = LayoutItem()
        self._glide = Glide(self)
        self._still = QTimer(self, interval=STILL_MS, singleShot=True)
        self._still.timeout.connect(self._on_still_timeout)
        self._home_wanted = True
        self.far = QPushButton(self)
        self.far.setCursor(Qt.CursorShape.PointingHandCursor)
        self.far.clicked.connect(self.show_all)
        self.far.setFlat(True)
        self.far.hide()
        self._far_words = ("", "")
        self._set_up_plot()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(self.tr("UV layout"))
        self.dress()

    def _set_up_plot(self) -> None:
        plot = self.getPlotItem()
        plot.setMenuEnabled(False)
        plot.hideButtons()
        plot.setContentsMargins(0, 0, GRID, GRID // 2)
        box = plot.getViewBox()
        box.setAspectLocked(True)
        box.disableAutoRange()
        box.setDefaultPadding(0.0)
        box.setBackgroundColor(QColor(*GROUND_OUTSIDE))
        box.setLimits(
            minXRange=_LEAST_SPAN, minYRange=_LEAST_SPAN, maxXRange=_MOST_SPAN, maxYRange=_MOST_SPAN
        )
        box.addItem(self.item, ignoreBounds=True)
        box.sigRangeChangedManually.connect(self._on_box_range_changed_manually)
        box.sigResized.connect(self._on_box_resized)
        plot.getAxis("bottom").setLabel("u")
        plot.getAxis("left").setLabel("v")
        for name in ("bottom", "left"):
            plot.getAxis(name).enableAutoSIPrefix(False)
            plot.getAxis(name).setStyle(tickLength=4)

    # What is shown.

    def show_layout(self, coloured: Coloured | None) -> None:
        """Show another layout, whole; None shows nothing."""
        self.item.marks = Marks()
        self.item.show_colours(coloured)
        self._tell_far()
        self.home(is_sudden=True)

    def set_colours(self, coloured: Coloured) -> None:
        """Show the same layout under another look, or measured anew."""
        self.item.show_colours(coloured)
        self._tell_far()

    def set_selection(self, islands: tuple[int, ...]) -> None:
        """Outline these islands."""
        self._mark(replace(self.item.marks, selection=islands))

    def set_hover(self, island: int) -> None:
        """Lighten this island; -1 for none."""
        if island != self.item.marks.hover:
            self._mark(replace(self.item.marks, hover=island))

    def show_places(self, finding: Finding | None) -> None:
        """Point out a finding's places; None for none."""
        self._mark(replace(self.item.marks, finding=finding))

    def set_seam(self, row: int) -> None:
        """Point out both sides of a seam, by its row; -1 for none."""
        self._mark(replace(self.item.marks, seam=row))

    def show_spot(self, spot: WorstSpot | None) -> None:
        """Point out one of the worst spots and move there; None for none."""
        self._mark(replace(self.item.marks, spot=spot))
        if spot is not None and self.item.coloured is not None:
            self.frame_bounds(spot_bounds(self.item.coloured.flat, spot))

    def set_ghost(self, lines: tuple[Lines, ...]) -> None:
        """Draw what could be over what is."""
        self.item.ghost = lines
        self.item.update()

    def set_pins(self, pins: tuple[Pin, ...], chosen: str) -> None:
        """Show the pins of notes, one of them chosen."""
        self.item.pins, self.item.chosen_pin = pins, chosen
        self.item.update()

    def _mark(self, marks: Marks) -> None:
        self.item.marks = marks
        self.item.update()

    def _tell_far(self) -> None:
        coloured = self.item.coloured
        count = coloured.flat.far_islands if coloured else 0
        is_partial = coloured is not None and count < coloured.flat.layout.island_count
        self.far.setVisible(bool(count) and is_partial)
        one = self.tr("One island lies outside the tile: show all")
        many = self.tr("{count} islands lie outside the tile: show all").format(count=count)
        self._far_words = (
            one if count == 1 else many,
            self.tr("{count} outside").format(count=count),
        )
        self.far.setToolTip(self._far_words[0])
        self._place_far()

    def _on_box_resized(self) -> None:
        """The axes took more room, or less: numbers got longer."""
        self._place_far()

    def _place_far(self) -> None:
        """Put the note beside the axis' name, in fewer words where there is little room."""
        box = self.getPlotItem().getViewBox().sceneBoundingRect()
        room = box.width() / 2 - 2 * GRID
        for words in self._far_words:
            self.far.setText(words)
            if self.far.sizeHint().width() <= room:
                break
        self.far.resize(self.far.sizeHint().width(), self.fontMetrics().height() + GRID // 2)
        self.far.move(int(box.left()), self.height() - self.far.height())

    # Where one looks.

    @property
    def bounds(self) -> Bounds:
        """u0, v0, u1, v1 of what is seen."""
        seen = self.getPlotItem().getViewBox().viewRect()
        return seen.left(), seen.top(), seen.right(), seen.bottom()

    @property
    def tiles_per_px(self) -> float:
        """How much of a tile one pixel of the display shows."""
        box = self.getPlotItem().getViewBox()
        return float(box.viewRect().width() / max(box.sceneBoundingRect().width(), 1.0))

    def home(self, *, is_sudden: bool = False) -> None:
        """Show the tiles in use."""
        coloured = self.item.coloured
        if coloured is not None:
            self._home_wanted = True
            self.frame_bounds(coloured.flat.home_bounds, is_sudden=is_sudden)
            self._home_wanted = True

    def show_all(self) -> None:
        """Show every island, however far out."""
        coloured = self.item.coloured
        if coloured is not None:
            self.frame(tuple(range(coloured.flat.layout.island_count)))

    def frame(self, islands: tuple[int, ...]) -> None:
        """Move to these islands; to the whole where there are none."""
        coloured = self.item.coloured
        bounds = coloured.flat.bounds(islands) if coloured and islands else None
        if bounds is None:
            self.home()
        else:
            self.frame_bounds(bounds)

    def frame_places(self, finding: Finding) -> None:
        """Move to where a finding points; to its islands where it names no place."""
        coloured = self.item.coloured
        if coloured is None:
            return
        bounds = place_bounds(coloured.flat, finding)
        if bounds is not None:
            self.frame_bounds(bounds)

    def frame_spot(self, uv: tuple[float, float], island: int) -> None:
        """Move to a place within an island: near enough to see it, with its surroundings."""
        coloured = self.item.coloured
        bounds = coloured.flat.bounds((island,)) if coloured else None
        if bounds is None:
            return
        half = _SPOT_SHARE * max(bounds[2] - bounds[0], bounds[3] - bounds[1])
        self.frame_bounds((uv[0] - half, uv[1] - half, uv[0] + half, uv[1] + half))

    def frame_bounds(self, bounds: Bounds, *, is_sudden: bool = False) -> None:
        """Move so that u0, v0, u1, v1 is seen with a little room."""
        self._home_wanted = False
        goal = self._range_round(bounds)
        box = self.getPlotItem().getViewBox()
        seen = box.viewRect()
        start = (seen.center().x(), seen.center().y(), seen.width(), seen.height())

        def move(share: float) -> None:
            if share >= 1.0:
                box.setRange(goal, padding=0)
                return
            self._begin_moving()
            width = start[2] * (goal.width() / start[2]) ** share
            height = start[3] * (goal.height() / start[3]) ** share
            # The centre moves with the zoom, so that the goal never leaves the picture.
            change = goal.width() - start[2]
            way = (width - start[2]) / change if abs(change) > 1e-9 * start[2] else share
            x = start[0] + (goal.center().x() - start[0]) * way
            y = start[1] + (goal.center().y() - start[1]) * way
            box.setRange(QRectF(x - width / 2, y - height / 2, width, height), padding=0)

        if is_sudden or min(start[2:]) <= 0:
            self._glide.stop()
            move(1.0)
        else:
            self._glide.start(move)

    def _range_round(self, bounds: Bounds) -> QRectF:
        """The range with the ViewBox's own aspect that holds the bounds and some room."""
        u0, v0, u1, v1 = bounds
        place = self.getPlotItem().getViewBox().sceneBoundingRect()
        aspect = max(place.width(), 1.0) / max(place.height(), 1.0)
        width = max(u1 - u0, _LEAST_SPAN) * (1 + 2 * _ROOM)
        height = max(v1 - v0, _LEAST_SPAN) * (1 + 2 * _ROOM)
        width, height = max(width, height * aspect), max(height, width / aspect)
        return QRectF((u0 + u1 - width) / 2, (v0 + v1 - height) / 2, width, height)

    def _begin_moving(self) -> None:
        self._home_wanted = False
        self.item.is_moving = True
        self._still.start()

    def _on_still_timeout(self) -> None:
        self.item.is_moving = False
        if self.item.is_coarse or (self.item.coloured and self.item.coloured.look.ellipses):
            self.item.update()

    def _on_box_range_changed_manually(self) -> None:
        self._glide.stop()
        self._begin_moving()

    def dress(self) -> None:
        """Take the window's colours for the axes."""
        colours = current()
        for name in ("bottom", "left"):
            axis = self.getPlotItem().getAxis(name)
            axis.setPen(pg.mkPen(colours.line))
            axis.setTextPen(pg.mkPen(colours.faint))
