"""Rules of importance: which materials, parts or islands deserve more texels, or fewer."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QTableWidget,
    QVBoxLayout,
    QWidget,
)

from evenweave.limits.limits import RULE_KINDS, Importance
from evenweave.pipeline import LayoutReview, Review
from evenweave.window.dialogs.setting_field import NumberBox
from evenweave.window.parts.palette import GRID

KIND, NAME, FACTOR = range(3)
_MOST_NAMES = 2000


class ImportanceTable(QWidget):
    """One rule a row. The later rule goes before an earlier one of its kind."""

    def __init__(
        self,
        review: Review | None,
        layout_review: LayoutReview | None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._names = {
            "material": review.asset.material_names if review else (),
            "part": review.asset.part_names[:_MOST_NAMES] if review else (),
            "island": layout_review.layout.island_name[:_MOST_NAMES] if layout_review else (),
        }
        self._kinds = {
            "material": self.tr("Material"),
            "part": self.tr("Part"),
            "island": self.tr("Island"),
        }
        text = QLabel(
            self.tr(
                "1 is normal; 2 deserves twice the texel density. Names may hold * and ?. "
                "A rule for an island goes before one for its part, and that before its material."
            ),
            self,
        )
        text.setWordWrap(True)
        self.table = QTableWidget(0, 3, self)
        self.table.setAccessibleName(self.tr("Rules of importance"))
        self.table.setHorizontalHeaderLabels(
            [self.tr("Of a"), self.tr("Named"), self.tr("Importance")]
        )
        self.table.verticalHeader().hide()
        self.table.verticalHeader().setDefaultSectionSize(4 * GRID)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setTabKeyNavigation(False)
        header = self.table.horizontalHeader()
        header.setSectionResizeMode(NAME, QHeaderView.ResizeMode.Stretch)
        header.resizeSection(KIND, 14 * GRID)
        header.resizeSection(FACTOR, 16 * GRID)
        self.add = QPushButton(self.tr("&Add a rule"), self)
        self.remove = QPushButton(self.tr("&Remove it"), self)
        row = QHBoxLayout()
        row.addWidget(self.add)
        row.addWidget(self.remove)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setSpacing(GRID)
        column.addWidget(text)
        column.addWidget(self.table, 1)
        column.addLayout(row)
        self.add.clicked.connect(self._on_add_clicked)
        self.remove.clicked.connect(self._on_remove_clicked)

    def show_rules(self, rules: tuple[Importance, ...]) -> None:
        """Fill the table."""
        self.table.setRowCount(0)
        for rule in rules:
            self._append(rule)

    @property
    def rules(self) -> tuple[Importance, ...]:
        """The rules as the table says; rows without a name are left out."""
        rules = []
        for row in range(self.table.rowCount()):
            kind, name = self._box(row, KIND), self._box(row, NAME)
            factor = self.table.cellWidget(row, FACTOR)
            assert isinstance(factor, NumberBox)
            text = name.currentText()
            if text or kind.currentData() == "material":
                rules.append(Importance(kind.currentData(), text, factor.value()))
        return tuple(rules)

    def _append(self, rule: Importance) -> None:
        row = self.table.rowCount()
        self.table.insertRow(row)
        kind = QComboBox(self.table)
        for key in RULE_KINDS:
            kind.addItem(self._kinds[key], key)
        kind.setCurrentIndex(kind.findData(rule.kind))
        name = QComboBox(self.table)
        name.setEditable(True)
        name.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        name.addItems(self._names[rule.kind])
        name.setCurrentText(rule.name)
        factor = NumberBox(3, parent=self.table)
        factor.setRange(0.01, 100.0)
        factor.setValue(rule.factor)
        kind.setAccessibleName(self.tr("Of a"))
        name.setAccessibleName(self.tr("Named"))
        factor.setAccessibleName(self.tr("Importance"))
        for column, widget in ((KIND, kind), (NAME, name), (FACTOR, factor)):
            self.table.setCellWidget(row, column, widget)
        kind.activated.connect(lambda _: self._refill(kind, name))

    def _refill(self, kind: QComboBox, name: QComboBox) -> None:
        text = name.currentText()
        name.clear()
        name.addItems(self._names[kind.currentData()])
        name.setCurrentText(text)

    def _box(self, row: int, column: int) -> QComboBox:
        box = self.table.cellWidget(row, column)
        assert isinstance(box, QComboBox)
        return box

    def _on_add_clicked(self) -> None:
        names = self._names["part"] or ("*",)
        self._append(Importance("part", names[0], 1.0))
        last = self.table.rowCount() - 1
        self.table.selectRow(last)
        self._box(last, NAME).setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_remove_clicked(self) -> None:
        rows = sorted({index.row() for index in self.table.selectedIndexes()}, reverse=True)
        for row in rows:
            self.table.removeRow(row)
