"""The right panel: the layout's findings, and a page that explains the chosen one."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QImage, QPixmap
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from evenweave.check.finding import Finding
from evenweave.picture.place_picture import place_picture
from evenweave.progress import Progress
from evenweave.window.findings.finding_list import FindingList
from evenweave.window.findings.overview import Overview
from evenweave.window.findings.waive_box import WaiveBox
from evenweave.window.parts.gauge import Gauge
from evenweave.window.parts.glyphs import severity_icon, severity_word
from evenweave.window.parts.image import image_of
from evenweave.window.parts.palette import GRID, current, title_font
from evenweave.window.parts.prose import Fold, Section, paragraph, scrolled
from evenweave.window.services.session import Session

_PAGE_MARGIN = 2 * GRID


class Explanation(QWidget):
    """List above, page below; the buttons step through the list and show the place."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.list = FindingList(session, self)
        self.page = FindingPage(session, self)
        self.previous = QPushButton(self.tr("P&revious"), self)
        self.next = QPushButton(self.tr("Ne&xt"), self)
        self.show_place = QPushButton(self.tr("Show the pla&ce"), self)
        self.overview = Overview(session, self)
        self._stack = QStackedWidget(self)
        self.splitter = QSplitter(Qt.Orientation.Vertical, self)
        self._arrange()
        self.previous.clicked.connect(lambda: session.step_finding(-1))
        self.next.clicked.connect(lambda: session.step_finding(1))
        self.show_place.clicked.connect(session.ask_place)
        session.layout_chosen.connect(self._on_session_finding_chosen)
        session.finding_chosen.connect(self._on_session_finding_chosen)
        self._on_session_finding_chosen()

    def _arrange(self) -> None:
        self._scroll = scroll = scrolled(self.page, self)
        self._stack.addWidget(scroll)
        self._stack.addWidget(scrolled(self.overview, self))
        buttons = QHBoxLayout()
        buttons.setContentsMargins(GRID, GRID, GRID, GRID)
        buttons.setSpacing(GRID)
        for button in (self.previous, self.next, self.show_place):
            buttons.addWidget(button)
        lower = QWidget(self)
        column = QVBoxLayout(lower)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self._stack, 1)
        column.addLayout(buttons)
        self.splitter.addWidget(self.list)
        self.splitter.addWidget(lower)
        self.splitter.setChildrenCollapsible(False)
        self.splitter.setStretchFactor(1, 1)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(self.splitter)

    def _draw_place(self, finding: Finding) -> None:
        """Have the small picture drawn; the old one goes when the new one comes."""
        scene = self._session.scene
        if scene is None or not scene.flats[self._session.layout_index].layout.island_count:
            self.page.picture.show_image(None)
            return
        flat, picture = scene.flats[self._session.layout_index], self.page.picture
        ratio = self.devicePixelRatioF()
        width = max(round(picture.WIDTH * ratio), round(self.page.room * ratio))
        height = round(picture.HEIGHT * ratio)

        def work(progress: Progress) -> QImage:
            return image_of(
                place_picture(flat, finding, width=width, height=height, pixel_ratio=ratio)
            )

        self._session.pictures.submit(work, picture.show_image)

    def _on_session_finding_chosen(self) -> None:
        shown, finding = self._session.shown, self._session.finding
        has_findings = bool(shown and shown.findings)
        self.list.setVisible(has_findings)
        self.previous.setEnabled(has_findings)
        self.next.setEnabled(has_findings)
        self.show_place.setEnabled(finding is not None)
        if finding is not None:
            self.page.show_finding(finding)
            self._stack.setCurrentIndex(0)
            self._scroll.verticalScrollBar().setValue(0)
            self._draw_place(finding)
            return
        self._stack.setCurrentIndex(1)


class FindingPage(QWidget):
    """One finding as a page: what, how far, where, why, what to do, how it was measured."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.sign = QLabel(self)
        self.severity = QLabel(self)
        self.title = paragraph(self)
        self.title.setFont(title_font(self.font()))
        self.what = paragraph(self)
        self.gauge = Gauge(self)
        self.picture = PlacePicture(self)
        self.why = Section(self.tr("Why it matters"), self)
        self.do = Section(self.tr("What to do"), self)
        self.waiving = WaiveBox(session, self)
        self.how = Fold(self.tr("How it was measured"), self)
        head = QHBoxLayout()
        head.setSpacing(GRID // 2)
        head.addWidget(self.sign)
        head.addWidget(self.severity, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(*(4 * [_PAGE_MARGIN]))
        column.setSpacing(GRID)
        column.addLayout(head)
        for piece in (self.title, self.what, self.gauge, self.picture, self.why, self.do):
            column.addWidget(piece)
        column.addWidget(self.waiving)
        column.addWidget(self.how)
        column.addStretch(1)

    @property
    def room(self) -> int:
        """Width between the margins."""
        return self.width() - 2 * _PAGE_MARGIN

    def show_finding(self, finding: Finding) -> None:
        """Fill the page."""
        word = severity_word(finding.severity)
        icon = severity_icon(finding.severity, current().severity(finding.severity))
        self.sign.setPixmap(icon.pixmap(QSize(16, 16), self.devicePixelRatioF()))
        self.severity.setText(word)
        self.title.setText(finding.title)
        self.what.setText(finding.what)
        self.gauge.show_finding(finding)
        self.why.show_text(finding.why)
        self.do.show_text(finding.do)
        self.waiving.show_finding(finding)
        self.how.show_text(finding.how)


class PlacePicture(QLabel):
    """A small picture of the finding's place; hidden until there is one."""

    WIDTH, HEIGHT = 28 * GRID, 18 * GRID

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(self.tr("Picture of the place"))
        self.setMinimumHeight(self.HEIGHT)
        self.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.hide()

    def show_image(self, image: QImage | None) -> None:
        """Show the picture, drawn for this screen's pixels."""
        if image is None:
            self.hide()
            return
        pixmap = QPixmap.fromImage(image)
        pixmap.setDevicePixelRatio(self.devicePixelRatioF())
        self.setPixmap(pixmap)
        self.show()
