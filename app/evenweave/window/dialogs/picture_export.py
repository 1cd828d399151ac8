"""Pictures for review notes: drawn in the background, saved or put on the clipboard."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QGuiApplication, QImage
from PySide6.QtWidgets import QFileDialog, QWidget

from evenweave.errors import EvenweaveError
from evenweave.notes.waiving import JudgedFinding
from evenweave.picture.lettering.pins import Pin, finding_pins, note_pins
from evenweave.picture.painting.painting import Marks
from evenweave.picture.pictures import PictureOptions, picture, write_png
from evenweave.progress import Progress
from evenweave.window.dialogs.export_dialog import (
    PROOF_HEIGHT,
    PROOF_WIDTH,
    ExportChoice,
    ExportDialog,
)
from evenweave.window.parts.image import image_of
from evenweave.window.services.session import Session
from evenweave.window.state.settings import Settings
from evenweave.window.views.views import Views

_FOLDER = "picture_folder"


class PictureExport(QObject):
    """Turns what is on the screen into a picture of any size.

    told(sentence) : what became of it; failed(error) : an `EvenweaveError`
    """

    told = Signal(str)
    failed = Signal(object)

    def __init__(
        self, session: Session, settings: Settings, views: Views, *, window: QWidget
    ) -> None:
        super().__init__(window)
        self._session, self._settings = session, settings
        self._views, self._window = views, window
        self._choice = ExportChoice()
        self._dialog: ExportDialog | None = None
        session.exports.failed.connect(self._on_exports_failed)

    def ask(self) -> None:
        """Open the dialog that chooses what to draw."""
        dialog = ExportDialog(self._choice, self._window)
        dialog.proof_asked.connect(self._on_dialog_proof_asked)
        dialog.save_asked.connect(self._on_dialog_save_asked)
        dialog.copy_asked.connect(self.copy)
        dialog.finished.connect(self._on_dialog_finished)
        self._dialog = dialog
        dialog.open()

    def copy(self, choice: ExportChoice | None = None) -> None:
        """Draw a picture, by default as it was chosen last, and put it on the clipboard."""
        self._choice = choice or self._choice

        def put(image: QImage) -> None:
            QGuiApplication.clipboard().setImage(image)
            self._tell(self.tr("The picture is on the clipboard."))

        self._session.exports.submit(self._drawing(self._options(self._choice)), put)

    def save(self, path: Path, choice: ExportChoice) -> None:
        """Draw a picture and write it as PNG."""
        self._choice = choice
        self._settings.remember_word(_FOLDER, str(path.parent))
        options, review, scene = self._options(choice), self._session.review, self._session.scene
        assert review is not None

        def work(progress: Progress) -> None:
            write_png(path, picture(review, options, scene), dpi=choice.dpi)

        done = self.tr("Saved as {path}").format(path=path)
        self._session.exports.submit(work, lambda _: self._tell(done))

    def suggested_path(self) -> Path:
        """Return a name that tells file, layout and colours, in the folder used last."""
        review, shown = self._session.review, self._session.shown
        assert review is not None
        name = shown.layout.name if shown else ""
        words = [review.asset.path.stem, name, self._session.look.colours]
        stem = "_".join(re.sub(r"[^\w.-]+", "-", word) for word in words if word)
        folder = self._settings.word(_FOLDER, str(review.asset.path.parent))
        return Path(folder) / f"{stem}.png"

    def _options(self, choice: ExportChoice) -> PictureOptions:
        session = self._session
        marks = Marks(
            selection=session.selection if choice.has_selection else (),
            finding=session.finding if choice.has_place else None,
        )
        return PictureOptions(
            layout=session.layout_index,
            view=choice.view,
            look=session.look,
            width=choice.width,
            height=choice.height,
            bounds=self._views.bounds if choice.is_as_seen else None,
            camera=self._views.camera if choice.is_as_seen else None,
            marks=marks,
            pins=self._pins(choice),
            findings=self._findings(),
        )

    def _pins(self, choice: ExportChoice) -> tuple[Pin, ...]:
        """Return what is called out beside its place."""
        session = self._session
        pins: tuple[Pin, ...] = ()
        if choice.has_notes:
            pins += note_pins(session.notebook.found, session.layout_index, labels=True)
        if choice.has_findings and session.shown is not None:
            findings = self._findings()
            is_open = [one.finding for one in findings if not one.is_waived] if findings else None
            pins += finding_pins(session.shown, is_open, labels=True)
        return pins

    def _findings(self) -> tuple[JudgedFinding, ...] | None:
        """Return how the layout's findings stand with the waivers, None until that is known."""
        waiving = self._session.notebook.waiving
        return waiving.layouts[self._session.layout_index] if waiving else None

    def _drawing(self, options: PictureOptions) -> Callable[[Progress], QImage]:
        review, scene = self._session.review, self._session.scene
        assert review is not None

        def work(progress: Progress) -> QImage:
            return image_of(picture(review, options, scene))

        return work

    def _tell(self, sentence: str) -> None:
        if self._dialog is not None:
            self._dialog.tell(sentence)
        self.told.emit(sentence)

    def _on_dialog_proof_asked(self, choice: ExportChoice) -> None:
        dialog = self._dialog
        assert dialog is not None
        scale = min(PROOF_WIDTH / choice.width, PROOF_HEIGHT / choice.height)
        scale *= dialog.devicePixelRatioF()
        # Drawn larger than shown where it must be, so that the proof has the same arrangement.
        scale = max(scale, 2 * 320 / min(choice.width, choice.height))
        width, height = round(choice.width * scale), round(choice.height * scale)
        options = replace(self._options(choice), width=width, height=height)

        def show(image: QImage) -> None:
            if self._dialog is dialog:
                dialog.show_proof(image)

        self._session.pictures.submit(self._drawing(options), show)

    def _on_dialog_save_asked(self, choice: ExportChoice) -> None:
        name, _ = QFileDialog.getSaveFileName(
            self._dialog,
            self.tr("Save the picture"),
            str(self.suggested_path()),
            self.tr("Pictures (*.png)"),
        )
        if name:
            path = Path(name)
            self.save(path if path.suffix else path.with_suffix(".png"), choice)

    def _on_dialog_finished(self) -> None:
        self._dialog = None

    def _on_exports_failed(self, error: EvenweaveError) -> None:
        if self._dialog is not None:
            self._dialog.tell(str(error))
        else:
            self.failed.emit(error)
