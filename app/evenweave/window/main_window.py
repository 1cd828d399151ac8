"""The window: menus, bars, islands at the left, views in the middle, explanation at the right."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QCloseEvent, QDragEnterEvent, QDropEvent, QShowEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QMainWindow,
    QMenu,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from evenweave.check.warning import Severity
from evenweave.errors import EvenweaveError
from evenweave.places import sample_assets
from evenweave.review import Grouping
from evenweave.window.actions import Actions
from evenweave.window.explanation import Explanation
from evenweave.window.island_table import IslandTable
from evenweave.window.keyboard_sheet import KeyboardSheet
from evenweave.window.layout_bar import LayoutBar
from evenweave.window.limits_dialog import LimitsDialog
from evenweave.window.look_bar import LookBar
from evenweave.window.merge_dialog import MergeDialog
from evenweave.window.notices import Notices
from evenweave.window.palette import GRID
from evenweave.window.session import Session
from evenweave.window.settings import Settings
from evenweave.window.start_page import StartPage
from evenweave.window.status_line import StatusLine
from evenweave.window.views import Views
from evenweave.window.words import material_word

FILE_PATTERNS = "*.obj *.gltf *.glb *.usd *.usda *.usdc *.usdz *.ply *.dae"
SAMPLE = "lantern_first_pass.obj"
_EXPLANATION_SIZES = (32 * GRID, 48 * GRID)
_SIZES = (54 * GRID, 65 * GRID, 40 * GRID)


class MainWindow(QMainWindow):
    """Puts the parts together and remembers how they were."""

    def __init__(self, session: Session, settings: Settings) -> None:
        super().__init__()
        self.session, self._settings = session, settings
        session.setParent(self)
        self._was_shown = False
        self.setAcceptDrops(True)
        self.commands = Actions(session, self)
        self._make_actions()
        self.start = StartPage(self)
        self.notices = Notices(self)
        self.table = IslandTable(session, self)
        look_bar = LookBar(session, self.commands.checker, self.commands.toggles, self)
        self.views = Views(session, look_bar, self)
        self.explanation = Explanation(session, self)
        self.layout_bar = LayoutBar(
            session, (self.act_merge, self.act_limits, self.act_export), self
        )
        self.status = StatusLine(session, self)
        self.setStatusBar(self.status)
        self._arrange()
        self._fill_menus()
        self._connect()
        self._restore()
        self._on_session_review_replaced()

    def _make_actions(self) -> None:
        add, stack = self.commands.add, self.session.undo_stack
        file, edit, panels = self.tr("File"), self.tr("Edit"), self.tr("Panels")
        self.act_open = add(file, self.tr("&Open…"), self._on_open_triggered, key="Ctrl+O")
        self.open_sample = add(file, self.tr("Open the &sample"), self._on_sample_triggered)
        self.act_reread = add(file, self.tr("&Read again"), self.session.reread, key="F5")
        self.act_export = add(
            file, self.tr("&Export picture…"), self._on_export_triggered, key="Ctrl+E"
        )
        self.act_copy = add(
            file, self.tr("&Copy picture"), self._on_copy_triggered, key="Ctrl+Shift+C"
        )
        self.act_quit = add(file, self.tr("&Quit"), self.close, key="Ctrl+Q")
        self.act_undo = add(edit, self.tr("&Undo"), stack.undo, key="Ctrl+Z")
        self.act_redo = add(edit, self.tr("Re&do"), stack.redo, key="Ctrl+Shift+Z")
        self.act_find = add(edit, self.tr("&Filter islands"), self._on_find_triggered, key="Ctrl+F")
        self.act_limits = add(edit, self.tr("L&imits…"), self._on_limits_triggered, key="Ctrl+L")
        self.act_merge = add(edit, self.tr("&Materials…"), self._on_merge_triggered, key="Ctrl+M")
        self.beside = add(panels, self.tr("Views &beside each other"), lambda: None, key="F7")
        self.beside.setCheckable(True)
        self.next_panel = add(panels, self.tr("&Next panel"), self._on_next_panel, key="F6")
        self.sheet = add(self.tr("Help"), self.tr("&Keys"), self._on_sheet_triggered, key="F1")

    def _arrange(self) -> None:
        self.splitter = QSplitter(Qt.Orientation.Horizontal, self)
        for panel in (self.table, self.views, self.explanation):
            self.splitter.addWidget(panel)
        self.splitter.setChildrenCollapsible(False)
        self.splitter.setStretchFactor(1, 1)
        self.table.setMinimumWidth(28 * GRID)
        self.views.setMinimumWidth(36 * GRID)
        self.explanation.setMinimumWidth(31 * GRID)
        self._pages = QStackedWidget(self)
        self._pages.addWidget(self.start)
        self._pages.addWidget(self.splitter)
        whole = QWidget(self)
        column = QVBoxLayout(whole)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.layout_bar)
        column.addWidget(self.notices)
        column.addWidget(self._pages, 1)
        self.setCentralWidget(whole)
        self.setMinimumSize(110 * GRID, 64 * GRID)
        self.resize(1280, 800)

    def _fill_menus(self) -> None:
        bar, look = self.menuBar(), self.commands
        file = bar.addMenu(self.tr("&File"))
        file.addAction(self.act_open)
        self._recent = file.addMenu(self.tr("Open &recent"))
        file.addActions([self.open_sample, self.act_reread])
        file.addSeparator()
        file.addActions([self.act_export, self.act_copy])
        file.addSeparator()
        file.addAction(self.act_quit)
        edit = bar.addMenu(self.tr("&Edit"))
        edit.addActions([self.act_undo, self.act_redo])
        edit.addSeparator()
        edit.addActions([look.clear, self.act_find])
        edit.addSeparator()
        edit.addActions([self.act_limits, self.act_merge])
        view = bar.addMenu(self.tr("&View"))
        self._colours = view.addMenu(self.tr("&Colours"))
        self._colours.addActions(look.colours.actions())
        view.addActions([look.checker, *look.toggles])
        view.addSeparator()
        view.addActions([look.frame, look.overview, self.beside])
        view.addSeparator()
        self.panels = self._panel_toggles(view)
        go = bar.addMenu(self.tr("&Warnings"))
        go.addActions([look.next_warning, look.previous_warning, look.show_place])
        help_menu = bar.addMenu(self.tr("&Help"))
        help_menu.addAction(self.sheet)

    def _panel_toggles(self, menu: QMenu) -> dict[str, QAction]:
        """Add an action for every panel that can be hidden."""
        toggles = {}
        for number, (name, text, panel) in enumerate(
            (
                ("islands", self.tr("&Islands"), self.table),
                ("canvas", self.tr("UV &layout"), self.views.canvas_panel),
                ("solid", self.tr("3&D view"), self.views.solid_panel),
                ("explanation", self.tr("E&xplanation"), self.explanation),
            ),
            start=1,
        ):
            toggle = self.commands.add(self.tr("Panels"), text, lambda: None, key=f"Ctrl+{number}")
            toggle.setCheckable(True)
            toggle.setChecked(True)
            toggle.toggled.connect(panel.setVisible)
            menu.addAction(toggle)
            toggles[name] = toggle
        return toggles

    def _connect(self) -> None:
        session = self.session
        session.review_replaced.connect(self._on_session_review_replaced)
        session.layout_chosen.connect(self._on_session_layout_chosen)
        session.problem_met.connect(self._on_session_problem_met)
        session.undo_stack.indexChanged.connect(self._on_undo_stack_index_changed)
        self.views.cursor_moved.connect(self.status.tell_cursor)
        self.beside.toggled.connect(self.views.set_beside)
        self.start.open_asked.connect(self._on_open_triggered)
        self.start.sample_asked.connect(self._on_sample_triggered)
        self.start.file_asked.connect(session.open)
        self._on_undo_stack_index_changed()

    def _restore(self) -> None:
        geometry = self._settings.state("geometry")
        if geometry is not None:
            self.restoreGeometry(geometry)
        self.beside.setChecked(self._settings.flag("beside", False))
        for name, toggle in self.panels.items():
            toggle.setChecked(self._settings.flag(f"panel_{name}", True))

    def _restore_splitters(self) -> None:
        """Give splitters the sizes they had, once the window has its own."""
        self.splitter.setSizes(list(_SIZES))
        self.explanation.splitter.setSizes(list(_EXPLANATION_SIZES))
        for name, splitter in self._splitters().items():
            self._settings.restore_splitter(name, splitter)

    def _splitters(self) -> dict[str, QSplitter]:
        views = "views_beside" if self.beside.isChecked() else "views_above"
        return {
            "columns": self.splitter,
            views: self.views.splitter,
            "explanation": self.explanation.splitter,
        }

    def remember(self) -> None:
        """Keep geometry, splitters, hidden panels and look for the next sitting."""
        self._settings.remember_state("geometry", self.saveGeometry())
        self._settings.remember_flag("beside", self.beside.isChecked())
        for name, splitter in self._splitters().items():
            self._settings.remember_state(name, splitter.saveState())
        for name, toggle in self.panels.items():
            self._settings.remember_flag(f"panel_{name}", toggle.isChecked())
        self._settings.remember_look(self.session.look)
        self._settings.flush()

    def _show_recent(self) -> None:
        recent = self._settings.recent
        self.start.show_recent(recent)
        self._recent.clear()
        for path in recent:
            action = self._recent.addAction(path.name.replace("&", "&&"))
            action.setToolTip(str(path))
            action.triggered.connect(lambda _=False, path=path: self.session.open(path))
        self._recent.setEnabled(bool(recent))

    # What the session says.

    def _on_session_review_replaced(self) -> None:
        review = self.session.review
        self._pages.setCurrentIndex(0 if review is None else 1)
        self.layout_bar.setVisible(review is not None)
        for action in (self.act_reread, self.act_export, self.act_copy, self.act_merge):
            action.setEnabled(review is not None)
        if review is not None:
            path = review.asset.path
            self._settings.remember_file(path)
            self.setWindowTitle(self.tr("{file} – Evenweave").format(file=path.name))
            self.setWindowFilePath(str(path))
            self.notices.drop("problem")
            self._tell_remarks(review.asset.remarks)
        self._show_recent()

    def _tell_remarks(self, remarks: tuple[str, ...]) -> None:
        self.notices.drop("remarks")
        if remarks:
            self.notices.tell("remarks", Severity.NOTE, "\n".join(remarks[:4]))

    def _on_session_layout_chosen(self) -> None:
        self.notices.drop("tiling")
        shown = self.session.shown
        if shown is not None and shown.looks_tiling and shown.purpose == "unique":
            self.notices.tell(
                "tiling",
                Severity.NOTE,
                self.tr("{layout} looks like a tiling or shared texture.").format(
                    layout=material_word(shown.layout.name)
                ),
                offer=self.tr("&Judge it as tiling"),
                accept=lambda: self.session.choose_purpose("tiling"),
            )

    def _on_session_problem_met(self, error: EvenweaveError) -> None:
        if self.session.review is None:
            self.start.show_problem(str(error))
        else:
            self.notices.tell("problem", Severity.FAULT, str(error))

    def _on_undo_stack_index_changed(self) -> None:
        stack = self.session.undo_stack
        undo, redo = stack.undoText(), stack.redoText()
        self.act_undo.setText(
            self.tr("&Undo {what}").format(what=undo) if undo else self.tr("&Undo")
        )
        self.act_redo.setText(
            self.tr("Re&do {what}").format(what=redo) if redo else self.tr("Re&do")
        )
        self.act_undo.setEnabled(stack.canUndo())
        self.act_redo.setEnabled(stack.canRedo())

    # What the user asks.

    def _on_open_triggered(self) -> None:
        recent = self._settings.recent
        folder = str(recent[0].parent) if recent else ""
        patterns = self.tr("Meshes ({patterns})").format(patterns=FILE_PATTERNS)
        name, _ = QFileDialog.getOpenFileName(
            self, self.tr("Open a mesh"), folder, f"{patterns};;{self.tr('All files (*)')}"
        )
        if name:
            self.session.open(Path(name))

    def _on_sample_triggered(self) -> None:
        self.session.open(sample_assets() / SAMPLE)

    def _on_export_triggered(self) -> None:
        raise NotImplementedError

    def _on_copy_triggered(self) -> None:
        raise NotImplementedError

    def _on_find_triggered(self) -> None:
        self.panels["islands"].setChecked(True)
        self.table.text_filter.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.table.text_filter.selectAll()

    def _on_limits_triggered(self) -> None:
        dialog = LimitsDialog(self.session, self)
        dialog.open()

    def _on_merge_triggered(self) -> None:
        review = self.session.review
        if review is None:
            return
        grouping = self.session.grouping
        dialog = MergeDialog(review.asset.material_names, grouping.merged, self)
        if dialog.exec():
            self.session.choose_grouping(Grouping(grouping.uv_set, dialog.merged))

    def _on_next_panel(self) -> None:
        panels = [
            self.table.view,
            self.views.canvas,
            self.views.solid,
            self.explanation.list,
        ]
        panels = [panel for panel in panels if panel.isVisible()]
        if panels:
            at = next((k for k, panel in enumerate(panels) if panel.hasFocus()), -1)
            panels[(at + 1) % len(panels)].setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _on_sheet_triggered(self) -> None:
        KeyboardSheet(self.commands.listed, self).open()

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
        self.remember()
        self.session.close()
        super().closeEvent(event)


def _dropped(event: QDropEvent) -> Path | None:
    """The first local file among what is dropped."""
    files = [url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile()]
    return Path(files[0]) if files else None
