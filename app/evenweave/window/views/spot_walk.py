"""`SpotWalk`: the worst places of a layout, one after the other, the worst first."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from evenweave.measure.results import WorstSpot
from evenweave.picture.painting.spot_marks import flat_spot, solid_spot
from evenweave.picture.scene.scene import FlatScene
from evenweave.picture.scene.worst import MEASURE_OF, spots
from evenweave.progress import Progress
from evenweave.window.parts.seam_words import spot_sentence, walk_word
from evenweave.window.services.session import Session

Found = tuple[WorstSpot, ...]


class SpotWalk(QObject):
    """Steps through the worst spots of a measure; they are looked for in the background.

    spot_chosen(spot) : another spot is to be shown, or None; told(sentence) : what it is
    """

    spot_chosen = Signal(object)
    told = Signal(str)

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._options = ""
        self._walked: tuple[FlatScene, str] | None = None
        self._found: Found = ()
        self._at = -1
        session.layout_chosen.connect(self.clear)
        session.finding_chosen.connect(self._on_session_finding_chosen)

    @property
    def spot(self) -> WorstSpot | None:
        """The spot shown."""
        return self._found[self._at] if self._at >= 0 else None

    @property
    def options(self) -> str:
        """The measure asked for, "" for that of the colours."""
        return self._options

    @property
    def measure(self) -> str:
        """The measure whose spots are walked."""
        return self._options or MEASURE_OF[self._session.look.colours]

    def choose(self, measure: str) -> None:
        """Walk the spots of another measure, "" for that of the colours, from the worst on."""
        self._options = measure
        self.step(1)

    def clear(self) -> None:
        """Show no spot; the next step begins with the worst."""
        self._session.walking.cancel()
        self._walked, self._found = None, ()
        if self._at >= 0:
            self._at = -1
            self.spot_chosen.emit(None)
            self.told.emit("")

    def step(self, step: int) -> None:
        """Go to the next (1) or previous (-1) spot; the worst comes first."""
        scene = self._session.scene
        if scene is None or not scene.flats:
            return
        flat, measure = scene.flats[self._session.layout_index], self.measure
        if self._walked == (flat, measure):
            self._go(self._at + step)
            return

        def work(progress: Progress) -> Found:
            found = spots(flat.layout, flat.review.measures, measure)
            if found:
                self._prepare(flat, found[0])
            return found

        def take(spots: Found) -> None:
            self._walked, self._found = (flat, measure), spots
            self._go(0 if step > 0 else -1)

        self._session.walking.submit(work, take)

    def _go(self, at: int) -> None:
        """Show a spot by number, counted round; say so where there is none."""
        assert self._walked is not None
        flat, measure = self._walked
        if not self._found:
            self._at = -1
            self.spot_chosen.emit(None)
            name = walk_word(measure).replace("&", "")
            self.told.emit(self.tr("No place is worse than others: {measure}").format(measure=name))
            return
        self._at = at % len(self._found)
        number, spot = self._at + 1, self._found[self._at]

        def take(_: object) -> None:
            self.spot_chosen.emit(spot)
            count = len(self._found)
            self.told.emit(spot_sentence(flat, spot, number=number, count=count))

        self._session.walking.submit(lambda _: self._prepare(flat, spot), take)

    @staticmethod
    def _prepare(flat: FlatScene, spot: WorstSpot) -> None:
        """Find a spot's places; both keep their last answers for the drawing."""
        flat_spot(flat, spot)
        solid_spot(flat, spot)

    def _on_session_finding_chosen(self) -> None:
        """A finding's place takes the spot's."""
        if self._session.finding is not None:
            self.clear()
