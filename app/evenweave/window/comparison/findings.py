"""The findings of two passes, under what became of them; waived ones apart, with their reasons."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QListWidget, QListWidgetItem, QWidget

from evenweave.compare.comparison import LayoutChange
from evenweave.compare.findings import FindingChange
from evenweave.notes.waiving import JudgedFinding
from evenweave.window.comparison.table import SelectedRowDelegate
from evenweave.window.findings.waived_words import standing_lines, waiver_words
from evenweave.window.parts import figures
from evenweave.window.parts.glyphs import severity_icon
from evenweave.window.parts.palette import GRID, current
from evenweave.window.state.preparation import Pass

_Data = Qt.ItemDataRole.UserRole


class FindingChangeList(QListWidget):
    """Those of one layout.

    finding_chosen(finding)
    """

    finding_chosen = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(self.tr("Findings that changed"))
        self.setItemDelegate(SelectedRowDelegate(self))
        self.setWordWrap(True)
        self.setSpacing(GRID // 4)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.currentItemChanged.connect(self._on_item_changed)

    def show_layout(self, passes: Pass, change: LayoutChange) -> None:
        """List the findings of a layout."""
        self.clear()
        is_open, waived = passes.told
        words = {
            "new": self.tr("New"),
            "grown": self.tr("Worse"),
            "fixed": self.tr("Fixed"),
            "gone": self.tr("Gone with their UVs"),
            "remaining": self.tr("Remaining"),
        }
        for standing, word in words.items():
            found = [
                one for one in is_open.findings
                if one.standing == standing
                and one.layout == (change.old if one.is_past else change.new)
            ]  # fmt: skip
            self._add_heading(word, len(found))
            for finding in found:
                self._add(finding, passes, passes.waiving.by_finding.get(finding.finding))
        apart = [(one, told) for one, told in waived if one.layout == change.new]
        self._add_heading(self.tr("Waived"), len(apart))
        for finding, told in apart:
            self._add(finding, passes, told, reason="; ".join(map(waiver_words, told.waivers)))

    def choose_none(self) -> None:
        """Choose no finding."""
        self.setCurrentRow(-1)
        self.clearSelection()

    def _add_heading(self, word: str, count: int) -> None:
        if count:
            heading = QListWidgetItem(f"{word}  {figures.count(count)}", self)
            heading.setFlags(Qt.ItemFlag.NoItemFlags)

    def _add(
        self, change: FindingChange, passes: Pass, judged: JudgedFinding | None, reason: str = ""
    ) -> None:
        finding, compared = change.finding, passes.comparison
        side = compared.old if change.is_past else compared.new
        names = side.layouts[change.layout].layout.island_name
        where = names[change.islands[0]] if len(change.islands) == 1 else ""
        if len(change.islands) > 1:
            where = self.tr("{count} islands").format(count=figures.count(len(change.islands)))
        text = f"{finding.title}: {where}" if where else finding.title
        icon = severity_icon(finding.severity, current().severity(finding.severity))
        item = QListWidgetItem(icon, f"{text}\n{reason}" if reason else text, self)
        lines = standing_lines(judged, names) if judged is not None else []
        item.setToolTip("\n".join((finding.what, *lines)))
        item.setData(_Data, change)

    def _on_item_changed(self, item: QListWidgetItem | None) -> None:
        finding = item.data(_Data) if item is not None else None
        if isinstance(finding, FindingChange):
            self.finding_chosen.emit(finding)
