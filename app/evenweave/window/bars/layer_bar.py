"""The strip below the look bar: the mip level, and what halos and kinds of seams mean."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSlider, QVBoxLayout, QWidget

from evenweave.picture.coloured import Coloured
from evenweave.picture.scene.layers import mip_levels
from evenweave.picture.scene.seam_kinds import SEAM_KINDS, SeamKind, kind_lengths_m
from evenweave.raster.colour.colours import ALERT, PALE
from evenweave.raster.overlay.blocks import Blocks
from evenweave.window.bars.layout_bar import labelled
from evenweave.window.parts import figures
from evenweave.window.parts.flow import FlowLayout
from evenweave.window.parts.palette import GRID, tabular
from evenweave.window.parts.seam_words import kind_word, length_word
from evenweave.window.services.session import Session


class LayerBar(QWidget):
    """Shown while mip blocks, halos or kinds of seams are drawn."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.level = QSlider(Qt.Orientation.Horizontal, self)
        self.level.setAccessibleName(self.tr("Mip level"))
        self.level.setPageStep(1)
        self.level.setTickPosition(QSlider.TickPosition.TicksBelow)
        self.level.setFixedWidth(16 * GRID)
        self.level.setToolTip(
            self.tr("The mip level whose texel blocks are drawn (coarser: U, finer: J).")
        )
        self.blocks = QLabel(self)
        self.blocks.setFont(tabular(self.font()))
        self.mips = QWidget(self)
        row = QHBoxLayout(self.mips)
        row.setContentsMargins(GRID, GRID // 2, GRID, 0)
        row.addWidget(labelled(self.tr("&Mip level"), self.level, self.mips))
        row.addWidget(self.blocks, 1)
        self.halos = QLabel(self)
        self.halos.setContentsMargins(GRID, 0, GRID, 0)
        self.halos.setWordWrap(True)
        self.kinds = QWidget(self)
        flow = FlowLayout(self.kinds)
        self.kind_rows = tuple(KindSample(kind, self.kinds) for kind in SEAM_KINDS)
        for sample in self.kind_rows:
            flow.addWidget(sample)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, GRID // 2)
        column.setSpacing(GRID // 2)
        for part in (self.mips, self.halos, self.kinds):
            column.addWidget(part)
        self.level.valueChanged.connect(self._on_level_value_changed)
        self.show_colours(None)

    def show_colours(self, coloured: Coloured | None) -> None:
        """Say what the views draw."""
        layers = coloured.layers if coloured else None
        has_mips = layers is not None and layers.blocks is not None
        has_halos = layers is not None and layers.halos is not None
        has_kinds = coloured is not None and coloured.look.seam_kinds
        if coloured is not None and layers is not None and layers.blocks is not None:
            self._tell_mips(coloured, layers.blocks)
        if layers is not None and layers.halos is not None:
            self._tell_halos(2 * layers.halos.half_px, layers.halos.margin_px)
        if coloured is not None and has_kinds:
            for sample, length in zip(self.kind_rows, kind_lengths_m(coloured.flat), strict=True):
                sample.tell(length)
        self.mips.setVisible(has_mips)
        self.halos.setVisible(has_halos)
        self.kinds.setVisible(has_kinds)
        self.setVisible(has_mips or has_halos or has_kinds)

    def _tell_mips(self, coloured: Coloured, blocks: Blocks) -> None:
        levels = mip_levels(coloured.flat.review.measures.tile, len(coloured.flat.tiles))
        level = min(max(coloured.look.mip or 0, levels.start), levels.stop - 1)
        self.level.blockSignals(True)
        self.level.setRange(levels.start, levels.stop - 1)
        self.level.setValue(level)
        self.level.blockSignals(False)
        side = figures.count(1 << level)
        bleeding = figures.counted(
            blocks.bleeding,
            self.tr("1 block bleeds"),
            self.tr("{count} blocks bleed"),
        )
        if blocks.bleeding == 0:
            bleeding = self.tr("none bleeds")
        self.blocks.setText(
            self.tr("{level}, blocks of {side} texels: {bleeding}").format(
                level=level, side=side, bleeding=bleeding
            )
        )
        self.blocks.setToolTip(
            self.tr(
                "Blocks of one island take its tone; those that hold several bleed: they are "
                "dark, and crossed when close."
            )
        )

    def _tell_halos(self, padding: float, margin: float) -> None:
        self.halos.setText(
            self.tr(
                "Padding zones: {padding} texels between islands, {margin} to the tile's edge; "
                "dark where two meet"
            ).format(padding=figures.measured(padding), margin=figures.measured(margin))
        )
        self.halos.setToolTip(
            self.tr(
                "Each island has half the required padding round it, so two halos meet where "
                "the gap is too small. What lies in the margin is striped."
            )
        )

    def _on_level_value_changed(self, level: int) -> None:
        self._session.change_look(mip=level)


class KindSample(QWidget):
    """A short piece of a line, and what it stands for."""

    def __init__(self, kind: SeamKind, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._kind = kind
        self.text = QLabel(self)
        self.text.setFont(tabular(self.font()))
        row = QHBoxLayout(self)
        row.setContentsMargins(6 * GRID, 0, 0, 0)
        row.addWidget(self.text)
        self.setToolTip(kind_word(kind.word, is_short=False))

    def tell(self, length_m: float) -> None:
        """Say how much of the kind there is."""
        amount = length_word(length_m) if length_m > 0 else self.tr("none")
        self.text.setText(f"{kind_word(self._kind.word)}, {amount}")

    def sizeHint(self) -> QSize:
        return super().sizeHint().expandedTo(QSize(0, 2 * GRID))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        middle = self.height() / 2
        start, end = QPointF(4, middle), QPointF(5.5 * GRID, middle)
        width = self._kind.width_px
        flat = Qt.PenCapStyle.FlatCap
        painter.setPen(QPen(QColor(*PALE), width + 2.4, Qt.PenStyle.SolidLine, flat))
        painter.drawLine(start, end)
        pen = QPen(QColor(*ALERT), width, Qt.PenStyle.SolidLine, flat)
        if self._kind.dash is not None:
            period, length = self._kind.dash
            pen.setDashPattern([length / width, (period - length) / width])
        painter.setPen(pen)
        painter.drawLine(start, end)
        painter.end()
