"""`Session`: the store and the services that work on it, put together; what views talk to."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, Signal

from evenweave.check.finding import Finding
from evenweave.limits.limits import Limits
from evenweave.picture.scene.scene import Scene
from evenweave.pipeline import Grouping, LayoutReview, Review
from evenweave.raster.look import Look
from evenweave.window.services.advising import Advising
from evenweave.window.services.live import LiveReading
from evenweave.window.services.notebook import Notebook
from evenweave.window.services.passes import Passes
from evenweave.window.services.reading import Reading
from evenweave.window.services.trials import Trials
from evenweave.window.state import open as steps
from evenweave.window.state.island_rows import IslandRows
from evenweave.window.state.lane import Lane
from evenweave.window.state.open import Open
from evenweave.window.state.preparation import Prepared
from evenweave.window.state.store import Store


class Session(QObject):
    """What views ask and hear. All that is known stands in `store.now`; its signals tell changes.

    place_asked() : the views should show the chosen finding's place
    framing_asked(islands) : the views should frame these islands, or the tile if there are none
    """

    place_asked = Signal()
    framing_asked = Signal(object)

    def __init__(self, *, look: Look | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.store = store = Store(look, self)
        self.pictures, self.exports = Lane(self), Lane(self)
        self.colouring, self.placing, self.walking = Lane(self), Lane(self), Lane(self)
        self.may_leave: Callable[[], bool] = lambda: True
        self.reading = Reading(store, self._may_go, self)
        self.notebook = Notebook(store, self)
        self.trials = Trials(store, self)
        self.advising = Advising(store, self)
        self.passes = Passes(store, self)
        self.live = LiveReading(
            store,
            is_busy=lambda: self.reading.lane.is_busy,
            is_unsaved=lambda: self.trials.is_unsaved,
            parent=self,
        )
        self.reading.read_again.connect(self.passes.take)
        self.live.came.connect(self.passes.take)
        self.trials.changed.connect(self.live.follow_trials)
        self.lane, self.undo_stack = self.reading.lane, store.undo_stack
        self.review_replaced, self.layout_chosen = store.review_replaced, store.layout_chosen
        self.selection_changed, self.hover_changed = store.selection_changed, store.hover_changed
        self.finding_chosen, self.look_changed = store.finding_chosen, store.look_changed
        self.problem_met = store.problem_met
        self.open, self.reread = self.reading.open, self.reading.reread
        self.choose_grouping = self.reading.choose_grouping
        self.choose_unit, self.choose_purpose = (
            self.reading.choose_unit,
            self.reading.choose_purpose,
        )
        self.edit_limits = self.reading.edit_limits
        self.take_limits_file, self.cancel = self.reading.take_limits_file, self.reading.cancel
        self.undo, self.redo = store.undo, store.redo

    @property
    def now(self) -> Open:
        """Everything that is open."""
        return self.store.now

    @property
    def original(self) -> Review | None:
        """The review of the file as it is, or None before the first file."""
        return self.now.file.review if self.now.file else None

    @property
    def pass_now(self) -> Prepared | None:
        """The file as it is, ready for the views, whatever is being tried on it."""
        return self.now.file

    @property
    def review(self) -> Review | None:
        """The review shown, of the file or of a trial, or None before the first file."""
        return self.now.review

    @property
    def rows(self) -> IslandRows | None:
        """The shown layout's islands as a table."""
        return self.now.rows

    @property
    def scene(self) -> Scene | None:
        """The review ready to be drawn."""
        return self.now.showing.scene if self.now.showing else None

    @property
    def opening(self) -> Path | None:
        """The file that is being opened."""
        return self.reading.opening

    @property
    def limits(self) -> Limits:
        """The limits in force; the review follows as soon as it is measured."""
        return self.now.limits

    @property
    def limits_path(self) -> Path | None:
        """The limits file that applies, or None where the program's defaults do."""
        return self.now.found.path

    @property
    def grouping(self) -> Grouping:
        """Which layouts are looked at."""
        return self.now.grouping

    @property
    def layout_index(self) -> int:
        """Which layout of the review is shown."""
        return self.now.layout_index

    @property
    def shown(self) -> LayoutReview | None:
        """The layout shown, or None."""
        return self.now.shown

    @property
    def selection(self) -> tuple[int, ...]:
        """Selected islands, ascending."""
        return self.now.selection

    @property
    def hover(self) -> int:
        """The island under the pointer, or -1."""
        return self.now.hover

    @property
    def finding(self) -> Finding | None:
        """The finding being explained."""
        return self.now.finding

    @property
    def look(self) -> Look:
        """What the views draw."""
        return self.now.look

    def close(self) -> None:
        """Write what is not kept yet and end the background work."""
        for service in (self.live, self.passes, self.notebook, self.advising, self.trials):
            service.close()
        self.reading.close()
        for lane in (self.pictures, self.exports, self.colouring, self.placing, self.walking):
            lane.close()
        self.undo_stack.blockSignals(True)  # it tells of its own end when nobody listens any more

    # Looking.

    def choose_layout(self, index: int) -> None:
        """Show another layout of the review."""
        review = self.review
        if review is not None and index != self.layout_index and 0 <= index < len(review.layouts):
            self.store.put(steps.layout_chosen(self.now, index))

    def select(self, islands: Iterable[int]) -> None:
        """Select islands; the explanation follows to their gravest finding."""
        selection = tuple(sorted(set(islands)))
        if selection != self.selection:
            self.store.put(steps.selected(self.now, selection))

    def point_at(self, island: int) -> None:
        """Note the island under the pointer, -1 for none."""
        if island != self.hover:
            self.store.put(replace(self.now, hover=island))

    def choose_finding(self, finding: Finding | None) -> None:
        """Explain a finding and select its islands."""
        self.store.put(steps.finding_chosen(self.now, finding))

    def explain(self, finding: Finding) -> None:
        """Explain a finding and leave the selection as it is."""
        self.store.put(replace(self.now, finding=finding))

    def step_finding(self, step: int) -> None:
        """Explain the next (1) or previous (-1) finding as they are listed, and show its place."""
        findings = self.now.listed
        if not findings:
            return
        places = [k for k, one in enumerate(findings) if one is self.finding]
        start = places[0] if places else (-1 if step > 0 else 0)
        self.choose_finding(findings[(start + step) % len(findings)])
        self.place_asked.emit()

    def ask_place(self) -> None:
        """Ask the views to show the chosen finding's place."""
        if self.finding is not None:
            self.place_asked.emit()

    def ask_framing(self) -> None:
        """Ask the views to frame the selection, or everything where nothing is selected."""
        self.framing_asked.emit(self.selection)

    def ask_overview(self) -> None:
        """Ask the views to frame everything."""
        self.framing_asked.emit(())

    def change_look(self, **changes: Any) -> None:
        """Draw the views differently."""
        self.store.put(replace(self.now, look=replace(self.look, **changes)))

    def _may_go(self) -> bool:
        return not self.trials.is_unsaved or self.may_leave()
