"""What opens a dialog: choosing files, limits, materials, pictures, the keyboard sheet."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, QSize, Qt
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from evenweave import __version__
from evenweave.pipeline import Grouping
from evenweave.places import sample_assets
from evenweave.window.actions.actions import Actions
from evenweave.window.actions.keyboard_sheet import KeyboardSheet
from evenweave.window.dialogs.limits_dialog import LimitsDialog
from evenweave.window.dialogs.merge_dialog import MergeDialog
from evenweave.window.services.session import Session
from evenweave.window.state.settings import Settings

FILE_PATTERNS = "*.obj *.gltf *.glb *.usd *.usda *.usdc *.usdz *.ply *.dae"
SAMPLE = "lantern_first_pass.obj"


class Dialogs(QObject):
    """Opens dialogs over the window and hands what they bring to the session."""

    def __init__(self, session: Session, settings: Settings, window: QWidget) -> None:
        super().__init__(window)
        self._session, self._settings, self._window = session, settings, window

    def open_file(self) -> None:
        """Ask for a mesh and open it."""
        recent = self._settings.recent
        folder = str(recent[0].parent) if recent else ""
        patterns = self.tr("Meshes ({patterns})").format(patterns=FILE_PATTERNS)
        name, _ = QFileDialog.getOpenFileName(
            self._window, self.tr("Open a mesh"), folder, f"{patterns};;{self.tr('All files (*)')}"
        )
        if name:
            self._session.open(Path(name))

    def open_sample(self) -> None:
        """Open the harbour lantern."""
        self._session.open(sample_assets() / SAMPLE)

    def edit_limits(self) -> None:
        """Open the limits."""
        LimitsDialog(self._session, self._window).open()

    def merge_materials(self) -> None:
        """Ask which materials share a layout."""
        review = self._session.review
        if review is None:
            return
        grouping = self._session.grouping
        names = review.asset.material_names
        dialog = MergeDialog(names, grouping.merged, self._window)
        dialog.accepted.connect(
            lambda: self._session.choose_grouping(Grouping(grouping.uv_set, dialog.merged))
        )
        dialog.open()

    def tell_about(self) -> None:
        """Say what this is, which version, and whose colours it wears."""
        box = QMessageBox(self._window)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        box.setWindowTitle(self.tr("About Evenweave"))
        box.setIconPixmap(self._window.windowIcon().pixmap(QSize(64, 64)))
        box.setText(self.tr("Evenweave {version}").format(version=__version__))
        box.setInformativeText(
            self.tr(
                "Measures UV layouts, island by island, and explains every finding. "
                "It reads files and never changes them.\n\n"
                "The colour maps are Peter Kovesi's CET maps, CC BY 4.0."
            )
        )
        box.open()

    def show_keys(self, actions: Actions) -> None:
        """Open the keyboard sheet."""
        KeyboardSheet(actions.listed, self._window).open()
