"""The list of a layout's findings, gravest first, under headings of severity."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from PySide6.QtCore import (
    QAbstractListModel,
    QCoreApplication,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QRectF,
    Qt,
)
from PySide6.QtGui import QKeyEvent, QPainter, QPalette
from PySide6.QtWidgets import (
    QStyleOptionViewItem,
    QWidget,
)

from evenweave.check.finding import Finding, Severity
from evenweave.window.parts import figures
from evenweave.window.parts.following_list import FollowingList, LineDelegate
from evenweave.window.parts.glyphs import draw_severity, severity_heading, severity_word
from evenweave.window.parts.palette import GRID, current, tabular
from evenweave.window.services.session import Session

Index = QModelIndex | QPersistentModelIndex
Role = Qt.ItemDataRole
Row = Finding | tuple[Severity | None, int]
"""A finding, or a heading: the severity (None for waived ones) and how many there are."""

NOWHERE = QModelIndex()


class FindingModel(QAbstractListModel):
    """Headings and findings in one flat list."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._rows: list[Row] = []
        self._place: dict[int, int] = {}
        self._names: tuple[str, ...] = ()

    def show_findings(
        self,
        findings: tuple[Finding, ...],
        names: tuple[str, ...] = (),
        *,
        waived: Collection[Finding] = (),
    ) -> None:
        """Show these findings, which come gravest first, and those waived of them at the end.

        names : of the layout's islands
        """
        self.beginResetModel()
        self._names = names
        self._rows = []
        for severity in (*sorted(Severity, reverse=True), None):
            group = [
                one for one in findings if (None if one in waived else one.severity) == severity
            ]
            if group:
                self._rows += [(severity, len(group)), *group]
        self._place = {id(row): number for number, row in enumerate(self._rows)}
        self.endResetModel()

    def row_at(self, number: int) -> Row | None:
        """Return the row's finding or heading."""
        return self._rows[number] if 0 <= number < len(self._rows) else None

    def place_of(self, finding: Finding | None) -> int:
        """Return the row of a finding, -1 if it is not in the list."""
        return self._place.get(id(finding), -1) if finding is not None else -1

    def subject_of(self, finding: Finding) -> str:
        """Return the island a finding speaks of, or how many."""
        number = len(finding.islands)
        if number == 1:
            return self._names[finding.islands[0]]
        return self.tr("{count} islands").format(count=figures.count(number)) if number else ""

    def rowCount(self, parent: Index = NOWHERE) -> int:
        return 0 if parent.isValid() else len(self._rows)

    def flags(self, index: Index) -> Qt.ItemFlag:
        if isinstance(self.row_at(index.row()), Finding):
            return Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        return Qt.ItemFlag.NoItemFlags

    def data(self, index: Index, role: int = Role.DisplayRole) -> Any:
        row = self.row_at(index.row())
        if row is None:
            return None
        if isinstance(row, tuple):
            severity, number = row
            if role in (Role.DisplayRole, Role.AccessibleTextRole):
                word = self.tr("Waived") if severity is None else severity_heading(severity)
                return f"{word}  {figures.count(number)}"
            return None
        if role == Role.DisplayRole:
            return row.title
        if role == Role.AccessibleTextRole:
            return f"{severity_word(row.severity)}: {row.title}, {self.subject_of(row)}"
        if role == Role.ToolTipRole:
            return row.what
        return None


class _FindingDelegate(LineDelegate):
    """A heading in faint type; a finding with its sign."""

    def __init__(self, model: FindingModel, parent: QObject) -> None:
        super().__init__(parent)
        self._model = model

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        row = self._model.row_at(index.row())
        painter.save()
        box = QRectF(option.rect)
        colours, qt = current(), option.palette
        ink = qt.color(QPalette.ColorRole.Text)
        text = str(index.data(Role.DisplayRole))
        inner = box.adjusted(GRID, 0, -GRID, 0)
        painter.setFont(tabular(painter.font()))
        if not isinstance(row, Finding):
            ink = colours.faint
            inner.setTop(inner.top() + GRID // 2)
        else:
            self.draw_ground(painter, option)
            sign = QRectF(inner.left(), inner.center().y() - 5.5, 11, 11)
            draw_severity(painter, sign, row.severity, colour=colours.severity(row.severity))
            inner.setLeft(inner.left() + 2.5 * GRID)
            subject = self._model.subject_of(row)
            room = inner.width() - painter.fontMetrics().horizontalAdvance(text) - 2 * GRID
            subject = painter.fontMetrics().elidedText(
                subject, Qt.TextElideMode.ElideMiddle, max(int(room), 0)
            )
            painter.setPen(colours.faint)
            painter.drawText(
                inner, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, subject
            )
        painter.setPen(ink)
        cut = painter.fontMetrics().elidedText(
            text, Qt.TextElideMode.ElideRight, int(inner.width())
        )
        painter.drawText(inner, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, cut)
        painter.restore()


class FindingList(FollowingList):
    """Keeps step with the session's chosen finding."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        self._session = session
        self._model = FindingModel()
        super().__init__(self._model, QCoreApplication.translate("WarningList", "Findings"), parent)
        self._model.setParent(self)
        self.setItemDelegate(_FindingDelegate(self._model, self))
        session.layout_chosen.connect(self._on_session_layout_chosen)
        session.notebook.waiving_changed.connect(self._on_notebook_waiving_changed)
        session.finding_chosen.connect(self._on_session_finding_chosen)
        self.doubleClicked.connect(session.ask_place)

    def _on_session_layout_chosen(self) -> None:
        shown = self._session.shown
        with self.following():
            if shown is None:
                self._model.show_findings(())
                return
            waived = {one for one in shown.findings if self._session.notebook.is_waived(one)}
            self._model.show_findings(shown.findings, shown.layout.island_name, waived=waived)

    def _on_notebook_waiving_changed(self) -> None:
        """List the findings anew and stay at the chosen one."""
        self._on_session_layout_chosen()
        self._on_session_finding_chosen()

    def _on_session_finding_chosen(self) -> None:
        self.follow(self._model.place_of(self._session.finding))

    def currentChanged(self, current: Index, previous: Index) -> None:
        super().currentChanged(current, previous)
        row = self._model.row_at(current.row())
        if isinstance(row, Finding) and not self.is_following:
            self._session.choose_finding(row)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._session.ask_place()
        else:
            super().keyPressEvent(event)
