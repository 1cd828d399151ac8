"""How grave each check is taken: as it comes, otherwise, or not asked at all."""

from __future__ import annotations

from PySide6.QtWidgets import QComboBox, QGridLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from evenweave.check.catalogue import all_checks
from evenweave.check.finding import Severity
from evenweave.check.texts import title
from evenweave.limits.limits import SEVERITY_WORDS
from evenweave.window.parts.glyphs import severity_icon, severity_word
from evenweave.window.parts.palette import GRID, current


class SeverityTable(QWidget):
    """One row a check, in the order of the catalogue."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        page = QWidget(self)
        grid = QGridLayout(page)
        grid.setHorizontalSpacing(2 * GRID)
        grid.setVerticalSpacing(GRID // 2)
        self.choices: dict[str, QComboBox] = {}
        for row, check in enumerate(all_checks()):
            label = QLabel(title(check.id), page)
            choice = self._choice(check.severity, page)
            choice.setAccessibleName(title(check.id))
            label.setBuddy(choice)
            grid.addWidget(label, row, 0)
            grid.addWidget(choice, row, 1)
            self.choices[check.id] = choice
        grid.setColumnStretch(2, 1)
        scroll = QScrollArea(self)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setWidget(page)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(scroll)

    def _choice(self, own: Severity, parent: QWidget) -> QComboBox:
        choice = QComboBox(parent)
        usual = self.tr("As usual: {word}").format(word=severity_word(own).lower())
        choice.addItem(severity_icon(own, current().severity(own)), usual, "")
        for word in SEVERITY_WORDS:
            if word == "off":
                choice.addItem(self.tr("Not asked"), word)
            else:
                severity = Severity[word.upper()]
                icon = severity_icon(severity, current().severity(severity))
                choice.addItem(icon, severity_word(severity), word)
        return choice

    def show_severities(self, severities: tuple[tuple[str, str], ...]) -> None:
        """Fill the table."""
        given = dict(severities)
        for check, choice in self.choices.items():
            choice.setCurrentIndex(choice.findData(given.get(check, "")))

    @property
    def severities(self) -> tuple[tuple[str, str], ...]:
        """The pairs that differ from the usual."""
        return tuple(
            (check, choice.currentData())
            for check, choice in self.choices.items()
            if choice.currentData()
        )
