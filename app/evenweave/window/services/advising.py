"""`Advising`: advice on the islands of the layout shown, found in the background, worst first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from threading import Lock
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot

from evenweave.progress import Progress
from evenweave.trial.advice.advice import IslandAdvice, advise, worst_first
from evenweave.trial.work.worker import Worker
from evenweave.window.state.ghosts import Ghost
from evenweave.window.state.lane import Lane
from evenweave.window.state.store import Store

if TYPE_CHECKING:
    from evenweave.pipeline import LayoutReview

_BATCH_MS = 100


class Advising(QObject):
    """What is advised on each island so far.

    sewing, straightening, gaining, packing : lanes of what is looked for when asked

    changed() : more is known, or another layout is advised on
    turned() : the work began or ended
    ghost_changed() : another ghost is to be drawn, or none
    """

    changed = Signal()
    turned = Signal()
    ghost_changed = Signal()
    _came = Signal(object, int, object)

    def __init__(self, store: Store, parent: QObject) -> None:
        super().__init__(parent)
        self._store = store
        self.lane = Lane(self)
        self.sewing, self.straightening = Lane(self), Lane(self)
        self.gaining, self.packing = Lane(self), Lane(self)
        self.worker = Worker()
        self._cache: dict[str, IslandAdvice] = {}
        self._judged: LayoutReview | None = None
        self._order: tuple[int, ...] | None = None
        self._found: dict[int, IslandAdvice] = {}
        self._queue = Queue(())
        self._is_wanted = False
        self._ghost: Ghost | None = None
        self._batch = QTimer(self, interval=_BATCH_MS, singleShot=True)
        self._batch.timeout.connect(self.changed)
        self._came.connect(self._on_self_came, Qt.ConnectionType.QueuedConnection)
        self.lane.started.connect(self.turned)
        self.lane.ended.connect(self.turned)
        store.layout_chosen.connect(self._on_store_layout_chosen)
        store.selection_changed.connect(self._on_store_selection_changed)

    @property
    def judged(self) -> LayoutReview | None:
        """The layout advised on."""
        return self._judged

    @property
    def order(self) -> tuple[int, ...]:
        """All islands, worst first; known once work has begun."""
        return self._order or ()

    @property
    def found(self) -> dict[int, IslandAdvice]:
        """Advice by island, as far as there is any. Not to be changed."""
        return self._found

    @property
    def is_busy(self) -> bool:
        """Whether islands are being looked at."""
        return self.lane.is_busy

    @property
    def is_complete(self) -> bool:
        """Whether there is advice on every island."""
        judged = self._judged
        return judged is not None and len(self._found) == judged.layout.island_count

    @property
    def ghost(self) -> Ghost | None:
        """What is drawn over the views: what could be."""
        return self._ghost

    def show_ghost(self, ghost: Ghost | None) -> None:
        """Draw this over the views, or nothing."""
        if ghost is not self._ghost:
            self._ghost = ghost
            self.ghost_changed.emit()

    def begin(self) -> None:
        """Look at the islands not looked at yet, those selected first."""
        self._is_wanted = True
        judged = self._judged
        if judged is None or self.lane.is_busy or self.is_complete:
            return
        known, selection = self._found, self._store.now.selection
        left = [island for island in self._order or worst_first(judged) if island not in known]
        self._queue = queue = Queue(left)
        queue.pull(selection)

        def work(progress: Progress) -> None:
            for island, advice in advise(
                judged, queue, self.worker, cache=self._cache, progress=progress
            ):
                self._came.emit(judged, island, advice)

        self._order = self._order or tuple(left)
        self.lane.submit(work, self._on_lane_done)
        self.changed.emit()

    def stop(self) -> None:
        """Look at no more islands until asked again."""
        self._is_wanted = False
        self.lane.cancel()

    def close(self) -> None:
        """End the work and its processes."""
        self._batch.stop()
        lanes = (self.lane, self.sewing, self.straightening, self.gaining, self.packing)
        for lane in lanes:
            lane.cancel()
        self.worker.stop()
        for lane in lanes:
            lane.close()
        self.worker.stop()

    @Slot(object, int, object)
    def _on_self_came(self, judged: LayoutReview, island: int, advice: IslandAdvice) -> None:
        if self._judged is not None and judged.layout is self._judged.layout:
            self._found[island] = advice
            if not self._batch.isActive():
                self._batch.start()

    def _on_lane_done(self, _: None) -> None:
        self.changed.emit()

    def _on_store_layout_chosen(self) -> None:
        shown, before = self._store.now.shown, self._judged
        self._judged = shown
        if shown is not None and before is not None and shown.layout is before.layout:
            return
        self._found, self._order = {}, None
        self.lane.cancel()
        self.show_ghost(None)
        self.changed.emit()
        if self._is_wanted:
            self.begin()

    def _on_store_selection_changed(self) -> None:
        self._queue.pull(self._store.now.selection)


class Queue(Sequence[int]):
    """Islands in the order in which they are taken, which may change until they are."""

    def __init__(self, islands: Iterable[int]) -> None:
        self._left = dict.fromkeys(islands)
        self._count = len(self._left)
        self._first: list[int] = []
        self._taken: list[int] = []
        self._lock = Lock()

    def pull(self, islands: Iterable[int]) -> None:
        """Let these be taken next."""
        with self._lock:
            self._first = [one for one in islands if one in self._left]

    def _take(self) -> int | None:
        with self._lock:
            if not self._left:
                return None
            while self._first:
                island = self._first.pop(0)
                if island in self._left:
                    break
            else:
                island = next(iter(self._left))
            del self._left[island]
            self._taken.append(island)
            return island

    def __iter__(self) -> Iterator[int]:
        while (island := self._take()) is not None:
            yield island

    def __len__(self) -> int:
        return self._count

    def __getitem__(self, index: Any) -> Any:
        return self._taken[index]
