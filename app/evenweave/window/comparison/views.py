"""Two canvases that look at the same place: side by side, or one of which blinks."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from evenweave.picture.coloured import Coloured
from evenweave.window.comparison.colours import Pair
from evenweave.window.parts.palette import GRID
from evenweave.window.views.canvas import UvCanvas

Islands = tuple[int, ...]

_MOST_ROOM = 0.1
"""Of a tile, shown round islands that are moved to."""


class ComparisonViews(QWidget):
    """Before at the left, after at the right; blinking, the right one shows both in turn.

    old_clicked(island), new_clicked(island) : of the layout shown, -1 for none
    """

    old_clicked = Signal(int)
    new_clicked = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.before, self.after = UvCanvas(self), UvCanvas(self)
        self.before.setAccessibleName(self.tr("UV layout before"))
        self.after.setAccessibleName(self.tr("UV layout after"))
        self._pair = Pair(None, None)
        self._marks: tuple[Islands, Islands] = ((), ())
        self._is_blinking = False
        self._shows_before = False
        self._is_following = False
        self.left, self.left_word = self._panel(self.before)
        self._right, self.right_word = self._panel(self.after)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(GRID // 2)
        row.addWidget(self.left, 1)
        row.addWidget(self._right, 1)
        for canvas, other in ((self.before, self.after), (self.after, self.before)):
            box = canvas.getPlotItem().getViewBox()
            box.sigRangeChanged.connect(lambda *_, a=canvas, b=other: self._follow(a, b))
        self.before.island_clicked.connect(lambda island, _: self.old_clicked.emit(island))
        self.after.island_clicked.connect(self._on_after_island_clicked)
        self._tell()

    def _panel(self, canvas: UvCanvas) -> tuple[QWidget, QLabel]:
        panel, word = QWidget(self), QLabel(self)
        word.setContentsMargins(GRID, 0, 0, 0)
        column = QVBoxLayout(panel)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GRID // 4)
        column.addWidget(word)
        column.addWidget(canvas, 1)
        return panel, word

    @property
    def is_blinking(self) -> bool:
        """Whether one canvas shows both passes in turn."""
        return self._is_blinking

    @property
    def shows_before(self) -> bool:
        """Whether the right canvas shows the older pass now."""
        return self._shows_before

    def show_pair(self, pair: Pair, *, is_other: bool) -> None:
        """Show a layout in colours. is_other : another layout, to be seen as a whole."""
        self._pair = pair
        for canvas, side in ((self.before, pair.before), (self.after, pair.after or pair.before)):
            if is_other or side is None:
                canvas.show_layout(side)
            else:
                canvas.set_colours(side)
        self._show_side()
        if is_other:
            self._show_whole()

    def set_blinking(self, is_blinking: bool) -> None:
        """Show the passes in turn, or side by side."""
        self._is_blinking = is_blinking
        self._shows_before = False
        u0, v0, u1, v1 = self.after.bounds
        self.left.setVisible(not is_blinking)
        self._show_side()
        # The canvas gets another width: what is in its middle is to stay as large.
        middle, half = QPointF((u0 + u1) / 2, (v0 + v1) / 2), min(u1 - u0, v1 - v0) / 2
        seen = QRectF(middle.x() - half, middle.y() - half, 2 * half, 2 * half)
        box = self.after.getPlotItem().getViewBox()
        QTimer.singleShot(0, self.after, lambda: box.setRange(seen, padding=0))

    def blink(self) -> None:
        """Show the other pass."""
        self._shows_before = not self._shows_before
        self._show_side()

    def mark(self, before: Islands, after: Islands, *, is_framed: bool) -> None:
        """Outline islands of both passes, and perhaps move to them."""
        self._marks = before, after
        self.before.set_selection(before)
        self._show_side()
        boxes = [
            box
            for side, islands in ((self._pair.before, before), (self._pair.after, after))
            if side is not None and islands and (box := side.flat.bounds(islands)) is not None
        ]
        if is_framed and boxes:
            low, high = np.array(boxes)[:, :2].min(axis=0), np.array(boxes)[:, 2:].max(axis=0)
            room = min(0.5 * float((high - low).max()), _MOST_ROOM)
            self.after.frame_bounds((low[0] - room, low[1] - room, high[0] + room, high[1] + room))

    def _side(self) -> tuple[Coloured | None, Islands]:
        """What the right canvas shows."""
        pair = self._pair
        if (self._is_blinking and self._shows_before) or pair.after is None:
            return pair.before, self._marks[0]
        return pair.after, self._marks[1]

    def _show_side(self) -> None:
        side, islands = self._side()
        if side is not None:
            self.after.set_selection(())
            self.after.set_hover(-1)
            self.after.set_colours(side)
            self.after.set_selection(islands)
        self._tell()

    def _show_whole(self) -> None:
        """Show the tiles in use of both passes."""
        sides = [side for side in (self._pair.before, self._pair.after) if side is not None]
        if sides:
            boxes = np.array([side.flat.home_bounds for side in sides], dtype=np.float64)
            low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
            bounds = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
            self.after.frame_bounds(bounds, is_sudden=True)

    def _tell(self) -> None:
        before = after = ""
        if self._pair.before is None:
            before = self.tr("Before: there was no such layout")
        elif self._pair.after is None:
            after = self.tr("After: this layout is gone, here it is as it was")
        before, after = before or self.tr("Before"), after or self.tr("After")
        self.left_word.setText(before)
        is_before = self._is_blinking and self._shows_before
        self.right_word.setText(before if is_before else after)

    def _follow(self, moved: UvCanvas, other: UvCanvas) -> None:
        """Keep both canvases at the same place."""
        if self._is_following or not other.isVisible():
            return
        self._is_following = True
        seen = moved.getPlotItem().getViewBox().viewRect()
        other.getPlotItem().getViewBox().setRange(seen, padding=0)
        self._is_following = False

    def _on_after_island_clicked(self, island: int, modifiers: Qt.KeyboardModifier) -> None:
        is_before = self._is_blinking and self._shows_before
        (self.old_clicked if is_before else self.new_clicked).emit(island)
