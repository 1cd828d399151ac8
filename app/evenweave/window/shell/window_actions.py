"""The window's own actions and its menus."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction, QActionGroup
from PySide6.QtWidgets import QApplication, QMainWindow, QMenu, QMenuBar, QWidget

from evenweave.picture.scene.worst import WALKED
from evenweave.window.actions.actions import Act, Actions
from evenweave.window.dialogs.dialogs import Dialogs
from evenweave.window.dialogs.picture_export import PictureExport
from evenweave.window.parts.palette import dress
from evenweave.window.parts.seam_words import walk_word
from evenweave.window.state.settings import Settings
from evenweave.window.views.spot_walk import SpotWalk


class WindowActions(QObject):
    """Files, edits and panels, beside the session's `Actions`, and the menus of both."""

    def __init__(
        self,
        actions: Actions,
        dialogs: Dialogs,
        pictures: PictureExport,
        *,
        settings: Settings,
        window: QMainWindow,
    ) -> None:
        super().__init__(window)
        session = actions.session
        self._session, self._actions, self._settings = session, actions, settings
        add = actions.add
        file, edit = self.tr("File"), self.tr("Edit")
        self.open = add(file, self.tr("&Open…"), dialogs.open_file, key="Ctrl+O")
        self.sample = add(file, self.tr("Open the &sample"), dialogs.open_sample)
        self.reread = add(file, self.tr("&Read again"), session.reread, key="F5")
        self.export = add(file, self.tr("&Export picture…"), pictures.ask, key="Ctrl+E")
        self.copy = add(file, self.tr("&Copy picture"), pictures.copy, key="Ctrl+Shift+C")
        self.quit = add(file, self.tr("&Quit"), window.close, key="Ctrl+Q")
        self.undo = add(edit, self.tr("&Undo"), session.undo, key="Ctrl+Z")
        self.redo = add(edit, self.tr("Re&do"), session.redo, key="Ctrl+Shift+Z")
        self.limits = add(edit, self.tr("L&imits…"), dialogs.edit_limits, key="Ctrl+L")
        self.merge = add(edit, self.tr("&Materials…"), dialogs.merge_materials, key="Ctrl+M")
        self.keys = add(
            self.tr("Help"), self.tr("&Keys"), lambda: dialogs.show_keys(actions), key="F1"
        )
        self.about = add(self.tr("Help"), self.tr("&About Evenweave"), dialogs.tell_about)
        self.appearances = QActionGroup(self)
        self._add_appearance("system", self.tr("As the &system"))
        self._add_appearance("light", self.tr("&Light"))
        self._add_appearance("dark", self.tr("&Dark"))
        self.file_menu = QMenu(window)
        self.panels: dict[str, QAction] = {}
        self._sorting: list[QAction] = []
        self._walking: tuple[QAction, ...] = ()
        self.walks = QMenu(self.tr("&Worst places"), window)
        self.recent = QMenu(self.tr("Open recen&t"), window)
        for signal in (session.undo_stack.indexChanged, session.trials.turned):
            signal.connect(self._name_history)
        self._name_history()
        session.review_replaced.connect(self._on_session_review_replaced)
        self._on_session_review_replaced()

    def _name_history(self) -> None:
        """Say in the menu what would be undone and done again."""
        stack = self._session.undo_stack
        plain = (
            (self.undo, self.tr("&Undo"), stack.undoText(), stack.canUndo()),
            (self.redo, self.tr("Re&do"), stack.redoText(), stack.canRedo()),
        )
        for action, text, what, is_possible in plain:
            action.setText(f"{text} {what}" if is_possible else text)
            action.setEnabled(is_possible)

    def _add_appearance(self, appearance: str, text: str) -> None:
        action = QAction(text, self)
        action.setCheckable(True)
        action.setData(appearance)
        action.setChecked(self._settings.word("appearance", "system") == appearance)
        action.triggered.connect(lambda: self._choose_appearance(appearance))
        self.appearances.addAction(action)

    def _choose_appearance(self, appearance: str) -> None:
        self._settings.remember_word("appearance", appearance)
        application = QApplication.instance()
        assert isinstance(application, QApplication)
        dress(application, appearance)

    def add_panel(self, name: str, text: str, panel: QWidget) -> None:
        """Add the action that hides and shows a panel."""
        key = f"Ctrl+{len(self.panels) + 1}"
        toggle = self._actions.add(self.tr("Panels"), text, lambda: None, key=key)
        toggle.setCheckable(True)
        toggle.setChecked(True)
        toggle.toggled.connect(panel.setVisible)
        self.panels[name] = toggle

    def add_sorting(self, text: str, act: Act, key: str) -> None:
        """Add an action that sorts the islands."""
        action = self._actions.add(self.tr("Sort the islands"), text, act, key=key)
        self._sorting.append(action)

    def add_walk(self, walk: SpotWalk) -> None:
        """Add the actions that walk the worst places, and the choice of what is walked."""
        heading = self.tr("Worst places")
        add = self._actions.add
        following = add(
            heading, self.tr("&Next worst place"), lambda: walk.step(1), key="W",
            tip=self.tr("Frame and mark the next worst place of what the colours show"),
        )  # fmt: skip
        previous = add(heading, self.tr("P&revious worst place"), lambda: walk.step(-1), key="Q")
        self.walks.addActions([following, previous])
        self.walks.addSeparator()
        choice = QActionGroup(self)
        for measure in ("", *WALKED):
            action = add(heading, walk_word(measure), partial(walk.choose, measure))
            action.setCheckable(True)
            action.setChecked(measure == walk.options)
            choice.addAction(action)
            self.walks.addAction(action)
        self._actions.clear.triggered.connect(walk.clear)
        self._walking = (following, previous)
        self._on_session_review_replaced()

    def add_panel_action(self, text: str, act: Act, key: str) -> QAction:
        """Add another action that concerns the panels."""
        return self._actions.add(self.tr("Panels"), text, act, key=key)

    def fill(self, bar: QMenuBar, panel_actions: list[QAction]) -> None:
        """Make the menus."""
        look = self._actions
        self.file_menu = file = bar.addMenu(self.tr("&File"))
        file.addAction(self.open)
        file.addMenu(self.recent)
        file.addActions([self.sample, self.reread])
        file.addSeparator()
        file.addActions([self.export, self.copy])
        file.addSeparator()
        file.addAction(self.quit)
        edit = bar.addMenu(self.tr("&Edit"))
        edit.addActions([self.undo, self.redo])
        edit.addSeparator()
        edit.addAction(look.clear)
        edit.addSeparator()
        edit.addActions([self.limits, self.merge])
        view = bar.addMenu(self.tr("&View"))
        view.addMenu(self.tr("&Colours")).addActions(look.colours.actions())
        view.addActions([look.checker, *look.toggles, look.mips, look.coarser, look.finer])
        view.addSeparator()
        view.addActions([look.frame, look.overview])
        view.addMenu(self.walks)
        view.addSeparator()
        view.addMenu(self.tr("S&ort the islands")).addActions(self._sorting)
        panels = bar.addMenu(self.tr("&Panels"))
        panels.addActions(list(self.panels.values()))
        panels.addSeparator()
        panels.addActions(panel_actions)
        panels.addMenu(self.tr("&Appearance")).addActions(self.appearances.actions())
        findings = bar.addMenu(self.tr("Fin&dings"))
        findings.addActions([look.next_finding, look.previous_finding, look.show_place])
        bar.addMenu(self.tr("&Help")).addActions([self.keys, self.about])

    def show_recent(self, paths: tuple[Path, ...]) -> None:
        """List the files opened last."""
        self.recent.clear()
        for path in paths:
            action = self.recent.addAction(path.name.replace("&", "&&"))
            action.setToolTip(str(path))
            action.triggered.connect(lambda _=False, path=path: self._session.open(path))
        self.recent.setEnabled(bool(paths))

    def _on_session_review_replaced(self) -> None:
        is_open = self._session.review is not None
        for action in (self.reread, self.export, self.copy, self.merge, *self._walking):
            action.setEnabled(is_open)
