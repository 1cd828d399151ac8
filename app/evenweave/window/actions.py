"""Everything one can do, as actions with keys: the menus, bars and the keyboard sheet use them."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QWidget

from evenweave.raster.look import COLOURS
from evenweave.window.session import Session
from evenweave.window.words import colours_word

Act = Callable[[], object]


class Actions(QObject):
    """Actions that need the session alone; the window adds those that need the window.

    `listed` holds every action in the order of the keyboard sheet, by heading.
    """

    def __init__(self, session: Session, window: QWidget) -> None:
        super().__init__(window)
        self.session, self._window = session, window
        self.listed: dict[str, list[QAction]] = {}
        self._add_warnings()
        self._add_views()
        self._add_look()
        session.layout_chosen.connect(self._on_session_layout_chosen)
        session.look_changed.connect(self._on_session_look_changed)
        self._on_session_look_changed()
        self._on_session_layout_chosen()

    def add(self, heading: str, text: str, act: Act, *, key: str = "", tip: str = "") -> QAction:
        """Make an action, active anywhere in the window."""
        action = QAction(text, self)
        if key:
            action.setShortcut(QKeySequence(key))
        plain = tip or text.replace("&", "").rstrip("…")
        shown = action.shortcut().toString(QKeySequence.SequenceFormat.NativeText)
        action.setToolTip(f"{plain} ({shown})" if key else plain)
        action.triggered.connect(lambda _=False: act())
        self._window.addAction(action)
        self.listed.setdefault(heading, []).append(action)
        return action

    def _add_warnings(self) -> None:
        session, heading = self.session, self.tr("Warnings")
        self.next_warning = self.add(
            heading, self.tr("&Next warning"), lambda: session.step_warning(1), key="."
        )
        self.previous_warning = self.add(
            heading, self.tr("P&revious warning"), lambda: session.step_warning(-1), key=","
        )
        self.show_place = self.add(
            heading, self.tr("Show the warning's &place"), session.ask_place, key="P"
        )

    def _add_views(self) -> None:
        session, heading = self.session, self.tr("Views")
        self.frame = self.add(
            heading, self.tr("Frame the &selection"), session.ask_framing, key="Z"
        )
        self.overview = self.add(
            heading, self.tr("Show &everything"), session.ask_overview, key="A"
        )
        self.clear = self.add(
            heading, self.tr("Select nothing"), self._on_clear_triggered, key="Esc",
            tip=self.tr("Stop running work, else select nothing"),
        )  # fmt: skip

    def _add_look(self) -> None:
        session, heading = self.session, self.tr("Look")
        self.colours = QActionGroup(self)
        for number, colours in enumerate(COLOURS, start=1):
            action = self.add(
                heading, colours_word(colours),
                partial(session.change_look, colours=colours, brush=None),
                key=str(number),
            )  # fmt: skip
            action.setCheckable(True)
            action.setData(colours)
            self.colours.addAction(action)
        self.checker = self._add_toggle("checker", self.tr("&Checker"), "C")
        self.toggles = (
            self._add_toggle("seams", self.tr("Sea&ms"), "S"),
            self._add_toggle("edges", self.tr("&Edges"), "E"),
            self._add_toggle("ellipses", self.tr("Elli&pses"), "D"),
            self._add_toggle("texel_grid", self.tr("&Texels"), "T"),
            self._add_toggle("flips", self.tr("&Flips"), "F"),
        )

    def _add_toggle(self, name: str, text: str, key: str) -> QAction:
        tips = {
            "checker": self.tr("Checker on both views"),
            "seams": self.tr("Seam lines"),
            "edges": self.tr("Edges of the polygons"),
            "ellipses": self.tr("Ellipses of distortion"),
            "texel_grid": self.tr("Texel grid when close"),
            "flips": self.tr("Hatching on flipped triangles"),
        }
        action = self.add(self.tr("Look"), text, lambda: None, key=key, tip=tips[name])
        action.setCheckable(True)
        action.setData(name)
        action.toggled.connect(lambda on: self.session.change_look(**{name: on}))
        return action

    def _on_clear_triggered(self) -> None:
        if self.session.lane.is_busy:
            self.session.cancel()
        else:
            self.session.select(())
            self.session.choose_warning(None)

    def _on_session_layout_chosen(self) -> None:
        shown = self.session.shown
        for action in (self.next_warning, self.previous_warning, self.show_place):
            action.setEnabled(bool(shown and shown.warnings))

    def _on_session_look_changed(self) -> None:
        look = self.session.look
        for action in self.colours.actions():
            action.setChecked(action.data() == look.colours)
        for action in (self.checker, *self.toggles):
            action.setChecked(bool(getattr(look, action.data())))
