"""The upper bar: which layout is looked at, by which UV set, at which tile size."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QToolButton, QWidget

from evenweave.layout.unread import unread_sets
from evenweave.limits.limits import PURPOSES
from evenweave.pipeline import Grouping
from evenweave.window.parts.flow import FlowLayout
from evenweave.window.parts.palette import GRID
from evenweave.window.parts.words import material_word, purpose_word, tile_word
from evenweave.window.services.session import Session

TILE_SIZES = (256, 512, 1024, 2048, 4096, 8192)


class LayoutBar(QWidget):
    """Choosers of layout, UV set, tile size and purpose, and buttons for the given actions."""

    def __init__(
        self, session: Session, actions: tuple[QAction, ...], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._session = session
        self.layouts = _chooser(self, self.tr("Layout"), 20)
        self.uv_sets = _chooser(self, self.tr("UV set"), 8)
        self.tiles = _chooser(self, self.tr("Tile size in texels"), 8)
        self.purposes = _chooser(self, self.tr("Purpose of the layout"), 16)
        row = FlowLayout(self)
        for label, chooser in (
            (self.tr("&Layout"), self.layouts),
            (self.tr("&UV set"), self.uv_sets),
            (self.tr("&Tile"), self.tiles),
            (self.tr("Purpo&se"), self.purposes),
        ):
            row.addWidget(labelled(label, chooser, self))
        for action in actions:
            button = QToolButton(self)
            button.setDefaultAction(action)
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            row.addWidget(button)
        self.layouts.activated.connect(session.choose_layout)
        self.uv_sets.activated.connect(self._on_uv_sets_activated)
        self.tiles.activated.connect(self._on_tiles_activated)
        self.purposes.activated.connect(self._on_purposes_activated)
        session.layout_chosen.connect(self._on_session_layout_chosen)
        session.lane.ended.connect(self._on_session_layout_chosen)
        self._on_session_layout_chosen()

    def _on_session_layout_chosen(self) -> None:
        review, shown = self._session.review, self._session.shown
        for chooser in (self.layouts, self.uv_sets, self.tiles, self.purposes):
            chooser.setEnabled(shown is not None)
            chooser.clear()
        if review is None or shown is None:
            return
        for one in review.layouts:
            self.layouts.addItem(material_word(one.layout.name))
        self.layouts.setCurrentIndex(self._session.layout_index)
        names = [one.name for one in review.asset.uv_sets]
        self.uv_sets.addItems(names)
        used = self._session.grouping.uv_set or shown.layout.uv_set
        self.uv_sets.setCurrentIndex(names.index(used) if used in names else -1)
        if self._session.grouping.uv_set is not None:
            self.uv_sets.addItem(self.tr("as textures read"))
        self.uv_sets.setEnabled(len(names) > 1)
        unread = unread_sets(review.asset, (one.layout for one in review.layouts))
        self.uv_sets.setToolTip("\n".join(one.words() for one in unread))
        self.layouts.setToolTip(material_word(shown.layout.reads()) if shown.layout.slots else "")
        self._fill_tiles()
        for purpose in PURPOSES:
            self.purposes.addItem(purpose_word(purpose), purpose)
        self.purposes.setCurrentIndex(self.purposes.findData(shown.purpose))

    def _fill_tiles(self) -> None:
        shown = self._session.shown
        assert shown is not None
        present = (shown.measures.tile.width, shown.measures.tile.height)
        sizes = sorted({present, *((side, side) for side in TILE_SIZES)})
        for size in sizes:
            self.tiles.addItem(tile_word(*size), size)
        self.tiles.setCurrentIndex(sizes.index(present))

    def _on_uv_sets_activated(self, index: int) -> None:
        review = self._session.review
        if review is not None:
            names = [one.name for one in review.asset.uv_sets]
            chosen = names[index] if index < len(names) else None
            self._session.choose_grouping(Grouping(chosen, self._session.grouping.merged))

    def _on_tiles_activated(self, index: int) -> None:
        width, height = self.tiles.itemData(index)
        limits = replace(
            self._session.limits, tile_width=width, tile_height=height, tile_from_texture=False
        )
        self._session.edit_limits(limits, self.tr("tile size"))

    def _on_purposes_activated(self, index: int) -> None:
        self._session.choose_purpose(PURPOSES[index])


def labelled(text: str, field: QWidget, parent: QWidget) -> QWidget:
    """Return the field with its label, whose mnemonic leads to it."""
    pair = QWidget(parent)
    label = QLabel(text, pair)
    label.setBuddy(field)
    row = QHBoxLayout(pair)
    row.setContentsMargins(0, 0, 0, 0)
    row.setSpacing(GRID // 2)
    row.addWidget(label)
    row.addWidget(field)
    return pair


def _chooser(parent: QWidget, name: str, letters: int) -> QComboBox:
    chooser = QComboBox(parent)
    chooser.setAccessibleName(name)
    chooser.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
    chooser.setMaximumWidth(letters * 2 * GRID)
    return chooser
