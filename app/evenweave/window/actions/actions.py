"""Everything one can do, as actions with keys: the menus, bars and the keyboard sheet use them."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QWidget

from evenweave.picture.scene.layers import mip_levels
from evenweave.raster.look import COLOURS
from evenweave.window.parts.words import colours_word
from evenweave.window.services.session import Session

Act = Callable[[], object]
FIRST_MIP = 3


class Actions(QObject):
    """Actions that need the session alone; the window adds those that need the window.

    `listed` holds every action in the order of the keyboard sheet, by heading.
    """

    def __init__(self, session: Session, window: QWidget) -> None:
        super().__init__(window)
        self.session, self._window = session, window
        self.listed: dict[str, list[QAction]] = {}
        self._add_findings()
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

    def _add_findings(self) -> None:
        session, heading = self.session, self.tr("Findings")
        self.next_finding = self.add(
            heading, self.tr("&Next finding"), lambda: session.step_finding(1), key="."
        )
        self.previous_finding = self.add(
            heading, self.tr("P&revious finding"), lambda: session.step_finding(-1), key=","
        )
        self.show_place = self.add(
            heading, self.tr("Show the finding's &place"), session.ask_place, key="P"
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
            self._add_toggle("texel_grid", self.tr("&Texel grid"), "T"),
            self._add_toggle("flips", self.tr("&Flips"), "F"),
            self._add_toggle("halos", self.tr("Padding &zones"), "H"),
            self._add_toggle("seam_kinds", self.tr("Problem &seams"), "K"),
        )
        self.mips = self._add_mips()

    def _add_toggle(self, name: str, text: str, key: str) -> QAction:
        tips = {
            "checker": self.tr("Checker on both views"),
            "seams": self.tr("Seam lines"),
            "edges": self.tr("Edges of the polygons"),
            "ellipses": self.tr("Ellipses of distortion"),
            "texel_grid": self.tr("Texel grid when close"),
            "flips": self.tr("Hatching on flipped triangles"),
            "halos": self.tr("Required padding and margin round islands"),
            "seam_kinds": self.tr(
                "Hard edges without a seam, seams on flat ground, non-manifold edges"
            ),
        }
        action = self.add(self.tr("Look"), text, lambda: None, key=key, tip=tips[name])
        action.setCheckable(True)
        action.setData(name)
        action.toggled.connect(lambda on: self.session.change_look(**{name: on}))
        return action

    def _add_mips(self) -> QAction:
        """Add the toggle of mip blocks and the keys that change their level."""
        heading = self.tr("Look")
        toggle = self.add(
            heading, self.tr("Mip &blocks"), lambda: None, key="M",
            tip=self.tr("Texel blocks of a mip level; those of several islands are crossed"),
        )  # fmt: skip
        toggle.setCheckable(True)
        toggle.toggled.connect(self._on_mips_toggled)
        self.coarser = self.add(
            heading, self.tr("Coarser mip level"), partial(self._step_mip, 1), key="U"
        )
        self.finer = self.add(
            heading, self.tr("Finer mip level"), partial(self._step_mip, -1), key="J"
        )
        return toggle

    def _on_mips_toggled(self, on: bool) -> None:
        if on != (self.session.look.mip is not None):
            self.session.change_look(mip=FIRST_MIP if on else None)

    def _step_mip(self, step: int) -> None:
        level, scene = self.session.look.mip, self.session.scene
        if level is None or scene is None or not scene.flats:
            self.session.change_look(mip=FIRST_MIP)
            return
        flat = scene.flats[self.session.layout_index]
        levels = mip_levels(flat.review.measures.tile, len(flat.tiles))
        level = min(max(level, levels.start), levels.stop - 1) + step
        self.session.change_look(mip=min(max(level, levels.start), levels.stop - 1))

    def _on_clear_triggered(self) -> None:
        if self.session.lane.is_busy:
            self.session.cancel()
        elif self.session.trials.lane.is_busy:
            self.session.trials.cancel()
        else:
            self.session.select(())
            self.session.choose_finding(None)

    def _on_session_layout_chosen(self) -> None:
        shown = self.session.shown
        for action in (self.next_finding, self.previous_finding, self.show_place):
            action.setEnabled(bool(shown and shown.findings))

    def _on_session_look_changed(self) -> None:
        look = self.session.look
        for action in self.colours.actions():
            action.setChecked(action.data() == look.colours)
        for action in (self.checker, *self.toggles):
            action.setChecked(bool(getattr(look, action.data())))
        self.mips.setChecked(look.mip is not None)
