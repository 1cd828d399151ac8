"""Actions on advice and trials, and their menu."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu, QMenuBar, QWidget

from evenweave.trial import jobs
from evenweave.window.actions.actions import Actions
from evenweave.window.advice.trial_dialogs import TrialDialogs


class TrialActions(QObject):
    """Everything that can be done with a trial. `bar` holds those on the trial bar."""

    def __init__(self, actions: Actions, dialogs: TrialDialogs, window: QWidget) -> None:
        super().__init__(window)
        self._session = session = actions.session
        trials = session.trials
        add = partial(actions.add, self.tr("Trial"))
        self.fix = add(
            self.tr("Do the sa&fe steps"), lambda: trials.try_out(jobs.fixing),
            key="Ctrl+Shift+F",
        )  # fmt: skip
        self.pack = add(self.tr("&Packing what-if…"), dialogs.ask_pack, key="Ctrl+Shift+P")
        self.switch = add(
            self.tr("&Before or after"), trials.switch, key="B",
            tip=self.tr("Show the file as it is, or the copy"),
        )  # fmt: skip
        self.save = add(self.tr("&Save a copy…"), dialogs.ask_save, key="Ctrl+S")
        self.discard = add(
            self.tr("&Discard"), trials.discard, tip=self.tr("Give up all that was tried")
        )
        self.bar = (self.save, self.discard)
        trials.changed.connect(self.enable)
        trials.turned.connect(self.enable)
        session.layout_chosen.connect(self.enable)
        self.enable()

    def fill(self, bar: QMenuBar, before: QAction) -> None:
        """Make the menu of trials, before another."""
        menu = QMenu(self.tr("Tri&al"), bar)
        menu.addActions([self.fix, self.pack])
        menu.addSeparator()
        menu.addAction(self.switch)
        menu.addSeparator()
        menu.addActions([self.save, self.discard])
        bar.insertMenu(before, menu)

    def enable(self) -> None:
        """Offer what can be done now."""
        trials = self._session.trials
        for one in (self.fix, self.pack):
            one.setEnabled(trials.can_try)
        for one in (self.switch, self.discard):
            one.setEnabled(trials.trial is not None)
        self.save.setEnabled(trials.trial is not None and bool(trials.trial.steps))
