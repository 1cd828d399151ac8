"""A fault of the program's own is told with its traceback, never swallowed."""

from __future__ import annotations

import sys
import traceback
from types import TracebackType

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QApplication, QMessageBox

from evenweave.window.state.lane import Bug


def watch_for_bugs() -> None:
    """Show every uncaught exception in a dialog, one at a time, and print it."""
    sys.excepthook = _tell


def _tell(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
    text = (
        str(error)
        if isinstance(error, Bug)
        else "".join(traceback.format_exception(kind, error, trace))
    )
    sys.stderr.write(text)
    if issubclass(kind, KeyboardInterrupt):
        QApplication.quit()
    elif QApplication.activeModalWidget() is None:
        bug_box(text).open()


def bug_box(text: str) -> QMessageBox:
    """Return the dialog that tells of a fault in the program."""
    tr = QCoreApplication.translate
    box = QMessageBox(QApplication.activeWindow())
    box.setIcon(QMessageBox.Icon.NoIcon)
    box.setWindowTitle(tr("Bugs", "A fault in Evenweave"))
    box.setText(
        tr("Bugs", "Something went wrong inside Evenweave; it is not the fault of your file.")
    )
    box.setInformativeText(tr("Bugs", "You can go on. The details help those who mend it."))
    box.setDetailedText(text)
    return box
