"""`Session`: the one place that knows what is open, shown, selected and being done."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoCommand, QUndoStack

from evenweave.check.finding import Finding
from evenweave.errors import EvenweaveError
from evenweave.limits import DEFAULT, Limits, Purpose
from evenweave.limits_file import FoundLimits
from evenweave.mesh.asset import Asset, Unit
from evenweave.picture.scene.scene import Scene
from evenweave.pipeline import Grouping, LayoutReview, Review
from evenweave.raster.look import Look
from evenweave.window.state.advising import Advising
from evenweave.window.state.island_rows import IslandRows
from evenweave.window.state.lane import Lane
from evenweave.window.state.live import LiveReading
from evenweave.window.state.notebook import Notebook
from evenweave.window.state.passes import Passes
from evenweave.window.state.preparation import (
    Opened,
    Prepared,
    opened,
    rejudged,
    remeasured,
    same_way,
)
from evenweave.window.state.trials import Trials, followed


class Session(QObject):
    """Immutable state behind the views. Views ask, the session answers by a signal.

    review_replaced() : another review, of the same or another file
    layout_chosen() : another layout of the review is shown (also after `review_replaced`)
    selection_changed(), hover_changed() : other islands selected, or one under the pointer
    warning_chosen() : another warning is explained, or none
    look_changed() : what the views draw
    place_asked() : the views should show the chosen warning's place
    framing_asked(islands) : the views should frame these islands, or the tile if there are none
    problem_met(error) : an expected failure; what was open is still open
    """

    review_replaced = Signal()
    layout_chosen = Signal()
    selection_changed = Signal()
    hover_changed = Signal()
    finding_chosen = Signal()
    look_changed = Signal()
    place_asked = Signal()
    framing_asked = Signal(object)
    problem_met = Signal(object)

    def __init__(self, *, look: Look | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.lane = Lane(self)
        self.pictures = Lane(self)
        self.exports = Lane(self)
        self.colouring = Lane(self)
        self.placing = Lane(self)
        self.walking = Lane(self)
        self.lane.ended.connect(self._on_lane_ended)
        self.lane.failed.connect(self._on_lane_failed)
        self.undo_stack = QUndoStack(self)
        self._limits = DEFAULT
        self._found = FoundLimits(DEFAULT, None)
        self._grouping = Grouping()
        self._prepared: Prepared | None = None
        self._layout_index = 0
        self._selection: tuple[int, ...] = ()
        self._hover = -1
        self._finding: Finding | None = None
        self._look = look or Look()
        self._is_settling = False
        self._opening: Path | None = None
        self.notebook = Notebook(self)
        self.trials = Trials(self)
        self.advising = Advising(self)
        self.passes = Passes(self)
        self.live = LiveReading(self)
        self.may_leave: Callable[[], bool] = lambda: True

    # What is open and shown.

    @property
    def original(self) -> Review | None:
        """The review of the file as it is, or None before the first file."""
        return self._prepared.review if self._prepared else None

    @property
    def pass_now(self) -> Prepared | None:
        """The file as it is, ready for the views, whatever is being tried on it."""
        return self._prepared

    @property
    def _showing(self) -> Prepared | None:
        return self.trials.showing or self._prepared

    @property
    def review(self) -> Review | None:
        """The review shown, of the file or of a trial, or None before the first file."""
        return self._showing.review if self._showing else None

    @property
    def rows(self) -> IslandRows | None:
        """The shown layout's islands as a table."""
        return self._showing.rows[self._layout_index] if self._showing and self.shown else None

    @property
    def scene(self) -> Scene | None:
        """The review ready to be drawn."""
        return self._showing.scene if self._showing else None

    @property
    def opening(self) -> Path | None:
        """The file that is being opened."""
        return self._opening

    @property
    def limits(self) -> Limits:
        """The limits in force; the review follows as soon as it is measured."""
        return self._limits

    @property
    def limits_path(self) -> Path | None:
        """The limits file that applies, or None where the program's defaults do."""
        return self._found.path

    @property
    def grouping(self) -> Grouping:
        """Which layouts are looked at."""
        return self._grouping

    @property
    def layout_index(self) -> int:
        """Which layout of the review is shown."""
        return self._layout_index

    @property
    def shown(self) -> LayoutReview | None:
        """The layout shown, or None."""
        layouts = self.review.layouts if self.review else ()
        return layouts[self._layout_index] if layouts else None

    @property
    def selection(self) -> tuple[int, ...]:
        """Selected islands, ascending."""
        return self._selection

    @property
    def hover(self) -> int:
        """The island under the pointer, or -1."""
        return self._hover

    @property
    def finding(self) -> Finding | None:
        """The warning being explained."""
        return self._finding

    @property
    def look(self) -> Look:
        """What the views draw."""
        return self._look

    # Opening and measuring.

    def open(self, path: Path) -> None:
        """Read and review a file in the background; what is open stays until it is done.

        Limits edited by hand stay in force as long as the same limits file applies.
        """
        if not self._may_go():
            return
        known, edited = self._found, self._limits
        self._opening = path
        self.lane.submit(lambda told: opened(path, known, edited, told), self._take_opened)

    def reread(self) -> None:
        """Read the open file again, keeping limits, layout and selection."""
        review, limits = self.original, self._limits
        if review is not None and self._may_go():
            path = review.asset.path
            self.lane.submit(lambda told: same_way(review, path, limits, told), self.passes.take)

    def choose_grouping(self, grouping: Grouping) -> None:
        """Look at the asset by another UV set or with other materials merged."""
        review = self.original
        if review is not None and grouping != self._grouping and self._may_go():
            self._remeasure(review.asset, grouping)

    def choose_unit(self, metres: float) -> None:
        """Take another length for one unit of the file."""
        review = self.original
        if review is not None and review.asset.unit.metres != metres and self._may_go():
            unit = Unit(metres, is_stated=False)
            self._remeasure(replace(review.asset, unit=unit), self._grouping)

    def _may_go(self) -> bool:
        """Whether a trial, which ends where the mesh is another, may be lost."""
        return not self.trials.is_unsaved or self.may_leave()

    def _remeasure(self, asset: Asset, grouping: Grouping) -> None:
        limits = self._limits
        self.lane.submit(
            lambda told: remeasured(asset, limits, grouping, told), self.take_remeasured
        )

    def edit_limits(self, limits: Limits, what: str) -> None:
        """Judge by other limits. Can be undone under the name `what`."""
        if limits != self._limits:
            self.undo_stack.push(_LimitsEdit(self._apply_limits, self._limits, limits, what))

    def choose_purpose(self, purpose: Purpose) -> None:
        """Judge the shown layout as one of this purpose, also where it looks like another."""
        shown = self.shown
        if shown is None or (shown.purpose == purpose and not shown.looks_tiling):
            return
        name = shown.layout.name
        others = tuple(one for one in self._limits.purposes if one[0] != name)
        limits = replace(self._limits, purposes=(*others, (name, purpose)))
        self.edit_limits(limits, self.tr("purpose of {layout}").format(layout=name))

    def take_limits_file(self, found_limits: FoundLimits) -> None:
        """Note that the limits in force are now those of a file."""
        self._found = found_limits

    def cancel(self) -> None:
        """Stop the running work. An edit whose review was not ready is taken back."""
        self.lane.cancel()
        self._settle()

    def close(self) -> None:
        """Write what is not kept yet and end the background work."""
        self.live.close()
        self.passes.close()
        self.notebook.close()
        self.advising.close()
        self.trials.close()
        for lane in (self.lane, self.pictures, self.exports, self.colouring, self.placing,
                     self.walking):  # fmt: skip
            lane.close()
        self.undo_stack.blockSignals(True)  # it tells of its own end when nobody listens any more

    # Looking.

    def choose_layout(self, index: int) -> None:
        """Show another layout of the review."""
        if self.review is None or index == self._layout_index:
            return
        if 0 <= index < len(self.review.layouts):
            self._show(index, ())

    def select(self, islands: Iterable[int]) -> None:
        """Select islands; the explanation follows to their gravest warning."""
        selection = tuple(sorted(set(islands)))
        if selection == self._selection:
            return
        self._selection = selection
        self.selection_changed.emit()
        chosen = self._finding
        if selection and not (chosen and set(selection) & set(chosen.islands)):
            self._set_finding(self._gravest_of(selection))

    def point_at(self, island: int) -> None:
        """Note the island under the pointer, -1 for none."""
        if island != self._hover:
            self._hover = island
            self.hover_changed.emit()

    def choose_finding(self, finding: Finding | None) -> None:
        """Explain a warning and select its islands."""
        self._set_finding(finding)
        if finding is not None and finding.islands != self._selection:
            self._selection = finding.islands
            self.selection_changed.emit()

    def explain(self, finding: Finding) -> None:
        """Explain a warning and leave the selection as it is."""
        self._set_finding(finding)

    def step_finding(self, step: int) -> None:
        """Explain the next (1) or previous (-1) warning as they are listed, and show its place."""
        findings = self.notebook.in_order(self.shown.findings) if self.shown else ()
        if not findings:
            return
        places = [k for k, one in enumerate(findings) if one is self._finding]
        start = places[0] if places else (-1 if step > 0 else 0)
        self.choose_finding(findings[(start + step) % len(findings)])
        self.place_asked.emit()

    def ask_place(self) -> None:
        """Ask the views to show the chosen warning's place."""
        if self._finding is not None:
            self.place_asked.emit()

    def ask_framing(self) -> None:
        """Ask the views to frame the selection, or everything where nothing is selected."""
        self.framing_asked.emit(self._selection)

    def ask_overview(self) -> None:
        """Ask the views to frame everything."""
        self.framing_asked.emit(())

    def change_look(self, **changes: Any) -> None:
        """Draw the views differently."""
        look = replace(self._look, **changes)
        if look != self._look:
            self._look = look
            self.look_changed.emit()

    # Answers from the lane.

    def _take_opened(self, opened: Opened) -> None:
        review = opened.prepared.review
        self._limits, self._grouping = review.limits, review.grouping
        self._found = opened.found
        self.undo_stack.clear()
        self._prepared = opened.prepared
        self._finding = None
        self.trials.follow()
        self.review_replaced.emit()
        self._show(0, ())
        if opened.problem is not None:
            self.problem_met.emit(opened.problem)

    def take_remeasured(self, answer: Prepared) -> None:
        """Show the open file measured or judged anew; what is selected is found by name."""
        before, names = self.shown, self._selected_names()
        self._grouping = answer.review.grouping
        self._prepared = answer
        self.trials.follow()
        review = (self._showing or answer).review
        self.review_replaced.emit()
        layouts = [one.layout.name for one in review.layouts]
        same = before is not None and before.layout.name in layouts
        index = layouts.index(before.layout.name) if before and same else 0
        known = {name: k for k, name in enumerate(review.layouts[index].layout.island_name)}
        selection = tuple(sorted(known[name] for name in names if name in known))
        self._show(index, selection, keep=self._finding)

    def take_switch(self, was: LayoutReview | None) -> None:
        """Take that a trial is shown, or no longer; what is selected follows its faces."""
        self.review_replaced.emit()
        shown, selection = self.shown, self._selection
        if was is not None and shown is not None:
            selection = followed(was.layout, shown.layout, selection)
        self._show(self._layout_index, selection, keep=self._finding)

    def _show(self, index: int, selection: tuple[int, ...], *, keep: Finding | None = None) -> None:
        self._layout_index = index
        self._selection, self._hover = selection, -1
        self._finding = self._same_finding(keep)
        self.layout_chosen.emit()
        self.selection_changed.emit()
        self.finding_chosen.emit()

    def _selected_names(self) -> list[str]:
        shown = self.shown
        return [shown.layout.island_name[k] for k in self._selection] if shown else []

    def _same_finding(self, old: Finding | None) -> Finding | None:
        """The warning of the shown layout that says of the same check what `old` said."""
        if old is None or self.shown is None:
            return None
        alike = [one for one in self.shown.findings if one.check == old.check]
        exact = [one for one in alike if one.islands == old.islands]
        return next(iter(exact or alike), None)

    def _gravest_of(self, islands: tuple[int, ...]) -> Finding | None:
        """The gravest warning that names one of these islands; waived ones after all open ones."""
        wanted = set(islands)
        findings = self.notebook.in_order(self.shown.findings) if self.shown else ()
        return next((one for one in findings if not wanted.isdisjoint(one.islands)), None)

    def _set_finding(self, finding: Finding | None) -> None:
        if finding is not self._finding:
            self._finding = finding
            self.finding_chosen.emit()

    def _apply_limits(self, limits: Limits) -> None:
        self._limits = limits
        before = self._prepared
        if before is not None and not self._is_settling:
            self.lane.submit(lambda told: rejudged(before, limits, told), self.take_remeasured)

    def _settle(self) -> None:
        """Go back in the undo stack, or on, to the limits that the shown review was judged by."""
        review, stack = self.original, self.undo_stack
        if review is None or self._limits == review.limits:
            return
        self._is_settling = True
        start = stack.index()
        for step, is_left in ((stack.undo, stack.canUndo), (stack.redo, stack.canRedo)):
            while self._limits != review.limits and is_left():
                step()
            if self._limits == review.limits:
                break
            stack.setIndex(start)
        self._is_settling = False

    def _on_lane_ended(self) -> None:
        self._opening = None

    def _on_lane_failed(self, error: EvenweaveError) -> None:
        self._settle()
        self.problem_met.emit(error)


class _LimitsEdit(QUndoCommand):
    """One change of limits, importance or purpose."""

    def __init__(
        self, apply: Callable[[Limits], None], before: Limits, after: Limits, what: str
    ) -> None:
        super().__init__(what)
        self._apply, self._before, self._after = apply, before, after

    def redo(self) -> None:
        self._apply(self._after)

    def undo(self) -> None:
        self._apply(self._before)
