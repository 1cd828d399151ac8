"""The window: menus, bars, islands at the left, views in the middle, explanation at the right."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from PySide6.QtCore import QCoreApplication, QSize, Qt
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QShowEvent
from PySide6.QtWidgets import QMainWindow, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from evenweave.check.finding import Severity
from evenweave.errors import EvenweaveError
from evenweave.window.actions.actions import Actions
from evenweave.window.advice.advice_panel import AdvicePanel
from evenweave.window.advice.trial_actions import TrialActions
from evenweave.window.advice.trial_bar import TrialBar
from evenweave.window.advice.trial_dialogs import TrialDialogs
from evenweave.window.comparison.comparing import Comparing
from evenweave.window.dialogs.dialogs import Dialogs
from evenweave.window.dialogs.picture_export import PictureExport
from evenweave.window.dialogs.review_export import ReviewExport
from evenweave.window.findings.explanation import Explanation
from evenweave.window.islands.island_table import IslandTable
from evenweave.window.notes.notes_panel import NotesPanel
from evenweave.window.notes.noting import Noting
from evenweave.window.parts.palette import GRID
from evenweave.window.parts.words import material_word
from evenweave.window.services.session import Session
from evenweave.window.shell.drift_notice import DriftNotice
from evenweave.window.shell.note_actions import NoteActions
from evenweave.window.shell.notices import Notices
from evenweave.window.shell.pass_actions import PassActions
from evenweave.window.shell.pass_notices import PassNotices
from evenweave.window.shell.side_panel import NOTES, SidePanel
from evenweave.window.shell.start_page import StartPage
from evenweave.window.shell.status_line import StatusLine
from evenweave.window.shell.window_actions import WindowActions
from evenweave.window.state.island_rows import DENSITY, NAME, STRETCH, SURFACE, TEXELS, WARNINGS
from evenweave.window.state.settings import Settings
from evenweave.window.views.layout_bar import LayoutBar
from evenweave.window.views.look_bar import LookBar
from evenweave.window.views.views import Views

_FIRST_SIZE = QSize(180 * GRID, 110 * GRID)
_FRAME = QSize(2 * GRID, 6 * GRID)  # what the desktop may put around a window
_SIZES = (55 * GRID, 64 * GRID, 40 * GRID)
_NARROW_SIZES = (40 * GRID, 52 * GRID, 35 * GRID)
_ROOMY = 150 * GRID
_EXPLANATION_SIZES = (32 * GRID, 48 * GRID)
_REMARKS_SHOWN = 3
_MESSAGE_MS = 8000
_VIEW_SIZES = (40 * GRID, 32 * GRID)


class MainWindow(QMainWindow):
    """Puts the parts together and remembers how they were."""

    def __init__(self, session: Session, settings: Settings) -> None:
        super().__init__()
        self.session, self._settings = session, settings
        self._was_shown = False
        session.setParent(self)
        self.setObjectName("main_window")
        self.setAcceptDrops(True)
        self.commands = Actions(session, self)
        self.dialogs = Dialogs(session, settings, self)
        look_bar = LookBar(
            session, self.commands.checker, (*self.commands.toggles, self.commands.mips), self
        )
        self.views = Views(session, look_bar, self)
        self.pictures = PictureExport(session, settings, self.views, window=self)
        self.own = WindowActions(
            self.commands, self.dialogs, self.pictures, settings=settings, window=self
        )
        self.start = StartPage(self)
        self.notices = Notices(self)
        self.passes = PassNotices(session, settings, self.notices, window=self)
        self.comparing = Comparing(session, self)
        self.review_export = ReviewExport(session, settings, self)
        self.table = IslandTable(session, self)
        self.explanation = Explanation(session, self)
        self.notes = NotesPanel(session.notebook, self)
        self.advice = AdvicePanel(session, self)
        self.side = SidePanel(session, self.explanation, self.notes, self.advice, self)
        self.trial_dialogs = TrialDialogs(session, self)
        self.trial_actions = TrialActions(self.commands, self.trial_dialogs, self)
        self.trial_bar = TrialBar(session, self.trial_actions.bar, self)
        self.noting = Noting(session, self.views, self)
        self.drift = DriftNotice(
            session.notebook, self.notices, partial(self.side.show_page, NOTES), self
        )
        self.layout_bar = LayoutBar(session, (self.own.merge, self.own.limits, self.own.export))
        self.status = StatusLine(session, self)
        self.setStatusBar(self.status)
        self._arrange()
        self._add_panels()
        self._connect()
        self._restore()
        self._on_session_review_replaced()

    def _arrange(self) -> None:
        self.splitter = QSplitter(Qt.Orientation.Horizontal, self)
        for panel in (self.table, self.views, self.side):
            self.splitter.addWidget(panel)
        self.splitter.setChildrenCollapsible(False)
        self.splitter.setStretchFactor(1, 1)
        self.table.setMinimumWidth(28 * GRID)
        self.views.setMinimumWidth(46 * GRID)
        self.side.setMinimumWidth(31 * GRID)
        self._pages = QStackedWidget(self)
        self._pages.addWidget(self.start)
        self._pages.addWidget(self.splitter)
        whole = QWidget(self)
        column = QVBoxLayout(whole)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.layout_bar)
        column.addWidget(self.notices)
        column.addWidget(self.trial_bar)
        column.addWidget(self._pages, 1)
        self.setCentralWidget(whole)
        self.setMinimumSize(110 * GRID, 64 * GRID)
        self.resize(_FIRST_SIZE.boundedTo(self.screen().availableSize() - _FRAME))

    def _add_panels(self) -> None:
        own = self.own
        own.add_panel("islands", self.tr("&Islands"), self.table)
        own.add_panel("canvas", self.tr("UV &layout"), self.views.canvas_panel)
        own.add_panel("solid", self.tr("3&D view"), self.views.solid_panel)
        own.add_panel("explanation", self.tr("E&xplanation and notes"), self.side)
        self.beside = own.add_panel_action(self.tr("Views &beside"), lambda: None, "F7")
        self.beside.setCheckable(True)
        step = own.add_panel_action(self.tr("&Next panel"), self._on_step_triggered, "F6")
        find = own.add_panel_action(self.tr("&Find islands"), self._on_find_triggered, "Ctrl+F")
        self._add_sorting()
        own.add_walk(self.views.walk)
        self.note_actions = NoteActions(
            self.commands,
            self.noting,
            self.notes,
            side=self.side,
            waive_box=self.explanation.page.waiving,
        )
        own.fill(self.menuBar(), [self.beside, step, find])
        self.pass_actions = PassActions(
            self.commands, self._settings, self.comparing.ask, self.review_export, window=self
        )
        self.pass_actions.fill(own.file_menu, reread=own.reread, copy=own.copy)
        self.note_actions.fill(self.menuBar(), before=self.menuBar().actions()[-1])
        self.trial_actions.fill(self.menuBar(), before=self.menuBar().actions()[-1])

    def _add_sorting(self) -> None:
        for column, text, key in (
            (NAME, self.tr("By &name"), "Shift+N"),
            (WARNINGS, self.tr("By &warnings"), "Shift+W"),
            (STRETCH, self.tr("By &stretch"), "Shift+S"),
            (DENSITY, self.tr("By &density"), "Shift+D"),
            (SURFACE, self.tr("By s&urface"), "Shift+U"),
            (TEXELS, self.tr("By &texels"), "Shift+T"),
        ):
            self.own.add_sorting(text, partial(self.table.view.sort_by, column), key)

    def _connect(self) -> None:
        session = self.session
        turns, panels = self.views.turns, (self.table, self.side)
        self.trial_bar.room_changed.connect(
            lambda: turns.hold((self.views.canvas, self.views.solid, *panels))
        )
        session.review_replaced.connect(self._on_session_review_replaced)
        session.layout_chosen.connect(self._on_session_layout_chosen)
        session.problem_met.connect(self._on_session_problem_met)
        session.lane.started.connect(self._on_lane_turned)
        session.lane.ended.connect(self._on_lane_turned)
        self.pictures.told.connect(self._on_pictures_told)
        self.passes.told.connect(self._on_pictures_told)
        self.passes.comparison_asked.connect(self.comparing.show)
        self.comparing.told.connect(self._on_pictures_told)
        self.comparing.failed.connect(self._on_session_problem_met)
        self.review_export.told.connect(self._on_pictures_told)
        self.review_export.failed.connect(self._on_session_problem_met)
        self.noting.told.connect(self._on_pictures_told)
        self.pictures.failed.connect(self._on_session_problem_met)
        self.trial_dialogs.told.connect(self._on_pictures_told)
        self.trial_dialogs.failed.connect(self._on_session_problem_met)
        self.trial_dialogs.saved.connect(lambda: self.notices.drop("problem"))
        self.advice.tile.pack_asked.connect(self.trial_dialogs.ask_pack)
        session.may_leave = self.trial_dialogs.may_leave
        session.trials.changed.connect(lambda: self.notices.drop("trial"))
        session.trials.said.connect(self._on_trials_said)
        self.views.cursor_moved.connect(self.status.tell_cursor)
        self.views.seams.told.connect(self.status.tell_seam)
        self.views.walk.told.connect(self.status.tell_spot)
        self.beside.toggled.connect(self.views.set_beside)
        self.start.open_asked.connect(self.dialogs.open_file)
        self.start.sample_asked.connect(self.dialogs.open_sample)
        self.start.file_asked.connect(session.open)

    def _restore(self) -> None:
        geometry = self._settings.state("geometry")
        if geometry is not None:
            self.restoreGeometry(geometry)
        self.beside.setChecked(self._settings.flag("beside", False))
        for name, toggle in self.own.panels.items():
            toggle.setChecked(self._settings.flag(f"panel_{name}", True))

    def _restore_splitters(self) -> None:
        """Give splitters the sizes they had, once the window has its own."""
        self.splitter.setSizes(list(_SIZES if self.width() >= _ROOMY else _NARROW_SIZES))
        self.explanation.splitter.setSizes(list(_EXPLANATION_SIZES))
        self.views.splitter.setSizes(list(_VIEW_SIZES))
        for name, splitter in self._splitters().items():
            self._settings.restore_splitter(name, splitter)

    def _splitters(self) -> dict[str, QSplitter]:
        views = "views_beside" if self.beside.isChecked() else "views_above"
        return {
            "columns": self.splitter,
            views: self.views.splitter,
            "explanation": self.explanation.splitter,
            "notes": self.notes.splitter,
        }

    def remember(self) -> None:
        """Keep geometry, splitters, hidden panels and look for the next sitting."""
        self._settings.remember_state("geometry", self.saveGeometry())
        self._settings.remember_flag("beside", self.beside.isChecked())
        for name, splitter in self._splitters().items():
            self._settings.remember_state(name, splitter.saveState())
        for name, toggle in self.own.panels.items():
            self._settings.remember_flag(f"panel_{name}", toggle.isChecked())
        self._settings.remember_look(self.session.look)
        self._settings.flush()

    def _on_session_review_replaced(self) -> None:
        review, was_empty = self.session.review, self._pages.currentIndex() == 0
        self._pages.setCurrentIndex(0 if review is None else 1)
        panels = (self.table, self.side)
        self.views.turns.hold((self.views.canvas, *panels) if was_empty else panels)
        self.layout_bar.setVisible(review is not None)
        self.setWindowTitle(self.tr("Evenweave"))
        if review is not None:
            path = review.asset.path
            self._settings.remember_file(path)
            self.setWindowTitle(self.tr("{file} – Evenweave").format(file=path.name))
            self.notices.drop("problem")
            self._tell_remarks(review.asset.remarks)
        recent = self._settings.recent
        self.start.show_recent(recent)
        self.own.show_recent(recent)

    def _on_lane_turned(self) -> None:
        opening = self.session.opening
        self.start.show_opening(opening.name if opening else "")

    def _tell_remarks(self, remarks: tuple[str, ...]) -> None:
        self.notices.drop("remarks")
        if remarks:
            self.notices.tell("remarks", Severity.NOTE, _few(remarks))

    def _on_session_layout_chosen(self) -> None:
        self.notices.drop("tiling")
        shown = self.session.shown
        if shown is not None and shown.looks_tiling and shown.purpose == "unique":
            self.notices.tell(
                "tiling",
                Severity.NOTE,
                self.tr(
                    "{layout} looks like a tiling or shared texture. Where it is unique, choose "
                    "that purpose once more."
                ).format(layout=material_word(shown.layout.name)),
                offer=self.tr("&Judge it as tiling"),
                accept=lambda: self.session.choose_purpose("tiling"),
            )

    def _on_session_problem_met(self, error: EvenweaveError) -> None:
        if self.session.review is None:
            self.start.show_problem(str(error))
        else:
            self.notices.tell("problem", Severity.FAULT, str(error))

    def _on_pictures_told(self, sentence: str) -> None:
        self.status.showMessage(sentence, _MESSAGE_MS)

    def _on_trials_said(self, sentences: tuple[str, ...]) -> None:
        self.notices.tell("trial", Severity.NOTE, _few(sentences))

    def _on_find_triggered(self) -> None:
        self.own.panels["islands"].setChecked(True)
        self.table.text_filter.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.table.text_filter.selectAll()

    def _on_step_triggered(self) -> None:
        """Move the focus to the next panel."""
        panels: list[QWidget] = [
            self.table.view,
            self.views.canvas,
            self.views.solid,
            self.explanation.list,
        ]
        panels = [panel for panel in panels if panel.isVisible()]
        if panels:
            at = next((k for k, panel in enumerate(panels) if panel.hasFocus()), -1)
            panels[(at + 1) % len(panels)].setFocus(Qt.FocusReason.ShortcutFocusReason)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if not self._was_shown:
            self._was_shown = True
            self._restore_splitters()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if _dropped(event) is not None:
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        path = _dropped(event)
        if path is not None:
            event.acceptProposedAction()
            self.session.open(path)

    def closeEvent(self, event: QCloseEvent) -> None:
        if self.session.trials.is_unsaved and not self.session.may_leave():
            event.ignore()
            return
        if not self.passes.may_leave():
            event.ignore()
            return
        self.remember()
        self.hide()
        self.comparing.close()
        self.review_export.close()
        self.trial_bar.waiving.close()
        self.session.close()
        super().closeEvent(event)


def _few(sentences: tuple[str, ...]) -> str:
    """Return the first sentences, a line each, and how many are left out."""
    lines = list(sentences[:_REMARKS_SHOWN])
    if len(sentences) > _REMARKS_SHOWN:
        more = QCoreApplication.translate("Remarks", "And {count} more remarks.")
        lines.append(more.format(count=len(sentences) - _REMARKS_SHOWN))
    return "\n".join(lines)


def _dropped(event: QDropEvent) -> Path | None:
    """The first local file among what is dropped."""
    files = [url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile()]
    return Path(files[0]) if files else None
