"""The fields of a packing what-if: room, turns, what stays, how long to look."""

from __future__ import annotations

import math
from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDoubleSpinBox,
    QFormLayout,
    QSpinBox,
    QWidget,
)

from evenweave.layout import udim
from evenweave.limits.limits import Limits
from evenweave.pipeline import LayoutReview
from evenweave.trial.pack.pack import PackOptions, Turns
from evenweave.window.parts import figures
from evenweave.window.parts.palette import GRID

_ROUNDING = 1e-6  # of a tile, that coordinates may lose when they are written to a file


class PackOptionsForm(QWidget):
    """What is wished; changed() : it is another."""

    changed = Signal()

    def __init__(
        self,
        layout_review: LayoutReview,
        limits: Limits,
        selection: tuple[int, ...],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._shown, self._selection = layout_review, selection
        self.padding = self._texels(limits.required_padding_px)
        self.margin = self._texels(limits.required_margin_px)
        self.turns = QComboBox(self)
        for text, turns in (
            (self.tr("Any angle"), "free"),
            (self.tr("Quarter turns"), "quarter"),
            (self.tr("None"), "none"),
        ):
            self.turns.addItem(text, turns)
        self.turns.setCurrentIndex(1)
        self.grid = QCheckBox(self.tr("Corners on whole te&xels"), self)
        self.pinned = QCheckBox(self.tr("&Keep the selection where it is"), self)
        self.pinned.setText(
            self.tr("&Keep the {count} selected where they are").format(
                count=figures.count(len(selection))
            )
        )
        self.pinned.setVisible(bool(selection))
        self.first = QCheckBox(self.tr("&Important islands first"), self)
        importance = layout_review.island_importance
        self.first.setEnabled(len(set(importance.tolist())) > 1)
        self.first.setChecked(self.first.isEnabled())
        self.grow = QCheckBox(self.tr("Islands may &grow"), self)
        self.grow.setChecked(True)
        self.tiles = QSpinBox(self)
        self.tiles.setRange(1, udim.COLUMNS)
        self.tiles.setValue(
            min(len(layout_review.measures.coverage.tile), udim.COLUMNS)
            if layout_review.udim
            else 1
        )
        self.seconds = QSpinBox(self)
        self.seconds.setRange(2, 600)
        self.seconds.setValue(30)
        self.seconds.setSuffix(self.tr(" s"))
        self._arrange()
        self._connect()

    def _texels(self, value: float) -> QDoubleSpinBox:
        field = QDoubleSpinBox(self)
        field.setRange(0.0, 256.0)
        field.setDecimals(1)
        field.setValue(value)
        field.setSuffix(self.tr(" px"))
        return field

    def _arrange(self) -> None:
        form = QFormLayout(self)
        form.setContentsMargins(0, 0, 0, 0)
        form.setSpacing(GRID)
        form.addRow(self.tr("P&adding"), self.padding)
        form.addRow(self.tr("Ma&rgin"), self.margin)
        form.addRow(self.tr("T&urns"), self.turns)
        form.addRow(self.tr("Ti&les"), self.tiles)
        form.addRow(self.tr("Loo&k for"), self.seconds)
        for box in (self.grid, self.first, self.grow, self.pinned):
            form.addRow(box)

    def _connect(self) -> None:
        for number in (self.padding, self.margin):
            number.valueChanged.connect(self.changed)
        self.tiles.valueChanged.connect(self.changed)
        self.turns.activated.connect(self.changed)
        for box in (self.grid, self.first, self.grow, self.pinned):
            box.toggled.connect(self.changed)

    def options(self, *, is_longer: bool) -> PackOptions:
        """Return what is wished of a packing at once, or of a longer search."""
        tile = self._shown.measures.tile
        rounding_px = _ROUNDING * max(tile.width, tile.height)
        turns: Turns = self.turns.currentData()
        options = PackOptions(
            padding_px=self.padding.value() + 2 * rounding_px,
            margin_px=self.margin.value() + rounding_px,
            turns=turns,
            on_texel_grid=self.grid.isChecked(),
            tiles=tuple((column, 0) for column in range(self.tiles.value())),
            pinned=self._selection if self.pinned.isChecked() else (),
            importance=tuple(self._shown.island_importance.tolist())
            if self.first.isChecked()
            else (),
            most_scale=math.inf if self.grow.isChecked() else 1.0,
        )
        return replace(options, seconds=float(self.seconds.value())) if is_longer else options
