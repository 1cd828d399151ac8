"""Actions on the open file: follow it, compare it with an older pass, hand its review over."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu, QWidget

from evenweave.window.actions.actions import Actions
from evenweave.window.dialogs.review_export import ReviewExport
from evenweave.window.state.settings import Settings

_FLAG = "follow_file"


class PassActions(QObject):
    """The switch of following is remembered."""

    def __init__(
        self,
        actions: Actions,
        settings: Settings,
        compare: Callable[[], object],
        export: ReviewExport,
        *,
        window: QWidget,
    ) -> None:
        super().__init__(window)
        self._session, self._settings = actions.session, settings
        heading = self.tr("File")
        self.follow = actions.add(
            heading, self.tr("&Follow the file"), lambda: None, key="F4",
            tip=self.tr("Read the file again whenever it is exported"),
        )  # fmt: skip
        self.follow.setCheckable(True)
        self.follow.setChecked(settings.flag(_FLAG, True))
        self.follow.toggled.connect(self._on_follow_toggled)
        self.compare = actions.add(heading, self.tr("Compare &with…"), compare, key="Ctrl+D")
        self.review = actions.add(
            heading, self.tr("Export re&view…"), export.ask_review, key="Ctrl+Shift+E"
        )
        self.outlines = actions.add(
            heading, self.tr("Export out&lines…"), export.ask_outlines, key="Ctrl+Shift+O"
        )
        actions.session.review_replaced.connect(self._enable)
        actions.session.layout_chosen.connect(self._enable)
        actions.session.live.switch(self.follow.isChecked())
        self._enable()

    def fill(self, menu: QMenu, *, reread: QAction, copy: QAction) -> None:
        """Add the actions to a menu, after those for reading again and for copying."""
        entries = menu.actions()
        menu.insertActions(entries[entries.index(reread) + 1], [self.follow, self.compare])
        menu.insertActions(entries[entries.index(copy) + 1], [self.review, self.outlines])

    def _enable(self) -> None:
        for action in (self.compare, self.review):
            action.setEnabled(self._session.original is not None)
        shown = self._session.shown
        self.outlines.setEnabled(shown is not None and shown.layout.island_count > 0)

    def _on_follow_toggled(self, is_on: bool) -> None:
        self._session.live.switch(is_on)
        self._settings.remember_flag(_FLAG, is_on)
