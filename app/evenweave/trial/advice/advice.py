"""Advice on islands: what to do about each, found worst first in the background."""

from __future__ import annotations

from collections.abc import Iterator, MutableMapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from evenweave.pipeline import LayoutReview
from evenweave.progress import Progress, silent
from evenweave.trial.advice.verdict import FOLDED_SHARE, Verdict, verdicts, wants_cut
from evenweave.trial.cut.cut import CutProposal, propose_cuts
from evenweave.trial.flatten.attainable import Attainable, attainable
from evenweave.trial.flatten.energy import Energy
from evenweave.trial.flatten.island_mesh import IslandMesh, aspect_of, island_meshes
from evenweave.trial.work.in_order import in_order
from evenweave.trial.work.worker import NoAdvice, Wanted, Worker

ISLAND_SECONDS = 10.0
MOST_EXCESS = 10.0


@dataclass(frozen=True, eq=False)
class IslandAdvice:
    """What is advised on one island.

    attainable : None where nothing can be told; `no_advice` then says why, a phrase, else ""
    cuts : seams worth adding, best first; verdicts : gravest first, empty without advice
    no_cuts : why seams could not be sought to the end, a phrase, or ""
    """

    attainable: Attainable | None
    cuts: tuple[CutProposal, ...]
    verdicts: tuple[Verdict, ...]
    no_advice: str
    no_cuts: str = ""

    @property
    def is_safe_to_unwrap(self) -> bool:
        """Tell whether unwrapping again helps and cannot hurt: no seam moves, nothing overlaps.

        Not where halves are folded onto each other, which may be meant, to share texture.
        """
        found = self.attainable
        if found is None or found.energy_best is None or Verdict.UNWRAP not in self.verdicts:
            return False
        is_sound = found.energy_best.flips == 0 and found.overlap_best == 0
        return is_sound and not found.caveat and found.energy_now.flipped_share < FOLDED_SHARE


Cache = MutableMapping[str, IslandAdvice]


def advise_island(
    mesh: IslandMesh,
    worker: Worker,
    *,
    seconds: float = ISLAND_SECONDS,
    is_wanted: Wanted = lambda: True,
) -> IslandAdvice:
    """Advise on one island within so many seconds for each of its two questions, more if large.

    What cannot be told is said in the result. Raises Cancelled when it is no longer wanted.
    """
    try:
        found = attainable(mesh, worker, seconds=seconds, is_wanted=is_wanted)
    except NoAdvice as refusal:
        return IslandAdvice(None, (), (), refusal.reason)
    cuts: tuple[CutProposal, ...] = ()
    no_cuts = ""
    if wants_cut(found):
        try:
            cuts = propose_cuts(mesh, worker, seconds=seconds, is_wanted=is_wanted)
        except NoAdvice as refusal:
            if found.energy_best is None:
                return IslandAdvice(None, (), (), f"{found.obstacle}, and {refusal.reason}")
            no_cuts = refusal.reason
    return IslandAdvice(found, cuts, verdicts(found, _best_after(cuts)), "", no_cuts)


def _best_after(cuts: Sequence[CutProposal]) -> Energy | None:
    """Return the energy of the best proposal that is sound."""
    return next((cut.energy for cut in cuts if not cut.energy.flips and cut.overlap == 0), None)


def advise(
    judged: LayoutReview,
    islands: Sequence[int],
    worker: Worker,
    *,
    cache: Cache | None = None,
    seconds: float = ISLAND_SECONDS,
    progress: Progress = silent,
) -> Iterator[tuple[int, IslandAdvice]]:
    """Yield advice on islands in the order asked for, as many at a time as the worker can.

    cache : advice by `IslandMesh.digest`, read and added to
    Raises Cancelled where `progress` does; the solvers are then stopped.
    """
    kept = cache if cache is not None else {}

    def job(mesh: IslandMesh, is_wanted: Wanted) -> IslandAdvice:
        key = mesh.digest
        if key not in kept:
            kept[key] = advise_island(mesh, worker, seconds=seconds, is_wanted=is_wanted)
        return kept[key]

    meshes = island_meshes(judged.layout, islands, aspect=aspect_of(judged.measures.tile))
    reached = 0

    def look() -> None:
        progress(reached / len(islands), f"advising on island {reached + 1:,} of {len(islands):,}")

    for advice in in_order(worker, (partial(job, mesh) for mesh in meshes), look):
        yield islands[reached], advice
        reached += 1


def worst_first(judged: LayoutReview) -> tuple[int, ...]:
    """Return all islands, those first whose better flattening would be felt most.

    The order is by surface times what exceeds an energy of 1; flipped surface counts in full.
    """
    island = judged.measures.island
    excess = np.nan_to_num(island.dirichlet, nan=MOST_EXCESS + 1, posinf=MOST_EXCESS + 1) - 1
    share = np.nan_to_num(island.flipped_share)
    turned = np.minimum(share, 1 - share)
    badness = island.surface_m2 * (np.minimum(excess, MOST_EXCESS) + MOST_EXCESS * turned)
    return tuple(int(i) for i in np.argsort(-np.nan_to_num(badness), kind="stable"))
