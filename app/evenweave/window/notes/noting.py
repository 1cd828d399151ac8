"""Putting notes on places: at the pointer, by a view's menu, or on the selected island."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QObject, QPoint, Signal
from PySide6.QtWidgets import QMenu

from evenweave.layout.layout import Layout
from evenweave.notes.locating import Spot
from evenweave.notes.place import (
    Place,
    middle_triangle,
    place_in_texture,
    place_of_island,
    place_on_face,
)
from evenweave.notes.store import NoteKind
from evenweave.picture.lettering.pins import letters
from evenweave.window.services.session import Session
from evenweave.window.views.views import Views


@dataclass(frozen=True)
class _Pointer:
    """A triangle of the layout shown, and where in the texture it is pointed to."""

    u: float
    v: float
    triangle: int


class Noting(QObject):
    """Knows where the pointer is and makes notes there.

    told(sentence) : why there is no note
    """

    told = Signal(str)

    def __init__(self, session: Session, views: Views, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session, self._views = session, views
        self._pointer: _Pointer | None = None
        views.cursor_moved.connect(self._on_views_cursor_moved)
        views.pin_clicked.connect(self.choose_mark)
        views.menu_asked.connect(self._on_views_menu_asked)
        session.layout_chosen.connect(self._forget_pointer)

    def put(self, kind: NoteKind = "point") -> None:
        """Put a note at the pointer; on the selected island where it points to nothing."""
        pointer = self._pointer
        if pointer is not None:
            self._put_at(pointer, kind)
            return
        island = self._selected()
        if island is None:
            self.told.emit(
                self.tr("Point at a place of the layout or the object, or select an island.")
            )
        else:
            self._put_on(island)

    def choose_mark(self, mark: str) -> None:
        """Read the note that has a pin's letters."""
        notebook = self._session.notebook
        for number, note in enumerate(notebook.store.notes):
            if letters(number) == mark:
                notebook.choose(note.id)
                notebook.writing_asked.emit()

    def move_to_selected(self) -> None:
        """Pin the chosen note to the selected island."""
        notebook, island = self._session.notebook, self._selected()
        if notebook.chosen is None:
            return
        if island is None:
            self.told.emit(self.tr("Select the island that the note belongs to."))
            return
        notebook.move(notebook.chosen.id, *self._on_island(island))

    def menu(self, u: float, v: float, triangle: int, mark: str) -> QMenu:
        """Return the menu of a place; the caller shows it and disposes of it."""
        menu = QMenu(self._views)
        if mark:
            read = menu.addAction(self.tr("&Read note {mark}").format(mark=mark))
            read.triggered.connect(lambda: self.choose_mark(mark))
            menu.addSeparator()
        pointer = None if triangle < 0 or math.isnan(u) else _Pointer(u, v, triangle)
        texts: tuple[tuple[NoteKind, str], ...] = (
            ("point", self.tr("Note on this &point")),
            ("face", self.tr("Note on this &face")),
            ("island", self.tr("Note on this &island")),
        )
        for kind, text in texts:
            action = menu.addAction(text)
            action.setEnabled(pointer is not None and self._session.notebook.is_ready)
            action.triggered.connect(lambda _=False, kind=kind: self._put_at(pointer, kind))
        menu.addSeparator()
        selected = menu.addAction(self.tr("Note on the &selected island"))
        selected.setEnabled(self._selected() is not None)
        selected.triggered.connect(lambda: self._put_on(self._selected()))
        return menu

    def _put_at(self, pointer: _Pointer | None, kind: NoteKind) -> None:
        if pointer is None or not self._session.notebook.is_ready:
            return
        layout = self._layout()
        place = place_in_texture(layout, pointer.triangle, (pointer.u, pointer.v))
        island = int(layout.face_island[layout.triangle_face[pointer.triangle]])
        spot = self._spot(layout, place, island, pointer.triangle)
        self._add(kind, self._in_file(place, pointer.triangle), spot)

    def _put_on(self, island: int | None) -> None:
        if island is None or not self._session.notebook.is_ready:
            return
        self._add("island", *self._on_island(island))

    def _on_island(self, island: int) -> tuple[Place, Spot]:
        layout = self._layout()
        place = place_of_island(layout, island)
        spot = self._spot(layout, place, island, -1)
        return self._in_file(place, middle_triangle(layout, island)), spot

    def _in_file(self, place: Place, triangle: int) -> Place:
        """Return the place as the file has it, also where a trial shows it elsewhere.

        Faces keep their numbers in a trial; their triangles, and islands, may not.
        """
        original = self._session.original
        if original is None or not self._session.trials.is_after:
            return place
        face = int(self._layout().triangle_face[triangle])
        layout = original.layouts[self._session.layout_index].layout
        return place_on_face(layout, face, np.asarray(place.point_m))

    def _add(self, kind: NoteKind, place: Place, spot: Spot) -> None:
        self._session.notebook.add(kind, place, spot)
        self._session.notebook.writing_asked.emit()

    def _layout(self) -> Layout:
        shown = self._session.shown
        assert shown is not None
        return shown.layout

    def _selected(self) -> int | None:
        selection = self._session.selection
        return selection[0] if len(selection) == 1 else None

    def _spot(self, layout: Layout, place: Place, island: int, triangle: int) -> Spot:
        face = int(layout.triangle_face[triangle]) if triangle >= 0 else -1
        return Spot(self._session.layout_index, island, triangle, face, place.point_m, place.uv)

    def _forget_pointer(self) -> None:
        self._pointer = None

    def _on_views_cursor_moved(self, u: float, v: float, triangle: int) -> None:
        is_over = triangle >= 0 and not math.isnan(u)
        self._pointer = _Pointer(u, v, triangle) if is_over else None

    def _on_views_menu_asked(
        self, position: QPoint, u: float, v: float, triangle: int, mark: str
    ) -> None:
        menu = self.menu(u, v, triangle, mark)
        menu.aboutToHide.connect(menu.deleteLater)
        menu.popup(position)
