"""`SeamPointer`: finds the seam under the pointer and shows its twin in both views."""

from __future__ import annotations

import math

from PySide6.QtCore import QObject, Signal

from evenweave.picture.coloured import Coloured
from evenweave.window.parts.seam_words import seam_sentence
from evenweave.window.views.canvas import UvCanvas
from evenweave.window.views.solid_view import SolidView

REACH_PX = 5.0


class SeamPointer(QObject):
    """Watches the pointer over canvas and 3D view. told(sentence) : "" where no seam is near."""

    told = Signal(str)

    def __init__(self, canvas: UvCanvas, solid: SolidView, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._canvas, self._solid = canvas, solid
        self._row = -1
        canvas.cursor_moved.connect(self._on_canvas_cursor_moved)
        solid.cursor_moved.connect(self._on_solid_cursor_moved)

    def clear(self) -> None:
        """Point at no seam."""
        self._show(None, -1)

    def _on_canvas_cursor_moved(self, u: float, v: float, triangle: int) -> None:
        self._look(self._canvas.item.coloured, u, v, self._canvas.tiles_per_px)

    def _on_solid_cursor_moved(self, u: float, v: float, triangle: int) -> None:
        reach = self._solid.tiles_per_px(triangle) if triangle >= 0 else math.nan
        self._look(self._canvas.item.coloured, u, v, reach)

    def _look(self, coloured: Coloured | None, u: float, v: float, tiles_per_px: float) -> None:
        row = -1
        if coloured is not None and math.isfinite(u) and math.isfinite(tiles_per_px):
            found = coloured.flat.finder.nearest(u, v, REACH_PX * tiles_per_px)
            row = found[0] if found else -1
        self._show(coloured, row)

    def _show(self, coloured: Coloured | None, row: int) -> None:
        if row == self._row:
            return
        self._row = row
        self._canvas.set_seam(row)
        self._solid.set_seam(row)
        sentence = seam_sentence(coloured.flat, row) if coloured is not None and row >= 0 else ""
        self.told.emit(sentence)
