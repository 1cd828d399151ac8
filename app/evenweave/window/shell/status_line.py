"""The status bar: what is under the pointer, and the running work with its way out."""

from __future__ import annotations

import math

from PySide6.QtCore import QCoreApplication, Qt, QTimer
from PySide6.QtWidgets import QHBoxLayout, QLabel, QProgressBar, QPushButton, QStatusBar, QWidget

from evenweave.pipeline import LayoutReview
from evenweave.window.parts import figures
from evenweave.window.parts.palette import GRID, tabular
from evenweave.window.services.session import Session

_SHOW_AFTER_MS = 200
_SPOT_MS = 8000


def readout(
    layout_review: LayoutReview, u: float, v: float, triangle: int, unit: str
) -> tuple[str, ...]:
    """Return place, texel, island, density and stretch under the pointer, "" where none is.

    triangle : the layout's triangle there, or -1; unit : "m" or "cm" for the density
    """

    def tr(text: str) -> str:
        return QCoreApplication.translate("Readout", text)

    tile, layout, table = (
        layout_review.measures.tile,
        layout_review.layout,
        layout_review.measures.triangle,
    )
    place = f"u {figures.plain(u, 4)}  v {figures.plain(v, 4)}"
    texel = tr("texel {column}, {row}").format(
        column=math.floor(u * tile.width), row=math.floor(v * tile.height)
    )
    if not 0 <= triangle < len(layout.triangle_face):
        return place, texel, "", "", ""
    island = int(layout.face_island[layout.triangle_face[triangle]])
    name = layout.island_name[island]
    if table.is_degenerate[triangle]:
        return place, texel, name, tr("no usable area"), ""
    s1, s2 = float(table.s1[triangle]), float(table.s2[triangle])
    per = 100 if unit == "cm" else 1
    density = tr("density {value} per {unit}").format(
        value=figures.measured(math.sqrt(s1 * abs(s2)) / per), unit=unit
    )
    stretch = tr("stretch {value}").format(
        value=figures.plain(s1 / abs(s2)) if s2 else figures.UNKNOWN
    )
    if s2 < 0:
        stretch += ", " + tr("flipped")
    return place, texel, name, density, stretch


class StatusLine(QStatusBar):
    """Fields of steady width at the left, progress at the right."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.setSizeGripEnabled(False)
        font = tabular(self.font())
        self.fields = tuple(QLabel(self) for _ in range(5))
        samples = (
            "u 0.0000  v 0.0000",
            self.tr("texel 2048, 2048"),
            self.tr("name of part"),
            self.tr("density 1024 per m"),
            self.tr("stretch 1.00"),
        )
        for field, sample in zip(self.fields, samples, strict=True):
            field.setFont(font)
            field.setMinimumWidth(field.fontMetrics().horizontalAdvance(sample) + GRID)
            self.addWidget(field)
        self._readout: tuple[str, ...] = ("",) * len(self.fields)
        self._seam = ""
        self.busy = BusySign(session, self)
        self.addPermanentWidget(self.busy)

    def tell_cursor(self, u: float, v: float, triangle: int) -> None:
        """Say what is under the pointer; NaN for u clears the line."""
        shown = self._session.shown
        if shown is None or math.isnan(u):
            self._readout = ("",) * len(self.fields)
        else:
            self._readout = readout(shown, u, v, triangle, self._session.limits.density_unit)
        self._show()

    def tell_seam(self, sentence: str) -> None:
        """Say what seam is under the pointer, in place of what the island is there."""
        self._seam = sentence
        self._show()

    def _show(self) -> None:
        place, texel, *about = self._readout
        if self._seam:
            about = [self._seam, "", ""]
        for field, text in zip(self.fields, (place, texel, *about), strict=True):
            field.setText(text)

    def tell_spot(self, sentence: str) -> None:
        """Say which of the worst places is shown; "" for none."""
        if sentence:
            self.showMessage(sentence, _SPOT_MS)
        else:
            self.clearMessage()


class BusySign(QWidget):
    """What is being done, how far it is, and a button to stop it. Shown when work takes long."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.doing = QLabel(self)
        self.bar = QProgressBar(self)
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.bar.setFixedSize(15 * GRID, GRID)
        self.bar.setAccessibleName(self.tr("Progress"))
        self.stop = QPushButton(self.tr("Cancel"), self)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, GRID, 0)
        row.setSpacing(GRID)
        row.addStretch(1)
        row.addWidget(self.doing)
        row.addWidget(self.bar, 0, Qt.AlignmentFlag.AlignVCenter)
        row.addWidget(self.stop)
        self._delay = QTimer(self)
        self._delay.setSingleShot(True)
        self._delay.setInterval(_SHOW_AFTER_MS)
        self._delay.timeout.connect(self.show)
        self.stop.clicked.connect(session.cancel)
        session.lane.started.connect(self._on_lane_started)
        session.lane.progressed.connect(self._on_lane_progressed)
        session.lane.ended.connect(self._on_lane_ended)
        policy = self.sizePolicy()
        policy.setRetainSizeWhenHidden(True)
        self.setSizePolicy(policy)
        self.hide()

    def _on_lane_started(self) -> None:
        self.doing.setText("")
        self.bar.setValue(0)
        self._delay.start()

    def _on_lane_progressed(self, share: float, doing: str) -> None:
        self.doing.setText(doing[:1].upper() + doing[1:])
        self.bar.setValue(round(1000 * share))

    def _on_lane_ended(self) -> None:
        self._delay.stop()
        self.hide()
