"""The window's own quiet colours, light and dark, and its two sizes of type."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFont, QGuiApplication, QPainter, QPalette
from PySide6.QtWidgets import QApplication, QStyleFactory

from evenweave.check.finding import Severity

GRID = 8  # pixels; every distance in the window is a multiple or a half of it


@dataclass(frozen=True)
class Palette:
    """Colours by role. `accent` marks what is selected or has the focus, and nothing else."""

    ground: QColor
    raised: QColor
    field: QColor
    line: QColor
    text: QColor
    faint: QColor
    bar: QColor
    accent: QColor
    on_accent: QColor
    note: QColor
    finding: QColor
    fault: QColor

    def severity(self, severity: Severity) -> QColor:
        """Return the colour of a severity's glyph."""
        return {Severity.NOTE: self.note, Severity.WARNING: self.finding}.get(severity, self.fault)


def _colours(*codes: str) -> Palette:
    return Palette(*(QColor(code) for code in codes))


LIGHT = _colours(
    "#f1f0ee", "#f9f8f7", "#ffffff", "#cfccc8", "#23211f", "#66625d",
    "#8f9aa3", "#9224f0", "#ffffff", "#5d6b78", "#9a5b00", "#a8261c",
)  # fmt: skip
DARK = _colours(
    "#26262a", "#2d2d31", "#1f1f22", "#47474e", "#e6e4e1", "#a3a09b",
    "#75818b", "#a457f5", "#ffffff", "#9fb0bf", "#e3a548", "#f0837a",
)  # fmt: skip


_IS_DARK = "evenweave_is_dark"
_APPEARANCE = "evenweave_appearance"


def current() -> Palette:
    """Return the colours that the application wears."""
    application = QGuiApplication.instance()
    return DARK if application is not None and application.property(_IS_DARK) else LIGHT


def title_font(base: QFont) -> QFont:
    """Return the larger of the two sizes of type."""
    font = QFont(base)
    font.setPointSizeF(base.pointSizeF() * 1.2)
    font.setWeight(QFont.Weight.DemiBold)
    return font


def tabular(base: QFont) -> QFont:
    """Return the font with digits of one width, so that columns of numbers line up."""
    font = QFont(base)
    font.setFeature(QFont.Tag("tnum"), 1)
    return font


def fill_selected(painter: QPainter, box: QRectF, *, is_first: bool = True) -> None:
    """Tint a selected row; its first cell has a strong edge at the left."""
    tint = QColor(current().accent)
    tint.setAlphaF(0.2)
    painter.fillRect(box, tint)
    if is_first:
        painter.fillRect(QRectF(box.left(), box.top(), 3, box.height()), current().accent)


def dress(application: QApplication, appearance: str = "") -> None:
    """Give the application our style and colours.

    appearance : "system", "light" or "dark"; "" keeps what was asked for last. Call it again
    when the system's colour scheme changes.
    """
    appearance = appearance or application.property(_APPEARANCE) or "system"
    application.setProperty(_APPEARANCE, appearance)
    system = application.styleHints().colorScheme() == Qt.ColorScheme.Dark
    application.setProperty(_IS_DARK, system if appearance == "system" else appearance == "dark")
    if application.style().name() != "fusion":
        application.setStyle(QStyleFactory.create("Fusion"))
    colours = current()
    application.setPalette(_qt_palette(colours))
    application.setStyleSheet(_style_sheet(colours))


def _qt_palette(colours: Palette) -> QPalette:
    palette = QPalette()
    role = QPalette.ColorRole
    for which, colour in (
        (role.Window, colours.ground),
        (role.WindowText, colours.text),
        (role.Base, colours.field),
        (role.AlternateBase, colours.raised),
        (role.Text, colours.text),
        (role.Button, colours.raised),
        (role.ButtonText, colours.text),
        (role.BrightText, colours.fault),
        (role.ToolTipBase, colours.raised),
        (role.ToolTipText, colours.text),
        (role.PlaceholderText, colours.faint),
        (role.Highlight, colours.accent),
        (role.HighlightedText, colours.on_accent),
        (role.Accent, colours.accent),
        (role.Link, colours.text),
        (role.Mid, colours.line),
    ):
        palette.setColor(which, colour)
    for which in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, which, colours.faint)
    return palette


def _style_sheet(colours: Palette) -> str:
    line, text, faint = colours.line.name(), colours.text.name(), colours.faint.name()
    bar = colours.text.name()
    ground, raised, accent = colours.ground.name(), colours.raised.name(), colours.accent.name()
    return f"""
    QToolTip {{ background: {raised}; color: {text}; border: 1px solid {line}; padding: 4px; }}
    QSplitter::handle {{ background: {ground}; }}
    QSplitter::handle:hover {{ background: {line}; }}
    QHeaderView::section {{ background: {ground}; color: {faint}; border: none;
        border-bottom: 1px solid {line}; padding: 4px 8px; }}
    QTableView, QListView {{ border: none; border-top: 1px solid {line}; }}
    QTableView:focus, QListView:focus {{ border-top: 1px solid {accent}; }}
    QStackedWidget[role="frame"] {{ border: 2px solid transparent; }}
    QStackedWidget[role="frame"][has_focus="true"] {{ border: 2px solid {accent}; }}
    QTableView {{ selection-background-color: transparent; }}
    QDialogButtonBox {{ dialogbuttonbox-buttons-have-icons: 0; }}
    QProgressBar {{ background: {line}; border: none; border-radius: 4px; }}
    QProgressBar::chunk {{ background: {bar}; border-radius: 4px; }}
    QStatusBar::item {{ border: none; }}
    QMenuBar {{ background: {ground}; }}
    QLabel[role="faint"] {{ color: {faint}; }}
    QFrame[role="rule"] {{ background: {line}; border: none; }}
    QWidget[role="strip"] {{ background: {raised}; border-bottom: 1px solid {line}; }}
    QToolButton[role="toggle"] {{ background: {raised}; color: {text}; border: 1px solid {line};
        border-radius: 4px; padding: 3px 8px; }}
    QToolButton[role="toggle"]:hover {{ border-color: {faint}; }}
    QToolButton[role="toggle"]:checked {{ background: {line}; color: {text};
        border-color: {faint}; }}
    QToolButton[role="toggle"]:focus {{ border: 2px solid {accent}; padding: 2px 7px; }}
    QToolButton[role="fold"] {{ border: none; color: {faint}; padding: 4px 0; }}
    QToolButton[role="fold"]:focus {{ color: {text}; border-bottom: 2px solid {accent}; }}
    """
