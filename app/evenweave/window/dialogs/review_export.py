"""What is handed over beside pictures: the whole review as one file, and outlines to paint over."""

from __future__ import annotations

import re
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog, QWidget

from evenweave.picture.outlines import (
    outlines_picture,
    outlines_svg,
    painted_tiles,
    tile_files,
)
from evenweave.picture.pictures import png
from evenweave.progress import Progress
from evenweave.report.document.document import review_document
from evenweave.report.document.html import document_html
from evenweave.window.services.session import Session
from evenweave.window.state.lane import Lane, Work
from evenweave.window.state.settings import Settings
from evenweave.writing import write_whole

_FOLDER = "review_folder"
_LINE_PX = 1.5


class ReviewExport(QObject):
    """Writes files in the background.

    told(sentence); failed(error)
    """

    told = Signal(str)
    failed = Signal(object)

    def __init__(self, session: Session, settings: Settings, window: QWidget) -> None:
        super().__init__(window)
        self._session, self._settings, self._window = session, settings, window
        self._lane = Lane(self)
        self._lane.failed.connect(self.failed)

    @property
    def is_busy(self) -> bool:
        """Whether a file is being written."""
        return self._lane.is_busy

    def ask_review(self) -> None:
        """Ask where to write the review, as a page or on paper."""
        path = self._asked(
            self.tr("Export the review"), "_review.html",
            self.tr("Web page (*.html);;Paper (*.pdf)"),
        )  # fmt: skip
        if path is not None:
            self.save_review(path)

    def ask_outlines(self) -> None:
        """Ask where to write the shown layout's outlines."""
        shown = self._session.shown
        words = re.sub(r"[^\w.-]+", "-", shown.layout.name) if shown else ""
        path = self._asked(
            self.tr("Export outlines to paint over"), f"_{words}_outlines.svg",
            self.tr("Drawing (*.svg);;Picture of each tile (*.png)"),
        )  # fmt: skip
        if path is not None:
            self.save_outlines(path)

    def save_review(self, path: Path) -> None:
        """Write the review of the open file with its notes, as HTML or PDF by the name's end."""
        now, notebook = self._session.pass_now, self._session.notebook
        if now is None:
            return
        store, limits_path = notebook.store, self._session.limits_path

        def work(progress: Progress) -> None:
            document = review_document(
                now.review, store, limits_path=limits_path, scene=now.scene, progress=progress
            )
            if path.suffix.lower() == ".pdf":
                from evenweave.window.paper.paper import write_pdf

                write_pdf(path, document)
            else:
                write_whole(path, document_html(document).encode("utf-8"))

        self._begin(path, work)

    def save_outlines(self, path: Path) -> None:
        """Write outlines as SVG, or a transparent PNG for each tile, by the name's end."""
        review, shown = self._session.review, self._session.shown
        if review is None or shown is None:
            return
        layout, tile = shown.layout, shown.measures.tile
        tiles = painted_tiles(shown)
        files = tile_files(path, tiles) if path.suffix.lower() == ".png" else {(0, 0): path}

        def work(progress: Progress) -> None:
            if path.suffix.lower() != ".png":
                write_whole(path, outlines_svg([layout], tile, tiles).encode("utf-8", "replace"))
                return
            for place, own in files.items():
                drawn = outlines_picture(layout, tile, place, line_px=_LINE_PX)
                # The dialog asked about `path` alone; files named after it are not replaced.
                write_whole(own, png(drawn), replace=own == path)

        self._begin(next(iter(files.values())), work)

    def close(self) -> None:
        """End the background work."""
        self._lane.close()

    def _begin(self, path: Path, work: Work) -> None:
        self._settings.remember_word(_FOLDER, str(path.parent))
        self.told.emit(self.tr("Writing {file}…").format(file=path.name))
        done = self.tr("Saved as {path}").format(path=path)
        self._lane.submit(work, lambda _: self.told.emit(done))

    def _asked(self, title: str, ending: str, kinds: str) -> Path | None:
        review = self._session.original
        if review is None:
            return None
        mesh = review.asset.path
        folder = Path(self._settings.word(_FOLDER, str(mesh.parent)))
        name, kind = QFileDialog.getSaveFileName(
            self._window, title, str(folder / f"{mesh.stem}{ending}"), kinds
        )
        if not name:
            return None
        path, suffix = Path(name), re.findall(r"\*(\.\w+)", kind)
        return path if path.suffix or not suffix else path.with_suffix(suffix[0])
