"""Every limit on one dialog, with importance and severities; for now or for good."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QMenu,
    QPushButton,
    QScrollArea,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from evenweave.errors import EvenweaveError
from evenweave.limits.file import (
    FILE_NAME,
    FoundLimits,
    save_user_limits,
    user_limits_path,
    write_limits,
)
from evenweave.limits.limits import DEFAULT, SETTINGS, Limits, range_of
from evenweave.window.dialogs.importance_table import ImportanceTable
from evenweave.window.dialogs.setting_field import SettingField
from evenweave.window.dialogs.severity_table import SeverityTable
from evenweave.window.parts.palette import GRID
from evenweave.window.services.session import Session


class LimitsDialog(QDialog):
    """Applies to the session; can also write to the user's own or to a project's file."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._session = session
        self.setWindowTitle(self.tr("Limits"))
        self.fields = {name: SettingField(name, parent=self) for name in SETTINGS}
        shown = session.shown
        self.importance = ImportanceTable(session.review, shown, self)
        self.severities = SeverityTable(self)
        self.tabs = QTabWidget(self)
        self.tabs.addTab(self._settings_page(), self.tr("&Limits"))
        self.tabs.addTab(self.importance, self.tr("I&mportance"))
        self.tabs.addTab(self.severities, self.tr("&Severities"))
        self.source = QLabel(self._source_text(), self)
        self.source.setProperty("role", "faint")
        self.source.setWordWrap(True)
        self.problem = QLabel(self)
        self.problem.setWordWrap(True)
        self.problem.hide()
        column = QVBoxLayout(self)
        column.setSpacing(GRID)
        column.addWidget(self.source)
        column.addWidget(self.tabs, 1)
        column.addWidget(self.problem)
        column.addLayout(self._buttons())
        self.resize(QSize(104 * GRID, 76 * GRID).boundedTo(self.screen().availableSize()))
        self.show_limits(session.limits)

    def _settings_page(self) -> QWidget:
        page = QWidget(self)
        grid = QGridLayout(page)
        grid.setHorizontalSpacing(2 * GRID)
        grid.setVerticalSpacing(GRID)
        group, row = "", 0
        for name, field in self.fields.items():
            if range_of(name).group != group:
                group = range_of(name).group
                heading = QLabel(group, page)
                heading.setProperty("role", "faint")
                heading.setContentsMargins(0, GRID if row else 0, 0, 0)
                grid.addWidget(heading, row, 0, 1, 3)
                row += 1
            label = QLabel(field.title, page)
            label.setBuddy(field)
            meaning = QLabel(field.meaning, page)
            meaning.setProperty("role", "faint")
            meaning.setWordWrap(True)
            top = Qt.AlignmentFlag.AlignTop
            grid.addWidget(label, row, 0, top)
            grid.addWidget(field, row, 1, top)
            grid.addWidget(meaning, row, 2, top)
            row += 1
        grid.setColumnStretch(2, 1)
        scroll = QScrollArea(self)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setWidget(page)
        return scroll

    def _buttons(self) -> QHBoxLayout:
        keep = QPushButton(self.tr("&Keep in a file"), self)
        menu = QMenu(keep)
        menu.addAction(self.tr("As &my own limits, for every file"), self.keep_own)
        menu.addAction(self.tr("As this &project's limits…"), self._on_keep_project)
        keep.setMenu(menu)
        reset = QPushButton(self.tr("&Defaults"), self)
        standard = QDialogButtonBox.StandardButton
        box = QDialogButtonBox(standard.Ok | standard.Cancel | standard.Apply, self)
        row = QHBoxLayout()
        row.addWidget(keep)
        row.addWidget(reset)
        row.addStretch(1)
        row.addWidget(box)
        reset.clicked.connect(lambda: self.show_limits(DEFAULT))
        box.accepted.connect(self._on_box_accepted)
        box.rejected.connect(self.reject)
        box.button(standard.Apply).clicked.connect(self.apply)
        return row

    def _source_text(self) -> str:
        path = self._session.limits_path
        if path == user_limits_path():
            return self.tr("From your own limits, {path}").format(path=path)
        if path is not None:
            return self.tr("From the project's limits, {path}").format(path=path)
        return self.tr("The program's defaults")

    def show_limits(self, limits: Limits) -> None:
        """Fill all fields."""
        self._shown = limits
        shown = self._session.shown
        if shown is not None and math.isfinite(shown.target_density):
            # Where the median is the target, the box beside it shows how much that is.
            self.fields["target_density"].set_value(round(shown.target_density, 1))
        for name, field in self.fields.items():
            field.set_value(getattr(limits, name))
        self.importance.show_rules(limits.importance)
        self.severities.show_severities(limits.severities)

    @property
    def edited(self) -> Limits:
        """The limits as the fields say."""
        values: dict[str, Any] = {name: field.value for name, field in self.fields.items()}
        return replace(
            self._shown,
            **values,
            importance=self.importance.rules,
            severities=self.severities.severities,
        )

    def apply(self) -> None:
        """Judge by what the fields say."""
        self._session.edit_limits(self.edited, self.tr("limits"))

    def _on_box_accepted(self) -> None:
        self.apply()
        self.accept()

    def keep_own(self) -> None:
        """Write the limits as the user's own, and apply them."""
        self._keep(save_user_limits)

    def _on_keep_project(self) -> None:
        review = self._session.review
        folder = review.asset.path.parent if review else Path.home()
        start = str(folder / FILE_NAME)
        name, _ = QFileDialog.getSaveFileName(
            self, self.tr("Keep the project's limits"), start, self.tr("Limits (*.toml)")
        )
        if name:
            self.keep_as(Path(name))

    def _tell(self, problem: EvenweaveError) -> None:
        self.problem.setText(str(problem))
        self.problem.show()

    def keep_as(self, path: Path) -> None:
        """Write the limits to a file, and apply them; say why where it cannot be written."""

        def write(limits: Limits) -> Path:
            write_limits(path, limits)
            return path

        self._keep(write)

    def _keep(self, write: Callable[[Limits], Path]) -> None:
        limits = self.edited
        try:
            path = write(limits)
        except EvenweaveError as problem:
            self._tell(problem)
            return
        self.problem.hide()
        self.apply()
        self._session.take_limits_file(FoundLimits(limits, path))
        self.source.setText(self._source_text())
