"""What an exported picture shall show and how large, with a small proof of it."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QSize, Qt, QTimer, Signal
from PySide6.QtGui import QImage, QPixmap
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from evenweave.picture.pictures import LEAST_SIDE, VIEWS, View
from evenweave.window.parts.palette import GRID

PROOF_WIDTH, PROOF_HEIGHT = 56 * GRID, 36 * GRID
_PROOF_DELAY_MS = 120
SIZES = ((1280, 720), (1920, 1080), (2560, 1440), (3840, 2160))
LARGEST_OFFERED = 8192
MOST_DPI = 2400


@dataclass(frozen=True)
class ExportChoice:
    """What the dialog decides; the rest is as the window shows it.

    is_as_seen : the part and the side that the window shows, else the whole
    has_selection, has_place : mark the selected islands, the chosen warning's place
    has_notes, has_warnings : call out notes and warnings beside their places
    dpi : dots per inch, for whoever prints it
    """

    view: View = "both"
    width: int = 1920
    height: int = 1080
    is_as_seen: bool = False
    has_selection: bool = True
    has_place: bool = True
    has_notes: bool = True
    has_findings: bool = False
    dpi: int = 96


class ExportDialog(QDialog):
    """Chooses a `ExportChoice`.

    proof_asked(choice) : whoever made the dialog answers with `show_proof`
    save_asked(choice), copy_asked(choice)
    """

    proof_asked = Signal(object)
    save_asked = Signal(object)
    copy_asked = Signal(object)

    def __init__(self, choice: ExportChoice, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("Export a picture"))
        self.view = QComboBox(self)
        for view, word in zip(VIEWS, self._view_words(), strict=True):
            self.view.addItem(word, view)
        self.view.setCurrentIndex(VIEWS.index(choice.view))
        self.extent = QComboBox(self)
        self.extent.addItem(self.tr("The whole tile and object"), False)
        self.extent.addItem(self.tr("What the window shows"), True)
        self.extent.setCurrentIndex(int(choice.is_as_seen))
        self.with_selection = QCheckBox(self.tr("Selected &islands"), self)
        self.with_selection.setChecked(choice.has_selection)
        self.with_place = QCheckBox(self.tr("The finding's &place"), self)
        self.with_place.setChecked(choice.has_place)
        self.with_notes = QCheckBox(self.tr("&Notes"), self)
        self.with_notes.setChecked(choice.has_notes)
        self.with_findings = QCheckBox(self.tr("Fin&dings"), self)
        self.with_findings.setChecked(choice.has_findings)
        self.dpi = QSpinBox(self)
        self.dpi.setRange(1, MOST_DPI)
        self.dpi.setValue(choice.dpi)
        self.size_choice = QComboBox(self)
        for width, height in SIZES:
            self.size_choice.addItem(f"{width} × {height}", (width, height))
        self.size_choice.addItem(self.tr("Another size"), None)
        self.width_box, self.height_box = self._side(choice.width), self._side(choice.height)
        self.proof = QLabel(self)
        self.proof.setFixedSize(PROOF_WIDTH, PROOF_HEIGHT)
        self.proof.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.proof.setAccessibleName(self.tr("Proof of the picture"))
        self.problem = QLabel(self)
        self.problem.setWordWrap(True)
        self.problem.hide()
        self.save = QPushButton(self.tr("&Save as…"), self)
        self.copy = QPushButton(self.tr("&Copy"), self)
        self.save.setDefault(True)
        self._delay = QTimer(self)
        self._delay.setSingleShot(True)
        self._delay.setInterval(_PROOF_DELAY_MS)
        self._arrange()
        self._connect()
        self._show_size()
        self._delay.start()

    def _view_words(self) -> tuple[str, ...]:
        return (
            self.tr("UV layout"),
            self.tr("3D view"),
            self.tr("Both, side by side"),
        )

    def _side(self, pixels: int) -> QSpinBox:
        box = QSpinBox(self)
        box.setRange(LEAST_SIDE, LARGEST_OFFERED)
        box.setValue(pixels)
        box.setKeyboardTracking(False)
        return box

    def _arrange(self) -> None:
        self.width_box.setAccessibleName(self.tr("Width in pixels"))
        self.height_box.setAccessibleName(self.tr("Height in pixels"))
        self.dpi.setAccessibleName(self.tr("Dots per inch"))
        sides = QHBoxLayout()
        sides.setSpacing(GRID)
        sides.addWidget(self.width_box)
        sides.addWidget(QLabel("×", self))
        sides.addWidget(self.height_box)
        sides.addWidget(QLabel(self.tr("pixels, at"), self))
        sides.addWidget(self.dpi)
        sides.addWidget(QLabel(self.tr("dots per inch"), self))
        sides.addStretch(1)
        form = QFormLayout()
        form.setSpacing(GRID)
        form.addRow(self.tr("S&how"), self.view)
        form.addRow(self.tr("E&xtent"), self.extent)
        form.addRow(self.tr("Si&ze"), self.size_choice)
        form.addRow("", sides)
        marks = QHBoxLayout()
        marks.addWidget(self.with_selection)
        marks.addWidget(self.with_place)
        marks.addStretch(1)
        form.addRow(self.tr("Marks"), marks)
        labels = QHBoxLayout()
        labels.addWidget(self.with_notes)
        labels.addWidget(self.with_findings)
        labels.addStretch(1)
        form.addRow(self.tr("Labels"), labels)
        note = QLabel(
            self.tr("Title, legend, scale and the findings' numbers are drawn on it."), self
        )
        note.setProperty("role", "faint")
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close, self)
        role = QDialogButtonBox.ButtonRole.ActionRole
        buttons.addButton(self.copy, role)
        buttons.addButton(self.save, role)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.setSpacing(GRID)
        column.addLayout(form)
        column.addWidget(self.proof, 0, Qt.AlignmentFlag.AlignHCenter)
        column.addWidget(note)
        column.addWidget(self.problem)
        column.addWidget(buttons)

    def _connect(self) -> None:
        self.view.currentIndexChanged.connect(self._on_choice_changed)
        self.size_choice.activated.connect(self._on_size_choice_activated)
        self.extent.currentIndexChanged.connect(self._on_choice_changed)
        self.with_selection.toggled.connect(self._on_choice_changed)
        for box in (self.with_place, self.with_notes, self.with_findings):
            box.toggled.connect(self._on_choice_changed)
        self.width_box.valueChanged.connect(self._on_choice_changed)
        self.height_box.valueChanged.connect(self._on_choice_changed)
        self._delay.timeout.connect(lambda: self.proof_asked.emit(self.choice))
        self.save.clicked.connect(lambda: self.save_asked.emit(self.choice))
        self.copy.clicked.connect(lambda: self.copy_asked.emit(self.choice))

    @property
    def choice(self) -> ExportChoice:
        """What the fields say."""
        return ExportChoice(
            view=self.view.currentData(),
            width=self.width_box.value(),
            height=self.height_box.value(),
            is_as_seen=self.extent.currentData(),
            has_selection=self.with_selection.isChecked(),
            has_place=self.with_place.isChecked(),
            has_notes=self.with_notes.isChecked(),
            has_findings=self.with_findings.isChecked(),
            dpi=self.dpi.value(),
        )

    def show_proof(self, image: QImage) -> None:
        """Show a small picture of what will be saved."""
        ratio = self.devicePixelRatioF()
        room = QSize(round(PROOF_WIDTH * ratio), round(PROOF_HEIGHT * ratio))
        keep, smooth = (
            Qt.AspectRatioMode.KeepAspectRatio,
            Qt.TransformationMode.SmoothTransformation,
        )
        pixmap = QPixmap.fromImage(image.scaled(room, keep, smooth))
        pixmap.setDevicePixelRatio(ratio)
        self.proof.setPixmap(pixmap)

    def tell(self, sentence: str) -> None:
        """Say what became of the picture, or why it could not be written."""
        self.problem.setText(sentence)
        self.problem.setVisible(bool(sentence))

    def _show_size(self) -> None:
        size = (self.width_box.value(), self.height_box.value())
        known = size in SIZES
        self.size_choice.setCurrentIndex(SIZES.index(size) if known else len(SIZES))

    def _on_size_choice_activated(self, index: int) -> None:
        size = self.size_choice.itemData(index)
        if size is None:
            self.width_box.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        self.width_box.setValue(size[0])
        self.height_box.setValue(size[1])

    def _on_choice_changed(self) -> None:
        self.tell("")
        self._show_size()
        self._delay.start()
