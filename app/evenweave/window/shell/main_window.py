"""The main window: what its parts say to each other."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QCoreApplication
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QShowEvent

from evenweave.check.finding import Severity
from evenweave.errors import EvenweaveError
from evenweave.window.parts.words import material_word
from evenweave.window.services.session import Session
from evenweave.window.shell.main_frame import MainFrame
from evenweave.window.state.settings import Settings

_CAVEATS_SHOWN = 3
_MESSAGE_MS = 8000


class MainWindow(MainFrame):
    """Connects the parts, and tells what happens."""

    def __init__(self, session: Session, settings: Settings) -> None:
        super().__init__(session, settings)
        self._connect()
        self._restore()
        self._on_session_review_replaced()

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
            self._tell_caveats(review.asset.caveats)
        recent = self._settings.recent
        self.start.show_recent(recent)
        self.own.show_recent(recent)

    def _on_lane_turned(self) -> None:
        opening = self.session.opening
        self.start.show_opening(opening.name if opening else "")

    def _tell_caveats(self, caveats: tuple[str, ...]) -> None:
        self.notices.drop("remarks")
        if caveats:
            self.notices.tell("remarks", Severity.NOTE, _few(caveats))

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
    lines = list(sentences[:_CAVEATS_SHOWN])
    if len(sentences) > _CAVEATS_SHOWN:
        more = QCoreApplication.translate("Remarks", "And {count} more remarks.")
        lines.append(more.format(count=len(sentences) - _CAVEATS_SHOWN))
    return "\n".join(lines)


def _dropped(event: QDropEvent) -> Path | None:
    """The first local file among what is dropped."""
    files = [url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile()]
    return Path(files[0]) if files else None
