"""The middle: canvas and 3D view above or beside each other, linked, with their colour bar."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QEvent, QObject, QPoint, Qt, Signal
from PySide6.QtWidgets import QSplitter, QStackedWidget, QVBoxLayout, QWidget

from evenweave.check.finding import Finding
from evenweave.measure.results import WorstSpot
from evenweave.notes.locating import Spot
from evenweave.picture.coloured import Coloured, coloured
from evenweave.picture.lettering.pins import letters, note_pins
from evenweave.picture.scene.places import flat_places, solid_places
from evenweave.picture.scene.scene import Bounds
from evenweave.progress import Progress
from evenweave.raster.camera import Orbit
from evenweave.window.bars.colour_bar import ColourBar
from evenweave.window.bars.layer_bar import LayerBar
from evenweave.window.bars.look_bar import LookBar
from evenweave.window.parts.turns import Turns
from evenweave.window.services.session import Session
from evenweave.window.state.ghosts import flat_lines, solid_lines
from evenweave.window.state.lane import Lane
from evenweave.window.views.canvas import UvCanvas
from evenweave.window.views.seam_pointer import SeamPointer
from evenweave.window.views.solid_view import SolidView
from evenweave.window.views.spot_walk import SpotWalk
from evenweave.window.views.without_uvs import WithoutUvs


class Views(QWidget):
    """Keeps canvas, 3D view and colour bar in step with the session.

    Colours are worked out in the background; until they are there the views show what they
    showed, and do not answer the pointer for it.
    cursor_moved(u, v, triangle) : u is NaN where the pointer left
    pin_clicked(mark); menu_asked(global position, u, v, triangle, mark of a pin or "")
    """

    cursor_moved = Signal(float, float, int)
    pin_clicked = Signal(str)
    menu_asked = Signal(QPoint, float, float, int, str)

    def __init__(self, session: Session, look_bar: LookBar, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._colouring: Lane = session.colouring
        self._drawn: Coloured | None = None
        self._place: tuple[Path, str] | None = None
        self._wanted_spot: Spot | None = None
        self._is_outdated = False
        self.turns = Turns(self)
        self.canvas = UvCanvas(self)
        self.solid = self.solid_panel = SolidView(self)
        self.bar = ColourBar(self)
        self.layers = LayerBar(session, self)
        self.seams = SeamPointer(self.canvas, self.solid, self)
        self.walk = SpotWalk(session, self)
        self.without_uvs = WithoutUvs(self)
        self.canvas_panel = QStackedWidget(self)
        self.canvas_panel.setProperty("role", "frame")
        self.canvas.installEventFilter(self)
        self.canvas_panel.addWidget(self.canvas)
        self.canvas_panel.addWidget(self.without_uvs)
        self.splitter = QSplitter(Qt.Orientation.Vertical, self)
        self.splitter.addWidget(self.canvas_panel)
        self.splitter.addWidget(self.solid_panel)
        self.splitter.setChildrenCollapsible(False)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(look_bar)
        column.addWidget(self.layers)
        column.addWidget(self.splitter, 1)
        column.addWidget(self.bar)
        self._connect()

    def _connect(self) -> None:
        session = self._session
        session.layout_chosen.connect(self._on_session_layout_chosen)
        session.look_changed.connect(self._colour)
        session.selection_changed.connect(self._on_session_selection_changed)
        session.hover_changed.connect(self._on_session_hover_changed)
        session.finding_chosen.connect(self._on_session_finding_chosen)
        session.place_asked.connect(self._on_session_place_asked)
        session.framing_asked.connect(self._on_session_framing_asked)
        for view in (self.canvas, self.solid):
            view.island_hovered.connect(self._on_view_island_hovered)
            view.island_clicked.connect(self._on_view_island_clicked)
            view.cursor_moved.connect(self._on_view_cursor_moved)
            view.pin_clicked.connect(self.pin_clicked)
            view.menu_asked.connect(self._on_view_menu_asked)
        self.walk.spot_chosen.connect(self._on_walk_spot_chosen)
        session.notebook.changed.connect(self._show_pins)
        session.notebook.note_chosen.connect(self._show_pins)
        session.notebook.place_asked.connect(self._on_notebook_place_asked)
        session.advising.ghost_changed.connect(self._show_ghost)
        self.bar.range_brushed.connect(lambda low, high: session.change_look(brush=(low, high)))
        self.bar.cleared.connect(lambda: session.change_look(brush=None))

    @property
    def bounds(self) -> Bounds:
        """u0, v0, u1, v1 of the texture that the canvas shows."""
        return self.canvas.bounds

    @property
    def camera(self) -> Orbit:
        """Where the object is seen from."""
        return self.solid.picture.camera

    @property
    def is_current(self) -> bool:
        """Whether what is drawn is what the session shows."""
        drawn, session = self._drawn, self._session
        if drawn is None or drawn.scene is not session.scene:
            return False
        return drawn.layout_index == session.layout_index

    def set_beside(self, is_beside: bool) -> None:
        """Put the views beside each other instead of one above the other."""
        horizontal, vertical = Qt.Orientation.Horizontal, Qt.Orientation.Vertical
        self.splitter.setOrientation(horizontal if is_beside else vertical)

    def _colour(self) -> None:
        """Have the colours worked out; what is asked for meanwhile is seen to afterwards."""
        scene = self._session.scene
        self._is_outdated = self._colouring.is_busy
        if scene is None or not scene.flats or self._is_outdated:
            return
        index, look, previous = self._session.layout_index, self._session.look, self._drawn

        def work(progress: Progress) -> Coloured:
            return coloured(scene, index, look, previous=previous)

        self._colouring.submit(work, self._draw)

    def _draw(self, drawn: Coloured) -> None:
        """Draw other colours; where one looks stays, as far as it is the same thing."""
        path, name = drawn.scene.review.asset.path, drawn.flat.layout.name
        if self._drawn is None or drawn.flat.layout is not self._drawn.flat.layout:
            self._clear_marks()
        is_same_file = self._place is not None and self._place[0] == path
        if self._place == (path, name):
            self.canvas.set_colours(drawn)
        else:
            self.canvas.show_layout(drawn)
        if is_same_file:
            self.solid.set_colours(drawn)
        else:
            self.solid.show_layout(drawn)
        has_islands = drawn.flat.layout.island_count > 0
        self.bar.show_colours(drawn if has_islands else None)
        self.layers.show_colours(drawn if has_islands else None)
        self._drawn, self._place = drawn, (path, name)
        if self.is_current:
            self._on_session_selection_changed()
            self._on_session_hover_changed()
            self._on_session_finding_chosen()
            self._show_pins()
            self._show_ghost()
            if self._wanted_spot is not None:
                self._on_notebook_place_asked(self._wanted_spot)
        if self._is_outdated or not self.is_current:
            self._colour()
        self.turns.hold([self.solid])

    def _on_session_layout_chosen(self) -> None:
        shown = self._session.shown
        has_islands = shown is not None and shown.layout.island_count > 0
        self.canvas_panel.setCurrentIndex(0 if has_islands else 1)
        if shown is not None and not has_islands:
            self.without_uvs.tell(len(shown.layout.missing_face), len(shown.layout.unusable_face))
        self._session.placing.cancel()
        self.seams.clear()
        self._colour()

    def _clear_marks(self) -> None:
        """Take marks away with the layout whose islands they count."""
        for view in (self.canvas, self.solid):
            view.set_selection(())
            view.set_hover(-1)
            view.show_places(None)
            view.set_pins((), "")
            view.set_ghost(())

    def _show_pins(self) -> None:
        """Show the notes on this layout."""
        if not self.is_current:
            return
        notebook = self._session.notebook
        chosen = letters(notebook.number(notebook.chosen.id)) if notebook.chosen else ""
        pins = note_pins(notebook.found, self._session.layout_index, labels=False)
        for view in (self.canvas, self.solid):
            view.set_pins(pins, chosen)

    def _show_ghost(self) -> None:
        """Draw what could be, over the layout it belongs to."""
        shown = self._session.shown
        ghost = self._session.advising.ghost if self.is_current else None
        self.canvas.set_ghost(flat_lines(ghost))
        self.solid.set_ghost(solid_lines(ghost, shown.layout) if shown is not None else ())
        self._on_session_finding_chosen()

    def _on_session_selection_changed(self) -> None:
        if self.is_current:
            for view in (self.canvas, self.solid):
                view.set_selection(self._session.selection)

    def _on_session_hover_changed(self) -> None:
        if self.is_current:
            for view in (self.canvas, self.solid):
                view.set_hover(self._session.hover)

    def _on_session_finding_chosen(self) -> None:
        if not self.is_current or self._drawn is None:
            return
        finding, flat = self._session.finding, self._drawn.flat
        if finding is None or self._session.advising.ghost is not None:
            # A warning's places would hide what could be.
            self._session.placing.cancel()
            self._show_places(None)
            return

        def work(progress: Progress) -> Finding:
            # Both keep their last answers, so that drawing does not look for places again.
            flat_places(flat, finding)
            solid_places(flat, finding)
            return finding

        self._session.placing.submit(work, self._show_places)

    def _show_places(self, finding: Finding | None) -> None:
        if self.is_current:
            for view in (self.canvas, self.solid):
                view.show_places(finding)

    def _on_session_place_asked(self) -> None:
        finding = self._session.finding
        if finding is not None and self.is_current:
            for view in (self.canvas, self.solid):
                view.frame_places(finding)

    def _on_session_framing_asked(self, islands: tuple[int, ...]) -> None:
        if self.is_current:
            self.canvas.frame(islands)
            self.solid.frame(islands)

    def _on_walk_spot_chosen(self, spot: WorstSpot | None) -> None:
        if self.is_current or spot is None:
            self.canvas.show_spot(spot)
            self.solid.show_spot(spot)

    def _on_notebook_place_asked(self, spot: Spot) -> None:
        """Show a note's place, on another layout if it is there."""
        self._wanted_spot = spot
        self._session.choose_layout(spot.layout)
        if not self.is_current or self._drawn is None:
            return
        self._wanted_spot = None
        self.canvas.frame_spot(spot.uv, spot.island)
        self.solid.frame((spot.island,))

    def _on_view_menu_asked(
        self, position: QPoint, u: float, v: float, triangle: int, mark: str
    ) -> None:
        if self.is_current:
            self.menu_asked.emit(position, u, v, triangle, mark)

    def _on_view_island_hovered(self, island: int) -> None:
        if self.is_current:
            self._session.point_at(island)

    def _on_view_island_clicked(self, island: int, modifiers: Qt.KeyboardModifier) -> None:
        """Select one island; with Ctrl add it or take it away, with Shift add it."""
        if not self.is_current:
            return
        chosen = set(self._session.selection)
        if modifiers & Qt.KeyboardModifier.ControlModifier:
            chosen ^= {island} - {-1}
        elif modifiers & Qt.KeyboardModifier.ShiftModifier:
            chosen |= {island} - {-1}
        else:
            chosen = {island} - {-1}
        self._session.select(chosen)

    def _on_view_cursor_moved(self, u: float, v: float, triangle: int) -> None:
        if self.is_current:
            self.cursor_moved.emit(u, v, triangle)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Frame the canvas while it has the focus; its own border would cut its axes."""
        focus, panel = (QEvent.Type.FocusIn, QEvent.Type.FocusOut), self.canvas_panel
        if watched is self.canvas and event.type() in focus:
            panel.setProperty("has_focus", event.type() == focus[0])
            panel.style().unpolish(panel)
            panel.style().polish(panel)
        return super().eventFilter(watched, event)
