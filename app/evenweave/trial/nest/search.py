"""The packer's search: place everything, then try again a little larger in another order."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenweave.arrays import ByteArray
from evenweave.trial.nest.blocks import Block, TurnedBlock
from evenweave.trial.nest.cells import Board, Grid, Place, Poses

GROWTH = 1.5  # times its height that a tile may take while islands do not fit yet
STEP = 0.004  # by which the next packing is to be larger
LATE = 5  # an order may be worse than the last one, but not than the one so many passes ago
RESTART = 40  # passes without a better packing, after which to begin afresh
EARLIER = 0.5  # share of the passes in which the block that stands out is placed earlier
LEANS = (0.1, 0.3, 0.3, 1.0)
CHANGE_LEAN = 0.3  # share of the passes with another lean
GIVE_UP = 1 / 32  # of the scale begun with
NEAR = 0.9995  # of the bound: as good as it


@dataclass(frozen=True)
class Placed:
    """A packing: the scale of all blocks, the place of each, the share of the height used."""

    scale: float
    places: tuple[Place, ...]
    used: float


@dataclass(frozen=True, eq=False)
class Task:
    """What is to be packed.

    turned : per block its copies in all wished turns; rank : per block, lower is placed first
    pinned : per tile the cells that are taken from the start; bound : no scale is larger
    """

    blocks: Sequence[Block]
    turned: Sequence[dict[float, TurnedBlock]]
    grid: Grid
    rank: Sequence[float]
    pinned: Sequence[ByteArray]
    bound: float


class Search:
    """Looks for ever larger packings; the same ones every time, as far as it gets.

    go_on : asked before each block is placed; an attempt is given up where it says no
    """

    def __init__(self, task: Task, start: float, go_on: Callable[[], bool]) -> None:
        self._task, self._go_on = task, go_on
        self._start = start
        self._random = np.random.default_rng(1)
        # Smaller blocks fill what larger ones leave; hulls tell how much that is.
        hull = [_hull_area(block) for block in task.blocks]
        self._order = sorted(range(len(hull)), key=lambda n: (task.rank[n], -hull[n], n))

    def first(self) -> Placed | None:
        """Return a first packing; None where it would become absurdly small or is not wanted."""
        scale, least = self._start, GIVE_UP * self._start
        fits_at_all = False
        while scale > least:
            board = self._board(poses := self._poses(scale), GROWTH)
            places = self._filled(board, poses, self._order, LEANS[1])
            used = board.height / self._task.grid.room[1]
            if places is not None and used <= 1:
                return Placed(scale, places, used)
            if not self._go_on():
                return None
            if places is None and not fits_at_all:
                poses = self._poses(least)
                if self._filled(self._board(poses, 1.0), poses, self._order, LEANS[1]) is None:
                    return None
                fits_at_all = True
            scale *= min(0.995, 0.998 / np.sqrt(used)) if places is not None else 0.85
        return None

    def better(self, best: Placed, passes: int, hear: Callable[[Placed], None]) -> Placed:
        """Return the best packing after so many passes.

        Late acceptance hill climbing (Burke & Bykov 2008, from memory) over orders: at a scale a
        step beyond the best, the tiles are to become less and less high until all fits.
        found : told each better one
        """
        step = _step(best)
        poses = self._poses(self._beyond(best, step))
        climb = _Climb(_Try(self._order, LEANS[1], np.inf, -1))
        for _ in range(passes):
            if best.scale >= NEAR * self._task.bound:
                break
            order, lean = self._varied(climb.base, climb.fails)
            board = self._board(poses, GROWTH)
            places = self._filled(board, poses, order, lean)
            if not self._go_on():
                break
            used = board.height / self._task.grid.room[1] if places is not None else np.inf
            tried = _Try(order, lean, used, _highest(order, places, poses))
            if places is not None and used <= 1:
                best = Placed(self._beyond(best, step), places, used)
                hear(best)
                step = _step(best)
                poses = self._poses(self._beyond(best, step))
                climb = _Climb(replace(tried, used=np.inf))
            elif climb.fails >= RESTART:
                step = max(step / 2, STEP / 4)
                poses = self._poses(self._beyond(best, step))
                climb = _Climb(_Try(self._order, LEANS[1], np.inf, -1))
            else:
                climb.judge(tried)
        return best

    def _beyond(self, best: Placed, step: float) -> float:
        return min(best.scale * (1 + step), self._task.bound)

    def _poses(self, scale: float) -> Poses:
        return Poses(self._task.blocks, self._task.turned, self._task.grid, scale)

    def _board(self, poses: Poses, growth: float) -> Board:
        board = Board(self._task.grid, poses.longest, growth=growth)
        for tile, mask in enumerate(self._task.pinned):
            board.put(mask, 0, Place(tile, 0.0, 0.0, 0.0))
        return board

    def _filled(
        self, board: Board, poses: Poses, order: Sequence[int], lean: float
    ) -> tuple[Place, ...] | None:
        """Return a place for every block, or None where one finds none or time is up."""
        places: dict[int, Place] = {}
        for number in order:
            place = board.add(poses, number, lean) if self._go_on() else None
            if place is None:
                return None
            places[number] = place
        return tuple(places[number] for number in range(len(order)))

    def _varied(self, base: _Try, fails: int) -> tuple[list[int], float]:
        """Return an order and lean a little different; the base itself to begin with."""
        order, count, random = list(base.order), len(base.order), self._random
        if fails == 0 and base.used == np.inf and base.highest < 0:
            return order, base.lean
        if base.highest >= 0 and random.random() < EARLIER:
            order.insert(int(random.integers(base.highest + 1)), order.pop(base.highest))
        for _ in range(1 + int(random.poisson(1.0))):
            at = int(random.integers(count))
            to = int(np.clip(at + random.normal(0.0, 0.15 * count), 0, count - 1))
            order.insert(to, order.pop(at))
        changes = random.random() < CHANGE_LEAN
        lean = LEANS[int(random.integers(len(LEANS)))] if changes else base.lean
        return sorted(order, key=lambda number: self._task.rank[number]), lean


@dataclass(frozen=True)
class _Try:
    """An order and a lean, and what came of them.

    used : share of the room's height that they take
    highest : place in the order of the block that stands out highest, -1 where not known
    """

    order: Sequence[int]
    lean: float
    used: float
    highest: int


class _Climb:
    """The try to vary next, and how high the last few were."""

    def __init__(self, base: _Try) -> None:
        self.base, self.fails = base, 0
        self._past = [np.inf] * LATE

    def judge(self, tried: _Try) -> None:
        """Take the try as the new base if it is no worse than this one, or one a while ago."""
        if tried.used <= max(self._past[self.fails % LATE], self.base.used):
            self.base = tried
        self._past[self.fails % LATE] = self.base.used
        self.fails += 1


def _step(best: Placed) -> float:
    """Return the share by which to enlarge: most of what the height left would allow."""
    room = 1 / np.sqrt(best.used) - 1 if best.used > 0 else 0.0
    return max(STEP, min(0.9 * room, GROWTH - 1))


def _highest(order: Sequence[int], places: tuple[Place, ...] | None, poses: Poses) -> int:
    """Return which in the order stands out highest, or -1 where not all have a place."""
    if places is None:
        return -1
    top = [places[number].y + poses.height(number, places[number].degrees) for number in order]
    return int(np.argmax(top))


def _hull_area(block: Block) -> float:
    import shapely

    return float(shapely.convex_hull(shapely.MultiPoint(block.line_px.reshape(-1, 2))).area)
