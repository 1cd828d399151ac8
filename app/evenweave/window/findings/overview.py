"""The page that stands where a finding is explained while none is chosen: the layout in numbers."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QGridLayout, QLabel, QVBoxLayout, QWidget

from evenweave.check.finding import Severity
from evenweave.check.tile import is_from_texture
from evenweave.layout.unread import unread_sets
from evenweave.pipeline import LayoutReview, Review
from evenweave.window.parts import figures
from evenweave.window.parts.palette import GRID, tabular, title_font
from evenweave.window.parts.words import material_word
from evenweave.window.services.session import Session

UNITS = (1.0, 0.1, 0.01, 0.001, 0.0254, 0.3048)


class Overview(QWidget):
    """Verdict as a title, then facts; the length of a file unit can be changed here."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.title = QLabel(self)
        self.title.setWordWrap(True)
        self.title.setFont(title_font(self.font()))
        self.text = QLabel(self)
        self.text.setWordWrap(True)
        self.text.setProperty("role", "faint")
        self.unit = QComboBox(self)
        self.unit.setAccessibleName(self.tr("Length of one file unit"))
        self.unit_label = QLabel(self.tr("F&ile unit"), self)
        self.unit_label.setBuddy(self.unit)
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(2 * GRID)
        self._grid.setVerticalSpacing(GRID // 2)
        self._grid.setColumnStretch(1, 1)
        self._facts: list[tuple[QLabel, QLabel]] = []
        column = QVBoxLayout(self)
        column.setContentsMargins(2 * GRID, 2 * GRID, 2 * GRID, 2 * GRID)
        column.setSpacing(GRID)
        column.addWidget(self.title)
        column.addWidget(self.text)
        column.addLayout(self._grid)
        column.addStretch(1)
        self.unit.activated.connect(self._on_unit_activated)
        session.layout_chosen.connect(self._on_session_layout_chosen)
        session.notebook.waiving_changed.connect(self._on_session_layout_chosen)
        self._on_session_layout_chosen()

    def _on_session_layout_chosen(self) -> None:
        review, shown = self._session.review, self._session.shown
        for pair in self._facts:
            for label in pair:
                self._grid.removeWidget(label)
                label.hide()
                label.deleteLater()
        self._facts = []
        self.unit.setVisible(shown is not None)
        self.unit_label.setVisible(shown is not None)
        if review is None or shown is None:
            self.title.setText("")
            self.text.setText(self.tr("Findings are explained here once a mesh is open."))
            return
        self.title.setText(self._verdict(shown))
        self.text.setText(
            self.tr("Choose a finding, or an island that has one, to read about it.")
            if shown.findings
            else self.tr("The limits find nothing to remark on this layout.")
        )
        for row, (name, value) in enumerate(self._lines(review, shown)):
            self._add(row, name, value)
        self._show_unit(review)

    def _verdict(self, layout_review: LayoutReview) -> str:
        counts = [
            (Severity.FAULT, self.tr("1 fault"), self.tr("{count} faults")),
            (Severity.WARNING, self.tr("1 warning"), self.tr("{count} warnings")),
            (Severity.NOTE, self.tr("1 remark"), self.tr("{count} remarks")),
        ]
        notebook, found = self._session.notebook, []
        counted = [one for one in layout_review.findings if not notebook.is_waived(one)]
        for severity, one, many in counts:
            number = sum(finding.severity == severity for finding in counted)
            if number:
                found.append(figures.counted(number, one, many))
        if waived := len(layout_review.findings) - len(counted):
            found.append(self.tr("{count} waived").format(count=figures.count(waived)))
        verdict = ", ".join(found) or self.tr("nothing found")
        return f"{material_word(layout_review.layout.name)}: {verdict}"

    def _lines(self, review: Review, layout_review: LayoutReview) -> list[tuple[str, str]]:
        whole, layout = layout_review.measures.whole, layout_review.layout
        per = review.limits.density_unit
        scale = 100 if per == "cm" else 1

        def density(value: float) -> str:
            number = figures.measured(value / scale)
            return self.tr("{value} texels per {unit}").format(value=number, unit=per)

        target_is = (
            self.tr("as given")
            if layout_review.target_is == "given"
            else self.tr("this layout's median")
        )
        faces = figures.count(len(layout.asset_face))
        triangles = figures.count(len(layout.triangle_face))
        facts = [
            (self.tr("Islands"), figures.count(layout.island_count)),
            (
                self.tr("Faces"),
                self.tr("{faces}, as {triangles} triangles").format(
                    faces=faces, triangles=triangles
                ),
            ),
        ]
        facts += self._reading(review, layout_review)
        if layout.island_count == 0:
            return facts
        return [
            *facts,
            (self.tr("Surface"), figures.measured(whole.surface_m2, "m²")),
            (self.tr("Covers"), f"{figures.percent(layout_review.measures.coverage.total)} %"),
            (self.tr("Target"), f"{density(layout_review.target_density)}, {target_is}"),
            (self.tr("Density"), density(whole.density_median)),
            (
                self.tr("Stretch"),
                self.tr("median {median}, 95 % {p95}").format(
                    median=figures.plain(whole.stretch_median),
                    p95=figures.plain(whole.stretch_p95),
                ),
            ),
        ]

    def _reading(self, review: Review, layout_review: LayoutReview) -> list[tuple[str, str]]:
        """Say which textures read the layout, whence its tile is, and which sets are not judged."""
        layout, tile = layout_review.layout, layout_review.measures.tile
        facts = [(self.tr("UV set"), layout.reads())] if layout.slots else []
        if is_from_texture(layout, review.limits):
            size = f"{tile.width} × {tile.height}"
            facts.append((self.tr("Tile"), self.tr("{size}, as its texture").format(size=size)))
        left = unread_sets(review.asset, (one.layout for one in review.layouts))
        if left:
            names = ", ".join(dict.fromkeys(one.uv_set for one in left))
            facts.append((self.tr("Not judged"), names))
        return facts

    def _add(self, row: int, name: str, value: str) -> None:
        label, text = QLabel(name, self), QLabel(value, self)
        label.setProperty("role", "faint")
        text.setWordWrap(True)
        text.setFont(tabular(text.font()))
        text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        top = Qt.AlignmentFlag.AlignTop
        self._grid.addWidget(label, row, 0, top)
        self._grid.addWidget(text, row, 1, top)
        self._facts.append((label, text))

    def _show_unit(self, review: Review) -> None:
        unit = review.asset.unit
        row = len(self._facts)
        self._grid.addWidget(self.unit_label, row, 0)
        self._grid.addWidget(self.unit, row, 1, Qt.AlignmentFlag.AlignLeft)
        stated = self.tr("as the file says") if unit.is_stated else self.tr("assumed")
        self.unit.clear()
        lengths = sorted({unit.metres, *UNITS}, reverse=True)
        for metres in lengths:
            word = f"{metres:g} m"
            self.unit.addItem(f"{word}, {stated}" if metres == unit.metres else word, metres)
        self.unit.setCurrentIndex(lengths.index(unit.metres))

    def _on_unit_activated(self, index: int) -> None:
        self._session.choose_unit(self.unit.itemData(index))
