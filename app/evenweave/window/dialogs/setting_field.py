"""One limit as a field: a tick, a choice, or a number that may be left to the program."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QLocale
from PySide6.QtWidgets import QCheckBox, QComboBox, QDoubleSpinBox, QHBoxLayout, QLabel, QWidget

from evenweave.limits.limits import kind_of, range_of
from evenweave.window.parts.palette import GRID, tabular

_SPIN_WIDTH = 14 * GRID
_LARGEST = 1e9


def setting_word(name: str) -> str:
    """Return a limit's name for people."""
    tr = QCoreApplication.translate
    return {
        "tile_width": tr("Limits", "Tile width"),
        "tile_height": tr("Limits", "Tile height"),
        "tile_from_texture": tr("Limits", "Size from texture"),
        "udim": tr("Limits", "UDIM tiles"),
        "target_density": tr("Limits", "Target density"),
        "density_unit": tr("Limits", "Written per"),
        "density_octaves": tr("Limits", "Off target"),
        "density_range_octaves": tr("Limits", "Range inside an island"),
        "layout_density_octaves": tr("Limits", "Between layouts"),
        "density_step_octaves": tr("Limits", "Step across a seam"),
        "stretch_p95": tr("Limits", "Stretch, 95 %"),
        "stretch_median": tr("Limits", "Stretch, median"),
        "mirrored": tr("Limits", "Mirrored islands"),
        "overlap_px2": tr("Limits", "Overlap"),
        "padding_px": tr("Limits", "Padding"),
        "margin_px": tr("Limits", "Margin"),
        "mip_level": tr("Limits", "Mip level"),
        "coverage": tr("Limits", "Coverage"),
        "tiny_px": tr("Limits", "Shorter side"),
        "fragment_surface": tr("Limits", "Fragment's surface"),
        "fragment_outline": tr("Limits", "Fragment's outline"),
        "hard_edge_m": tr("Limits", "Hard edges"),
        "bow": tr("Limits", "Bow of strips"),
    }[name]


class SettingField(QWidget):
    """Edits one plain setting of `Limits`; `value` is always one that `Limits` accepts."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._kind, span = kind_of(name), range_of(name)
        self.title, self.meaning = setting_word(name), span.meaning
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(GRID)
        self.tick = QCheckBox(self) if self._kind is bool or span.word else None
        self.choice: QComboBox | None = None
        self.number: NumberBox | None = None
        if span.choices:
            self.choice = QComboBox(self)
            self.choice.addItems(span.choices)
            self._take(self.choice)
        elif self._kind is not bool:
            decimals = 0 if self._kind is int else 6
            self.number = NumberBox(decimals, parent=self)
            self.number.setRange(span.least, min(span.most, _LARGEST))
            self._take(self.number)
            if span.unit:
                self._row.addWidget(QLabel(span.unit, self))
        if self.tick is not None:
            self._take(self.tick)
            if span.word:
                self.tick.setText(span.word)
                self.tick.toggled.connect(self._on_tick_toggled)
        self._row.addStretch(1)

    def _take(self, field: QWidget) -> None:
        field.setAccessibleName(self.title)
        field.setAccessibleDescription(self.meaning)
        self._row.addWidget(field)
        if self.focusProxy() is None:
            self.setFocusProxy(field)

    def _on_tick_toggled(self, is_left_open: bool) -> None:
        assert self.number is not None
        self.number.setEnabled(not is_left_open)

    @property
    def value(self) -> bool | int | float | str | None:
        """What the field says."""
        if self.choice is not None:
            return self.choice.currentText()
        if self.number is None:
            assert self.tick is not None
            return self.tick.isChecked()
        if self.tick is not None and self.tick.isChecked():
            return None
        return int(self.number.value()) if self._kind is int else self.number.value()

    def set_value(self, value: bool | int | float | str | None) -> None:
        """Show a value."""
        if self.choice is not None:
            self.choice.setCurrentText(str(value))
        elif self.number is None:
            assert self.tick is not None
            self.tick.setChecked(bool(value))
        else:
            if self.tick is not None:
                self.tick.setChecked(value is None)
            if value is not None:
                self.number.setValue(float(value))


class NumberBox(QDoubleSpinBox):
    """A number without needless zeros."""

    def __init__(self, decimals: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setDecimals(decimals)
        self.setStepType(QDoubleSpinBox.StepType.AdaptiveDecimalStepType)
        self.setFixedWidth(_SPIN_WIDTH)
        self.setFont(tabular(self.font()))

    def textFromValue(self, value: float) -> str:
        locale = QLocale()
        locale.setNumberOptions(QLocale.NumberOption.OmitGroupSeparator)
        text, point = locale.toString(value, "f", self.decimals()), locale.decimalPoint()
        return text.rstrip("0").rstrip(point) if point in text else text
