"""At the foot of a finding's page: waive it with a reason, or take the waiver back."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from evenweave.check.finding import Finding
from evenweave.notes.waiving import JudgedFinding
from evenweave.window.findings.waived_words import standing_lines
from evenweave.window.parts.palette import GRID
from evenweave.window.services.session import Session


class WaiveBox(QWidget):
    """What is waived of the chosen finding and why; a reason to type where it is open."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._finding: Finding | None = None
        self.heading = QLabel(self.tr("Meant to be so?"), self)
        self.heading.setProperty("role", "faint")
        self.told = QLabel(self)
        self.told.setWordWrap(True)
        self.told.setTextFormat(Qt.TextFormat.PlainText)
        self.told.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.reason = QLineEdit(self)
        self.reason.setAccessibleName(self.tr("Reason for waiving the finding"))
        self.reason.setPlaceholderText(self.tr("Why it may stay"))
        self.waive = QPushButton(self.tr("Waive"), self)
        self.take_back = QPushButton(self.tr("Take back"), self)
        row = QHBoxLayout()
        row.setSpacing(GRID)
        row.addWidget(self.reason, 1)
        row.addWidget(self.waive)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, GRID // 2, 0, 0)
        column.setSpacing(GRID // 2)
        column.addWidget(self.heading)
        column.addWidget(self.told)
        column.addLayout(row)
        column.addWidget(self.take_back, 0, Qt.AlignmentFlag.AlignLeft)
        self.reason.textChanged.connect(self._on_reason_text_changed)
        self.reason.returnPressed.connect(self._on_waive_clicked)
        self.waive.clicked.connect(self._on_waive_clicked)
        self.take_back.clicked.connect(self._on_take_back_clicked)
        session.notebook.waiving_changed.connect(self._show)

    def show_finding(self, finding: Finding) -> None:
        """Speak of another finding."""
        self._finding = finding
        self.reason.clear()
        self._show()

    def begin_writing(self) -> None:
        """Put the cursor where the reason is typed."""
        if self.reason.isVisible():
            self.reason.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _standing(self) -> JudgedFinding | None:
        return self._session.notebook.standing(self._finding)

    def _show(self) -> None:
        standing = self._standing()
        is_waived = standing is not None and standing.is_waived
        shown = self._session.shown
        lines = standing_lines(standing, shown.layout.island_name) if standing and shown else []
        self.told.setText("\n".join(lines))
        self.told.setVisible(bool(lines))
        self.heading.setText(self.tr("Waived") if is_waived else self.tr("Meant to be so?"))
        for one in (self.reason, self.waive):
            one.setVisible(not is_waived)
        self.take_back.setVisible(bool(standing and standing.waivers))
        self._on_reason_text_changed()

    def _on_reason_text_changed(self) -> None:
        is_ready = self._session.notebook.is_ready
        self.waive.setEnabled(bool(self.reason.text().strip()) and is_ready)

    def _on_waive_clicked(self) -> None:
        if self._finding is not None and self.waive.isEnabled():
            self._session.notebook.waive(self._finding, self.reason.text().strip())
            self.reason.clear()

    def _on_take_back_clicked(self) -> None:
        standing = self._standing()
        if standing is not None:
            self._session.notebook.unwaive(standing.waivers)
