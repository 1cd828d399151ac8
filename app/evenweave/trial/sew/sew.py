"""Sew here: which seams could be closed with little stretch, stragglers first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import partial

import numpy as np

from evenweave.arrays import FloatArray, IntArray, ints
from evenweave.layout.layout import Layout
from evenweave.limits.limits import DEFAULT, Limits
from evenweave.measure.results import Measures
from evenweave.progress import Progress, silent
from evenweave.trial.flatten.energy import Energy
from evenweave.trial.flatten.island_mesh import IslandCutter, IslandMesh, aspect_of
from evenweave.trial.sew.chains import Run, next_corners, sewable_runs
from evenweave.trial.sew.sewing import Alone, Sewn, alone, sewn, welded
from evenweave.trial.uvs.corner_uvs import CornerUvs
from evenweave.trial.work.in_order import in_order
from evenweave.trial.work.worker import NoAdvice, TooLate, Wanted, Worker

MOST_PROPOSALS = 40
RUNS_TRIED = 3
MOST_WORK = 400_000  # triangles laid flat for one layout, the most promising seams first
PAIR_WORK = 300  # triangles that a pair counts for beside its own
TRIAL_SECONDS = 5.0
MOST_TRIANGLES = 60_000
SHORTEST = 0.05  # of the root of the surface, for an island with itself
ADDED_OFFSET = 0.002


@dataclass(frozen=True, eq=False)
class SewProposal:
    """Seams of two islands, or of one with itself, to close.

    islands : the one that stays where it is first; twice the same if it is sewn to itself
    seam : (E,) int32 rows of `layout.edges.seam`; edge_point : (E, 2) int32 points of each
    edge_corner : (E, 2) int32 corners at which its two sides begin
    length_m : of seam removed; energy : after; added : energy above that of the islands apart
    fill : share of its smallest rectangle that the joined island fills
    step_octaves : density of the second island over the first's, log2; scale : by which the
    second is scaled to match
    is_straggler : the second is a small piece whose outline is mostly the first's
    corner_uv : (K, 2) tile units at `corner`, the joined flattening; outline : (S, 2, 2)
    """

    islands: tuple[int, int]
    seam: IntArray
    edge_point: IntArray
    edge_corner: IntArray
    length_m: float
    energy: Energy
    added: float
    fill: float
    step_octaves: float
    scale: float
    is_fragment: bool
    score: float
    corner: IntArray
    corner_uv: FloatArray
    outline: FloatArray


@dataclass(frozen=True, eq=False)
class _Pair:
    """Two islands to try, the host first, and the runs between them, longest first."""

    islands: tuple[int, int]
    runs: list[Run]
    is_fragment: bool
    bound: float


def propose_sews(
    layout: Layout,
    measures: Measures,
    worker: Worker,
    *,
    limits: Limits = DEFAULT,
    progress: Progress = silent,
) -> tuple[SewProposal, ...]:
    """Return sews worth doing, each pair once, stragglers first, then best first.

    limits : what counts as a straggler. Raises Cancelled where
    `progress` does. The score is the length of the seam over the root of the surface, over
    the energy added plus 0.002.
    """
    pairs = _within_budget(_pairs(layout, measures, limits), measures.island.triangles)
    bench = _Bench(layout, measures, worker)
    found: list[SewProposal] = []
    done = 0

    def look() -> None:
        share = done / max(len(pairs), 1)
        progress(share, f"trying seam {done + 1:,} of {len(pairs):,}")

    for proposal in in_order(worker, bench.jobs(pairs), look):
        done += 1
        if proposal is not None:
            found.append(proposal)
        if len(found) >= MOST_PROPOSALS:
            break
    return tuple(sorted(found, key=lambda one: (not one.is_fragment, -one.score)))


def _within_budget(pairs: list[_Pair], triangles: IntArray) -> list[_Pair]:
    """Return the first pairs, as many as together are not too much work."""
    sizes = [sum(int(triangles[i]) for i in set(pair.islands)) for pair in pairs]
    work = np.cumsum([len(p.runs) * (s + PAIR_WORK) for p, s in zip(pairs, sizes, strict=True)])
    return pairs[: int(np.searchsorted(work, MOST_WORK, side="right"))]


def without_sharing(proposals: Iterable[SewProposal]) -> tuple[SewProposal, ...]:
    """Return proposals in their order, less those that touch an island of an earlier one."""
    taken: set[int] = set()
    chosen = []
    for one in proposals:
        if taken.isdisjoint(one.islands):
            taken.update(one.islands)
            chosen.append(one)
    return tuple(chosen)


def apply_sew(
    layout: Layout,
    measures: Measures,
    proposal: SewProposal,
    worker: Worker,
    *,
    seconds: float = TRIAL_SECONDS,
    is_wanted: Wanted = lambda: True,
) -> CornerUvs:
    """Sew as proposed and unwrap the joined island as well as it can be.

    The first island stays where it is and keeps its density. Raises NoAdvice, Cancelled.
    """
    bench = _Bench(layout, measures, worker)
    result, mesh = bench.sewn(
        proposal.islands, proposal.seam, seconds=seconds, is_wanted=is_wanted, sweeps=60
    )
    return CornerUvs.of(mesh.corner, result.corner_uv)


def _pairs(layout: Layout, measures: Measures, limits: Limits) -> list[_Pair]:
    """Return what to try: stragglers first, then by the length of the longest run."""
    surface, triangles = measures.island.surface_m2, measures.island.triangles
    whole = max(float(measures.whole.surface_m2), 1e-300)
    seams = measures.seams
    found = []
    for (a, b), runs in sewable_runs(layout).items():
        host, other = (a, b) if surface[a] >= surface[b] else (b, a)
        size = float(surface[host] + (surface[other] if a != b else 0.0)) ** 0.5
        if triangles[host] + triangles[other] > MOST_TRIANGLES or size == 0:
            continue
        runs = [run for run in runs if a != b or run.length_m > SHORTEST * size]
        is_fragment = (
            a != b
            and surface[other] / whole < limits.fragment_surface
            and seams.fragment[other] == host
            and seams.fragment_share[other] >= limits.fragment_outline
        )
        if runs:
            found.append(
                _Pair((host, other), runs[:RUNS_TRIED], bool(is_fragment), runs[0].length_m / size)
            )
    return sorted(found, key=lambda pair: (not pair.is_fragment, -pair.bound))


@dataclass(eq=False)
class _Bench:
    """Tries sews on one layout and remembers what islands are by themselves."""

    layout: Layout
    measures: Measures
    worker: Worker
    _alone: dict[int, Alone | None] = field(default_factory=dict)
    _after: IntArray = field(init=False)
    _cutter: IslandCutter = field(init=False)

    def __post_init__(self) -> None:
        self._after = next_corners(self.layout)
        self._cutter = IslandCutter(self.layout, aspect_of(self.measures.tile))

    def jobs(self, pairs: list[_Pair]) -> Iterator[partial[SewProposal | None]]:
        return (partial(self.best, pair) for pair in pairs)

    def best(self, pair: _Pair, is_wanted: Wanted) -> SewProposal | None:
        """Try the runs of a pair, the longest first, until one passes."""
        for run in pair.runs:
            try:
                result, mesh = self.sewn(
                    pair.islands, run.seam, seconds=TRIAL_SECONDS, is_wanted=is_wanted, sweeps=None
                )
            except NoAdvice:
                continue
            return self._proposal(pair, run, result, mesh)
        return None

    def sewn(
        self,
        islands: tuple[int, int],
        seam: IntArray,
        *,
        seconds: float,
        is_wanted: Wanted,
        sweeps: int | None,
    ) -> tuple[Sewn, IslandMesh]:
        """Weld two islands along seams and flatten them. Raises NoAdvice."""
        wanted = sorted(set(islands))
        meshes = {island: self._cutter.cut(island) for island in wanted}
        apart = [
            self._by_itself(i, meshes[i], seconds=seconds, is_wanted=is_wanted) for i in wanted
        ]
        host, other = islands
        mesh, inside = welded(
            meshes[host], meshes[other] if other != host else None, self._weld(seam)
        )
        result = self.worker.call(
            sewn, mesh, len(meshes[host].corner), inside, apart, sweeps,
            seconds=seconds, is_wanted=is_wanted,
        )  # fmt: skip
        return result, mesh

    def _by_itself(
        self, island: int, mesh: IslandMesh, *, seconds: float, is_wanted: Wanted
    ) -> Alone:
        if island not in self._alone:
            try:
                self._alone[island] = self.worker.call(
                    alone, mesh, seconds=seconds, is_wanted=is_wanted
                )
            except TooLate:
                raise  # it may lie flat: nothing is known, and nothing is kept
            except NoAdvice:
                self._alone[island] = None
        found = self._alone[island]
        if found is None:
            raise NoAdvice("it does not lie flat by itself")
        return found

    def _weld(self, seam: IntArray) -> tuple[IntArray, IntArray]:
        """Return the pairs of corners that meet at both ends of each seam."""
        near, far = self.layout.edges.seam[seam].T
        near_end, far_end = self._after[near], self._after[far]
        point = self.layout.corner_point
        is_opposite = point[near] == point[far_end]
        first = np.where(is_opposite, far_end, far)
        second = np.where(is_opposite, far, far_end)
        return np.append(near, near_end), np.append(first, second)

    def _proposal(self, pair: _Pair, run: Run, result: Sewn, mesh: IslandMesh) -> SewProposal:
        layout, island = self.layout, self.measures.island
        host, other = pair.islands
        density = np.sqrt(island.area_uv / np.maximum(island.surface_m2, 1e-300))
        ratio = float(density[host] / density[other]) if density[other] > 0 else float("nan")
        edge = layout.edges.seam[run.seam]
        size = float(island.surface_m2[list(set(pair.islands))].sum()) ** 0.5
        return SewProposal(
            islands=pair.islands,
            seam=ints(run.seam),
            edge_point=ints(
                layout.corner_point[np.stack([edge[:, 0], self._after[edge[:, 0]]], 1)]
            ),
            edge_corner=ints(edge),
            length_m=run.length_m,
            energy=result.energy,
            added=result.added,
            fill=result.fill,
            step_octaves=-float(np.log2(ratio)) if ratio > 0 else float("nan"),
            scale=ratio,
            is_fragment=pair.is_fragment,
            score=run.length_m / size / (result.added + ADDED_OFFSET),
            corner=ints(mesh.corner),
            corner_uv=result.corner_uv,
            outline=result.outline,
        )
