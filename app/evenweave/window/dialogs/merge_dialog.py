"""Which materials share one layout."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from evenweave.window.parts.palette import GRID
from evenweave.window.parts.words import material_word

Groups = tuple[tuple[str, ...], ...]


class MergeDialog(QDialog):
    """One row a layout; selected rows can be put together and taken apart."""

    def __init__(
        self, materials: tuple[str, ...], merged: Groups, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("Materials on one layout"))
        taken = {name for group in merged for name in group}
        self._order = materials
        self._groups: list[tuple[str, ...]] = [*merged]
        self._groups += [(name,) for name in materials if name not in taken]
        self.list = QListWidget(self)
        self.list.setAccessibleName(self.tr("Layouts and their materials"))
        self.list.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.join = QPushButton(self.tr("Put &together"), self)
        self.part = QPushButton(self.tr("Take &apart"), self)
        text = QLabel(
            self.tr("Each row is one layout. Select the materials that share a texture."), self
        )
        text.setWordWrap(True)
        standard = QDialogButtonBox.StandardButton
        buttons = QDialogButtonBox(standard.Ok | standard.Cancel, self)
        row = QHBoxLayout()
        row.addWidget(self.join)
        row.addWidget(self.part)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setSpacing(GRID)
        column.addWidget(text)
        column.addWidget(self.list, 1)
        column.addLayout(row)
        column.addWidget(buttons)
        self.resize(52 * GRID, 48 * GRID)
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        self.join.clicked.connect(self._on_join_clicked)
        self.part.clicked.connect(self._on_part_clicked)
        self.list.itemSelectionChanged.connect(self._on_list_selection_changed)
        self._fill()

    @property
    def merged(self) -> Groups:
        """The groups of more than one material, in the file's order."""
        place = {name: number for number, name in enumerate(self._order)}
        groups = [tuple(sorted(g, key=place.__getitem__)) for g in self._groups if len(g) > 1]
        return tuple(sorted(groups, key=lambda group: place[group[0]]))

    def _fill(self) -> None:
        place = {name: number for number, name in enumerate(self._order)}
        self._groups.sort(key=lambda group: min(place[name] for name in group))
        self.list.blockSignals(True)
        self.list.clear()
        for group in self._groups:
            self.list.addItem(" + ".join(material_word(name) for name in group))
        self.list.blockSignals(False)
        self._on_list_selection_changed()

    def _selected(self) -> list[tuple[str, ...]]:
        return [self._groups[self.list.row(item)] for item in self.list.selectedItems()]

    def _on_list_selection_changed(self) -> None:
        chosen = self._selected()
        self.join.setEnabled(len(chosen) > 1)
        self.part.setEnabled(any(len(group) > 1 for group in chosen))

    def _on_join_clicked(self) -> None:
        chosen = self._selected()
        others = [group for group in self._groups if group not in chosen]
        self._groups = [*others, tuple(name for group in chosen for name in group)]
        self._fill()

    def _on_part_clicked(self) -> None:
        chosen = self._selected()
        others = [group for group in self._groups if group not in chosen]
        self._groups = [*others, *((name,) for group in chosen for name in group)]
        self._fill()
