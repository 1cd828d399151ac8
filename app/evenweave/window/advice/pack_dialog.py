"""The packing what-if: how full the tile could be, at once and after a longer look."""

from __future__ import annotations

import math

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QCloseEvent, QImage, QPixmap
from PySide6.QtWidgets import (
    QDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from evenweave.check.numbers import number, percent
from evenweave.progress import Progress
from evenweave.trial import jobs
from evenweave.trial.pack.longer import pack_longer
from evenweave.trial.pack.pack import Packing, pack
from evenweave.window.advice.pack_options import PackOptionsForm
from evenweave.window.advice.packing_picture import packing_picture
from evenweave.window.parts.image import image_of
from evenweave.window.parts.palette import GRID, tabular
from evenweave.window.parts.prose import paragraph
from evenweave.window.services.session import Session
from evenweave.window.state.lane import Lane

_SIDE = 44 * GRID
OVERLAP_SHARE = 0.01  # of what is covered, from which overlaps tell why islands shrink
_SETTLE_MS = 400  # after the last change of a wish


class PackDialog(QDialog):
    """Packs at once when opened and when a wish changes; looks longer when asked.

    What is shown is always a packing that was placed, its padding measured as the checks do.
    settled() : the running search ended
    """

    settled = Signal()
    _came = Signal(int, object, object)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("Packing what-if"))
        shown, scene = session.shown, session.scene
        assert shown is not None
        assert scene is not None
        self._session, self._shown = session, shown
        self._flat = scene.flats[session.layout_index]
        self._lane: Lane = session.advising.packing
        self._round = 0
        self.best: Packing | None = None
        self.form = PackOptionsForm(shown, shown.limits, session.selection, self)
        self.picture = QLabel(self)
        self.picture.setFixedSize(_SIDE, _SIDE)
        self.picture.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.picture.setAccessibleName(self.tr("Picture of the best packing so far"))
        self.figures = {key: QLabel(self) for key in ("now", "bound", "best", "room", "scale")}
        self.told = paragraph(self)
        self.told.setMinimumHeight(2 * self.fontMetrics().lineSpacing())
        self.bar = QProgressBar(self)
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.bar.setFixedHeight(GRID)
        self.longer = QPushButton(self.tr("&Look longer"), self)
        self.stop = QPushButton(self.tr("&Stop and keep the best"), self)
        self.try_it = QPushButton(self.tr("&Try it"), self)
        self.leave = QPushButton(self.tr("Close"), self)
        self._settle = QTimer(self, interval=_SETTLE_MS, singleShot=True)
        self._settle.timeout.connect(self.pack_now)
        self._arrange()
        self._connect()
        self._show_best(None)
        self.pack_now()

    def _arrange(self) -> None:
        grid = QGridLayout()
        grid.setHorizontalSpacing(2 * GRID)
        names = {
            "now": self.tr("Covered now"),
            "bound": self.tr("No packing exceeds"),
            "best": self.tr("Best so far"),
            "room": self.tr("Padding, margin"),
            "scale": self.tr("Islands become"),
        }
        for row, (key, text) in enumerate(names.items()):
            label = QLabel(text, self)
            label.setProperty("role", "faint")
            grid.addWidget(label, row, 0)
            grid.addWidget(self.figures[key], row, 1)
            self.figures[key].setFont(tabular(self.font()))
        left = QVBoxLayout()
        left.setSpacing(2 * GRID)
        left.addWidget(self.form)
        left.addLayout(grid)
        left.addWidget(self.told)
        left.addStretch(1)
        upper = QHBoxLayout()
        upper.setSpacing(3 * GRID)
        upper.addLayout(left)
        upper.addWidget(self.picture, 0, Qt.AlignmentFlag.AlignTop)
        buttons = QHBoxLayout()
        buttons.setSpacing(GRID)
        for button in (self.longer, self.stop):
            buttons.addWidget(button)
        buttons.addStretch(1)
        for button in (self.leave, self.try_it):
            buttons.addWidget(button)
        column = QVBoxLayout(self)
        column.setSpacing(2 * GRID)
        column.addLayout(upper)
        column.addWidget(self.bar)
        column.addLayout(buttons)
        self.try_it.setDefault(True)

    def _connect(self) -> None:
        self.form.changed.connect(self._on_form_changed)
        self.longer.clicked.connect(self.look_longer)
        self.stop.clicked.connect(self.stop_looking)
        self.try_it.clicked.connect(self._on_try_it_clicked)
        self.leave.clicked.connect(self.reject)
        self._lane.progressed.connect(self._on_lane_progressed)
        self._lane.started.connect(self._enable)
        self._lane.ended.connect(self._on_lane_ended)
        self._lane.failed.connect(self._on_lane_failed)
        self._session.layout_chosen.connect(self.reject)
        self._came.connect(self._on_self_came, Qt.ConnectionType.QueuedConnection)

    # Packing.

    def pack_now(self) -> None:
        """Pack at once."""
        self._begin(is_longer=False)

    def look_longer(self) -> None:
        """Look for a better packing; the best so far is shown as it is found."""
        self._begin(is_longer=True)

    def stop_looking(self) -> None:
        """Stop, and keep the best so far."""
        self._lane.cancel()

    def _begin(self, *, is_longer: bool) -> None:
        self._settle.stop()
        self._round += 1
        ticket, options = self._round, self.form.options(is_longer=is_longer)
        layout, measures, worker = (
            self._shown.layout,
            self._shown.measures,
            self._session.trials.worker,
        )
        self.told.setText("")
        self.bar.setValue(0)

        def found(packing: Packing) -> None:
            picture = packing_picture(self._flat, packing.change, options.tiles, 2 * _SIDE)
            self._came.emit(ticket, packing, image_of(picture))

        def work(progress: Progress) -> None:
            tile, stacks = measures.tile, measures.stacks
            if is_longer:
                pack_longer(
                    layout,
                    tile,
                    options,
                    stacks=stacks,
                    worker=worker,
                    progress=progress,
                    hear=found,
                )
            else:
                found(pack(layout, tile, options, stacks=stacks, progress=progress))

        self._lane.submit(work, lambda _: None)
        self._enable()

    @Slot(int, object, object)
    def _on_self_came(self, ticket: int, packing: Packing, picture: QImage) -> None:
        """Take a packing; of the same wish only if it is better."""
        if ticket == self._round and (self.best is None or packing.scale >= self.best.scale):
            self._show_best(packing, picture)

    def _on_form_changed(self) -> None:
        """Forget what was packed for another wish."""
        self._lane.cancel()
        self._round += 1
        self._show_best(None)
        self._settle.start()

    def _on_lane_progressed(self, share: float, doing: str) -> None:
        self.bar.setValue(round(1000 * share))

    def _on_lane_ended(self) -> None:
        self.bar.setValue(0)
        self._enable()
        self.settled.emit()

    def _on_lane_failed(self, error: Exception) -> None:
        self.told.setText(str(error))

    # What is shown.

    def _show_best(self, packing: Packing | None, picture: QImage | None = None) -> None:
        self.best = packing
        self.figures["now"].setText(percent(self._shown.measures.coverage.total))
        texts = {"bound": "–", "best": "–", "room": "–", "scale": "–"}
        if packing is not None:
            texts = {
                "bound": percent(packing.bound),
                "best": percent(packing.coverage),
                "room": f"{_room(packing.padding_px)}, {_room(packing.margin_px)} px",
                "scale": self.tr("{times} times as large").format(times=number(packing.scale, 4)),
            }
        for key, text in texts.items():
            self.figures[key].setText(text)
        self.told.setText(self._why_smaller(packing))
        if picture is None:
            self.picture.clear()
            return
        pixmap = QPixmap.fromImage(picture).scaled(
            self.picture.size() * self.devicePixelRatioF(),
            Qt.AspectRatioMode.KeepAspectRatio,
            Qt.TransformationMode.SmoothTransformation,
        )
        pixmap.setDevicePixelRatio(self.devicePixelRatioF())
        self.picture.setPixmap(pixmap)
        self._enable()

    def _why_smaller(self, packing: Packing | None) -> str:
        """Say why islands shrink though more of the tile is covered; "" where they do not."""
        measures = self._shown.measures
        if packing is None or packing.scale >= 1:
            return ""
        covered_px = measures.coverage.total * measures.tile.width * measures.tile.height
        if measures.overlap.area_px > OVERLAP_SHARE * covered_px:
            return self.tr("Islands lie on each other now; side by side they need more room.")
        return self.tr("Islands lie closer to each other or to the edge now than is wished.")

    def _enable(self) -> None:
        is_busy = self._lane.is_busy
        self.longer.setEnabled(not is_busy)
        self.stop.setEnabled(is_busy)
        self.bar.setEnabled(is_busy)
        self.try_it.setEnabled(self.best is not None)

    def _on_try_it_clicked(self) -> None:
        best = self.best
        self._lane.cancel()
        self.accept()
        if best is not None:
            self._session.trials.try_out(jobs.packing(self._session.layout_index, best))

    def done(self, result: int) -> None:
        self._settle.stop()
        self._lane.cancel()
        super().done(result)

    def closeEvent(self, event: QCloseEvent) -> None:
        self._lane.cancel()
        super().closeEvent(event)


def _room(texels: float) -> str:
    """Write a distance; there is none between fewer than two islands."""
    return number(texels) if math.isfinite(texels) else "–"
