"""Starting the window."""

from __future__ import annotations

import sys
from pathlib import Path

from PySide6.QtCore import QLocale
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QApplication

from evenweave.places import resource
from evenweave.window.parts import palette
from evenweave.window.services.session import Session
from evenweave.window.shell.main_window import MainWindow
from evenweave.window.state.bugs import watch_for_bugs
from evenweave.window.state.settings import Settings


def run(path: Path | None) -> int:
    """Open the window, on a file if there is one, and return the exit code when it is closed."""
    application = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(application, QApplication)
    application.setApplicationName("evenweave")
    application.setApplicationDisplayName("Evenweave")
    application.setDesktopFileName("evenweave")
    application.setWindowIcon(QIcon(str(resource("icon.svg"))))
    # Numbers follow the language of the texts, which is English as long as nobody translates.
    QLocale.setDefault(QLocale("en_GB"))
    watch_for_bugs()
    settings = Settings()
    palette.dress(application, settings.word("appearance", "system"))
    application.styleHints().colorSchemeChanged.connect(lambda _: palette.dress(application))
    session = Session(look=settings.look)
    window = MainWindow(session, settings)
    window.show()
    if path is not None:
        session.open(path)
    return application.exec()
