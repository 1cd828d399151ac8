"""The parts of the main window, where they stand, and how they were when it was closed."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import QMainWindow, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from evenweave.window.actions.actions import Actions
from evenweave.window.advice.advice_panel import AdvicePanel
from evenweave.window.advice.trial_actions import TrialActions
from evenweave.window.advice.trial_bar import TrialBar
from evenweave.window.advice.trial_dialogs import TrialDialogs
from evenweave.window.bars.layout_bar import LayoutBar
from evenweave.window.bars.look_bar import LookBar
from evenweave.window.comparison.comparing import Comparing
from evenweave.window.dialogs.dialogs import Dialogs
from evenweave.window.dialogs.picture_export import PictureExport
from evenweave.window.dialogs.review_export import ReviewExport
from evenweave.window.findings.explanation import Explanation
from evenweave.window.islands.island_table import IslandTable
from evenweave.window.notes.notes_panel import NotesPanel
from evenweave.window.notes.noting import Noting
from evenweave.window.parts.palette import GRID
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
from evenweave.window.state.island_rows import DENSITY, FOUND_COLUMN, NAME, STRETCH, SURFACE, TEXELS
from evenweave.window.state.settings import Settings
from evenweave.window.views.views import Views

_FIRST_SIZE = QSize(180 * GRID, 110 * GRID)
_FRAME = QSize(2 * GRID, 6 * GRID)  # what the desktop may put around a window
_SIZES = (60 * GRID, 60 * GRID, 40 * GRID)
_NARROW_SIZES = (44 * GRID, 48 * GRID, 35 * GRID)
_ROOMY = 150 * GRID
_EXPLANATION_SIZES = (32 * GRID, 48 * GRID)
_VIEW_SIZES = (40 * GRID, 32 * GRID)


class MainFrame(QMainWindow):
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
            (FOUND_COLUMN, self.tr("By &findings"), "Shift+W"),
            (STRETCH, self.tr("By &stretch"), "Shift+S"),
            (DENSITY, self.tr("By &density"), "Shift+D"),
            (SURFACE, self.tr("By s&urface"), "Shift+U"),
            (TEXELS, self.tr("By &texels"), "Shift+T"),
        ):
            self.own.add_sorting(text, partial(self.table.view.sort_by, column), key)

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
