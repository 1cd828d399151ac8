"""Find further seams for a surface, one after another. Runs in the worker process."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol, TypeVar

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.trial.cut.candidates import Candidate, CutKind, candidates
from evenweave.trial.cut.graph import CutGraph, Edging, edging
from evenweave.trial.cut.trimming import trimmed
from evenweave.trial.flatten.flatten import Flattening, quick_flattening
from evenweave.trial.flatten.surface import Surface
from evenweave.trial.work import effort

MOST_CUTS = 6
GOOD_ENOUGH = 1.01
LEAST_GAIN = 0.0005
TRIM_GAIN = 0.002  # of the score, by which a cut without dead ends must be better
LENGTH_PRICE, FLIP_PRICE, OVERLAP_PRICE = 0.02, 0.5, 0.05
POINTLESS = 1.0  # score above which a cut is not worth showing beside others
SWEEPS = 10
DETOURS = 12  # tries with other prices when a tree makes the flattening lie on itself
DETOUR_PRICES = (0.6, 1.6)
DEAD_ENDS = (0.02, 0.05, 0.1, 0.2)  # of the root of the surface, below which they are dropped
LARGE = 20_000  # triangles above which fewer cuts are tried


@dataclass(frozen=True, eq=False)
class Plan:
    """Some cuts in the order they were found.

    kinds : of each; side : (E,) int32, one side of each edge, of the uncut surface
    surface : the surface opened along them, and its flattening; score : lower is better
    """

    kinds: tuple[CutKind, ...]
    side: IntArray
    surface: Surface
    flat: Flattening | None
    score: float

    @property
    def is_sound(self) -> bool:
        """It could be used as it is: nothing flipped, nothing on itself."""
        return self.flat is not None and self.flat.is_sound


class _Scored(Protocol):
    @property
    def side(self) -> IntArray: ...
    @property
    def score(self) -> float: ...
    @property
    def is_sound(self) -> bool: ...


Ranked = TypeVar("Ranked", bound=_Scored)


def search(surface: Surface, deadline: float = np.inf) -> tuple[Plan, ...]:
    """Return plans, best first: each step of the greedy search, and other first cuts.

    The score is the excess energy plus 0.02 times the length of the cut over the root of the
    surface, plus 0.5 for flips, plus 0.05 where the flattening lies on itself. The search ends
    at an energy of 1.01, where a cut gains less than 0.0005, after six cuts or at the deadline.
    Short dead ends of the best are dropped where that is clearly better still.
    """
    edges = edging(surface)
    start = _plan((), np.zeros(0, np.int32), surface, edges)
    found: list[Plan] = []
    best = start
    for _ in range(MOST_CUTS if len(surface.triangle) <= LARGE else MOST_CUTS // 2):
        tried = list(_steps(best, surface, edges, deadline))
        tried = [plan for plan in tried if plan.score < best.score - LEAST_GAIN]
        if not tried:
            break
        if best is start:
            found += tried
        best = min(tried, key=lambda plan: plan.score)
        found.append(best)
        if _is_good(best) or effort.now() > deadline:
            break
    better = _trimmed(best, surface, edges, deadline)
    return ranked([better, *(plan for plan in found if plan is not best)] if found else [])


def _is_good(plan: Plan) -> bool:
    flat = plan.flat
    return flat is not None and plan.is_sound and flat.energy.value < GOOD_ENOUGH


def ranked(rankeds: Sequence[Ranked]) -> tuple[Ranked, ...]:
    """Order by score, each set of edges once; only the sound ones where there are any."""
    once = {one.side.tobytes(): one for one in sorted(rankeds, key=lambda one: -one.score)}
    ways = sorted(once.values(), key=lambda one: one.score)
    useful = [one for one in ways if one.score < POINTLESS] or ways[:1]
    return tuple([one for one in useful if one.is_sound] or useful)


def _steps(best: Plan, surface: Surface, edges: Edging, deadline: float) -> Iterator[Plan]:
    """Yield the plan extended by each candidate cut."""
    graph = CutGraph.of(best.surface, edges.price)
    effort.spend(len(surface.triangle), effort.SEARCH_US)
    tried: set[bytes] = set()
    for candidate in candidates(graph, best.flat):
        if len(candidate.side) == 0 or candidate.side.tobytes() in tried:
            continue
        tried.add(candidate.side.tobytes())
        if tried and effort.now() > deadline:
            return
        plan = _extended(best, candidate, surface, edges)
        yield plan
        if candidate.kind is CutKind.PEAKS and plan.flat is not None and plan.flat.overlap > 0:
            yield from _detours(best, candidate, surface, edges, deadline)


def _trimmed(best: Plan, surface: Surface, edges: Edging, deadline: float) -> Plan:
    """Return the plan without short dead ends where that is clearly better, else itself."""
    side, shorter = best.side, best
    for share in DEAD_ENDS:
        rest = trimmed(surface, side, edges.length_m, share * surface.area_m2**0.5)
        if len(rest) < len(side) and effort.now() < deadline:
            side = rest
            plan = _plan(best.kinds, side, surface, edges)
            shorter = min(shorter, plan, key=lambda plan: plan.score)
    return shorter if shorter.score < best.score - TRIM_GAIN else best


def _detours(
    best: Plan, wanted: Candidate, surface: Surface, edges: Edging, deadline: float
) -> Iterator[Plan]:
    """Yield like cuts along other ways, until one makes a flattening that is sound."""
    rng = np.random.default_rng(1)
    twin = surface.twin
    whole = np.maximum(np.arange(len(twin)), twin)
    for _ in range(DETOURS):
        if effort.now() > deadline:
            return
        price = edges.price * rng.uniform(*DETOUR_PRICES, len(twin))[whole]
        graph = CutGraph.of(best.surface, price)
        for candidate in candidates(graph, None):
            if candidate.kind is wanted.kind:
                plan = _extended(best, candidate, surface, edges)
                yield plan
                if plan.flat is not None and plan.flat.is_sound:
                    return
                break


def _extended(best: Plan, candidate: Candidate, surface: Surface, edges: Edging) -> Plan:
    side = np.unique(np.append(best.side, candidate.side))
    return _plan((*best.kinds, candidate.kind), side, surface, edges)


def _plan(kinds: tuple[CutKind, ...], side: IntArray, surface: Surface, edges: Edging) -> Plan:
    opened = surface.opened(side)
    flat = None if opened.obstacle else quick_flattening(opened, SWEEPS)
    length = float(edges.length_m[side].sum()) / max(surface.area_m2, 1e-300) ** 0.5
    return Plan(kinds, side, opened, flat, _score(flat, length))


def _score(flat: Flattening | None, length: float) -> float:
    if flat is None or not np.isfinite(flat.energy.value):
        return np.inf
    score = flat.energy.value - 1 + LENGTH_PRICE * length
    return score + FLIP_PRICE * (flat.energy.flips > 0) + OVERLAP_PRICE * bool(flat.overlap > 0)


def hidden_share(side: IntArray, edges: Edging) -> float:
    """Return the share of a cut's length that runs along sharp or concave edges."""
    length: FloatArray = edges.length_m[side]
    return float(length[edges.is_hidden[side]].sum() / max(float(length.sum()), 1e-300))
