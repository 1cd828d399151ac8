"""Find seams that open an island or part it in pieces. Runs in the worker process."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from evenweave.arrays import IntArray
from evenweave.trial.cut.candidates import Candidate, CutKind
from evenweave.trial.cut.dual import DualGraph
from evenweave.trial.cut.graph import Edging, edging
from evenweave.trial.cut.parting import partings
from evenweave.trial.cut.search import (
    FLIP_PRICE,
    LENGTH_PRICE,
    OVERLAP_PRICE,
    Plan,
    ranked,
    search,
)
from evenweave.trial.flatten.energy import Energy
from evenweave.trial.flatten.flatten import (
    SLIVER,
    SMALL,
    Flattening,
    joint_energy,
    joint_overlap,
    quick_flattening,
    rank,
    restricted,
    scored,
    settled,
)
from evenweave.trial.flatten.surface import Surface
from evenweave.trial.work import effort

ENOUGH, SHORT_ENOUGH = 0.05, 0.04  # excess energy and score of one piece that is not parted
EVEN = 1.02  # energy of a piece, above which it is cut further
PIECE_PRICE = 0.02  # energy that another piece must save
MOST_PIECES = 8
CLEARED = 3  # cuts whose piece is drawn off itself where it lies on itself
OPENING_SHARE = 0.5  # of the time, for cuts that leave one piece
SWEEPS = 10
DEEPEST = 3  # partings of partings


@dataclass(frozen=True, eq=False)
class Cutting:
    """A way to cut a surface.

    kinds : what each cut does, in order; side : (E,) int32, one side of each edge, of the surface
    surfaces, flats : the pieces and the flattening of each, None where there is none
    energy, overlap : of all pieces under one scale; inf and NaN where one has no flattening
    score : lower is better
    """

    kinds: tuple[CutKind, ...]
    side: IntArray
    surfaces: tuple[Surface, ...]
    flats: tuple[Flattening | None, ...]
    energy: Energy | None
    overlap: float
    score: float

    @property
    def is_sound(self) -> bool:
        """It could be used as it is: nothing flipped, nothing on itself."""
        return self.energy is not None and self.energy.flips == 0 and self.overlap == 0


@dataclass(frozen=True, eq=False)
class _Task:
    """A surface that may be cut in several ways."""

    surface: Surface
    edges: Edging

    def cutting(
        self,
        kinds: tuple[CutKind, ...],
        side: IntArray,
        surfaces: tuple[Surface, ...],
        flats: tuple[Flattening | None, ...],
    ) -> Cutting:
        """Return a cutting with its figures."""
        known = [one for one in flats if one is not None and np.isfinite(one.energy.value)]
        if len(known) < len(flats):
            return Cutting(kinds, side, surfaces, flats, None, np.nan, np.inf)
        uvs = [one.uv for one in known]
        energy = joint_energy(surfaces, uvs)
        overlap = np.nan if energy.flips else joint_overlap(surfaces, uvs)
        length = float(self.edges.length_m[side].sum()) / max(self.surface.area_m2, 1e-300) ** 0.5
        score = energy.value - 1 + LENGTH_PRICE * length + PIECE_PRICE * (len(flats) - 1)
        score += FLIP_PRICE * (energy.flips > 0) + OVERLAP_PRICE * bool(overlap > 0)
        return Cutting(kinds, side, surfaces, flats, energy, overlap, score)

    def of_plan(self, plan: Plan) -> Cutting:
        return self.cutting(plan.kinds, plan.side, (plan.surface,), (plan.flat,))


def cuttings(surface: Surface, deadline: float = np.inf) -> tuple[Cutting, ...]:
    """Return ways to cut a surface, best first.

    One piece is preferred. Where no cuts leave a sound one with a score below 0.04, partings
    are tried too; their pieces are opened and parted further as they need it. The score is that
    of `search` and 0.02 more for each further piece.
    """
    task = _Task(surface, edging(surface))
    flat = None if surface.obstacle else quick_flattening(surface, SWEEPS)
    plans = () if _only_lies_on_itself(flat) else search(surface, _part_of(deadline))
    found = [task.of_plan(plan) for plan in plans[:CLEARED]]
    found = [_cleared(task, one, deadline) for one in found]
    found += [task.of_plan(plan) for plan in plans[CLEARED:]]
    best = scored(surface, surface.uv)
    if flat is not None:
        # What lies on itself by more than a sliver is parted though it could be drawn apart.
        is_near = len(surface.triangle) <= SMALL and flat.overlap < SLIVER
        best = min(best, settled(surface, flat, deadline) if is_near else flat, key=rank)
    uncut = task.cutting((), np.zeros(0, np.int32), (surface,), (best,))
    if not _is_enough([uncut, *found]):
        found += _parted(task, flat, found, deadline=deadline, depth=DEEPEST)
    return ranked([one for one in found if one.score < uncut.score])


def _part_of(deadline: float) -> float:
    now = effort.now()
    return now + OPENING_SHARE * (deadline - now) if np.isfinite(deadline) else deadline


def _only_lies_on_itself(flat: Flattening | None) -> bool:
    """Tell whether stretch is not the trouble: cuts that leave one piece cannot help then."""
    return flat is not None and flat.energy.value < EVEN and flat.overlap > SLIVER


def _is_enough(cuttings: Sequence[Cutting]) -> bool:
    """Tell whether there is a way to lie flat in one piece, without long cuts."""
    return any(
        one.is_sound and _energy(one) - 1 < ENOUGH and one.score < SHORT_ENOUGH for one in cuttings
    )


def _energy(cutting: Cutting) -> float:
    return np.inf if cutting.energy is None else cutting.energy.value


def _cleared(task: _Task, draft: Cutting, deadline: float) -> Cutting:
    """Return the cutting with pieces that do not lie on themselves, where that is possible."""
    flats = tuple(
        flat if flat is None or not flat.overlap > 0 else settled(surface, flat, deadline)
        for surface, flat in zip(draft.surfaces, draft.flats, strict=True)
    )
    return task.cutting(draft.kinds, draft.side, draft.surfaces, flats)


def _parted(
    task: _Task, flat: Flattening | None, opened: list[Cutting], *, deadline: float, depth: int
) -> list[Cutting]:
    """Return the best parting of each kind, its pieces refined. flat : of it uncut, if any."""
    drafts: list[Cutting] = []
    for side, kinds, candidate in _candidates(task, flat, opened):
        if effort.now() > deadline:
            break
        both = np.unique(np.append(side, candidate.side)).astype(np.int32)
        drafts.append(_draft(task, (*kinds, candidate.kind), both, flat))
    drafts = [one for one in drafts if 1 < len(one.surfaces) <= MOST_PIECES]
    drafts.sort(key=_promise)
    first = {one.kinds[-1]: one for one in reversed(drafts)}
    found: list[Cutting] = []
    for one in sorted(first.values(), key=_promise):
        if not found or effort.now() < deadline:
            found.append(_refined(task, one, deadline, depth))
    return found


def _promise(cutting: Cutting) -> float:
    """Return what a draft would score if pieces that have no flattening yet had a poor one."""
    return cutting.score + 2 * np.nan_to_num(cutting.overlap) if cutting.energy is not None else 1e9


def _candidates(
    task: _Task, now: Flattening | None, opened: list[Cutting]
) -> Iterator[tuple[IntArray, tuple[CutKind, ...], Candidate]]:
    """Yield sides cut before with what was done, and a parting besides."""
    nothing = np.zeros(0, np.int32)
    for candidate in partings(DualGraph.of(task.surface, task.edges.price), now):
        if candidate.kind is CutKind.FACING and _only_lies_on_itself(now):
            break
        yield nothing, (), candidate
    flats = [(one, one.flats[0]) for one in opened if len(one.surfaces) == 1]
    doubled = [(one, flat) for one, flat in flats if flat is not None and flat.overlap > 0]
    for one, flat in doubled[:1]:
        graph = DualGraph.of(one.surfaces[0], task.edges.price)
        for candidate in partings(graph, flat):
            if candidate.kind is not CutKind.LAYERS:
                break
            yield one.side, one.kinds, candidate


def _draft(
    task: _Task, kinds: tuple[CutKind, ...], side: IntArray, now: Flattening | None
) -> Cutting:
    parts = task.surface.opened(side).parts()
    if len(parts) > MOST_PIECES:
        return task.cutting(kinds, side, parts, (None,) * len(parts))
    if now is not None and not now.energy.flips and now.energy.value < EVEN:
        kept = tuple(restricted(one, task.surface, now) for one in parts)
        return task.cutting(kinds, side, parts, kept)
    flats = tuple(None if one.obstacle else quick_flattening(one, SWEEPS) for one in parts)
    return task.cutting(kinds, side, parts, flats)


def _refined(task: _Task, draft: Cutting, deadline: float, depth: int) -> Cutting:
    """Return a draft whose pieces are opened and parted further where they need it."""
    kinds, side = list(draft.kinds), [draft.side]
    surfaces: list[Surface] = []
    flats: list[Flattening | None] = []
    # A piece's sides are known by the mesh's; they lead back to the whole surface's.
    own = np.zeros(int(task.surface.side.max()) + 1, np.int32)
    own[task.surface.side] = np.arange(len(task.surface.side), dtype=np.int32)
    for part, flat in zip(draft.surfaces, draft.flats, strict=True):
        best = _piece(part, flat, deadline, depth)
        kinds += best.kinds
        side.append(own[part.side[best.side]])
        surfaces += best.surfaces
        flats += best.flats
    whole = np.unique(np.concatenate(side)).astype(np.int32)
    return task.cutting(tuple(kinds), whole, tuple(surfaces), tuple(flats))


def _piece(part: Surface, flat: Flattening | None, deadline: float, depth: int) -> Cutting:
    """Return the best way to cut one piece of a parting, which may be not at all."""
    task = _Task(part, edging(part))
    nothing = np.zeros(0, np.int32)
    as_it_is = task.cutting((), nothing, (part,), (flat,))
    if _is_even(as_it_is) or effort.now() > deadline:
        return as_it_is
    if flat is not None and flat.overlap > 0:
        as_it_is = _cleared(task, as_it_is, deadline)
        if _is_even(as_it_is):
            return as_it_is
    plans = () if _only_lies_on_itself(flat) else search(part, deadline)
    opened = [task.of_plan(plan) for plan in plans]
    if opened:
        opened[0] = _cleared(task, opened[0], deadline)
    found = [as_it_is, *opened]
    if depth > 1 and not _is_enough(found):
        found += _parted(task, flat, opened, deadline=deadline, depth=depth - 1)
    sound = [one for one in found if one.is_sound]
    return min(sound or found, key=lambda one: one.score)


def _is_even(cutting: Cutting) -> bool:
    return cutting.is_sound and _energy(cutting) < EVEN
