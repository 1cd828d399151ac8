"""What can be tried, as work for the background: a trial in, a longer trial out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from evenweave.check.numbers import counted, several
from evenweave.layout.layout import Layout
from evenweave.progress import Progress, within
from evenweave.trial.cut.cut import CutProposal, apply_cut
from evenweave.trial.document.document import Trial, applied, step
from evenweave.trial.flatten.attainable import apply_unmirror, apply_unwrap
from evenweave.trial.flatten.island_mesh import IslandMesh, aspect_of, island_meshes
from evenweave.trial.pack.level import LevelOptions, level
from evenweave.trial.pack.pack import Packing
from evenweave.trial.safe.fixes import fix_safely
from evenweave.trial.sew.sew import SewProposal, apply_sew
from evenweave.trial.straighten.straighten import StraightenAdvice, StraightenVerdict
from evenweave.trial.uvs.corner_uvs import CornerUvs
from evenweave.trial.work.in_order import in_order
from evenweave.trial.work.worker import NoAdvice, Wanted, Worker

ISLAND_SECONDS = 20.0
_SAME = 1e-6  # of a tile, that nobody sees
_SOLVING = 0.7  # of the time; measuring the copy takes the rest


@dataclass(frozen=True, eq=False)
class Tried:
    """The trial after a job, and sentences on what was left undone."""

    trial: Trial
    said: tuple[str, ...] = ()


Job = Callable[[Trial, Worker, Progress], Tried]
_Solve = Callable[[IslandMesh, Worker, Wanted], CornerUvs]


def unwrapping(layout: int, islands: Sequence[int]) -> Job:
    """Unwrap islands again with the same seams."""

    def solve(island: int, mesh: IslandMesh, worker: Worker, is_wanted: Wanted) -> CornerUvs:
        return apply_unwrap(mesh, worker, seconds=ISLAND_SECONDS, is_wanted=is_wanted)

    return partial(_by_island, layout, islands, "unwrap {} again", solve)


def cutting(layout: int, cuts: Mapping[int, CutProposal]) -> Job:
    """Cut islands open as proposed for each, and unwrap them."""

    def solve(island: int, mesh: IslandMesh, worker: Worker, is_wanted: Wanted) -> CornerUvs:
        return apply_cut(mesh, cuts[island], worker, seconds=ISLAND_SECONDS, is_wanted=is_wanted)

    return partial(_by_island, layout, tuple(cuts), "cut {} open", solve)


def unmirroring(layout: int, islands: Sequence[int]) -> Job:
    """Turn mirrored islands round."""

    def solve(island: int, mesh: IslandMesh, worker: Worker, is_wanted: Wanted) -> CornerUvs:
        return apply_unmirror(mesh)

    return partial(_by_island, layout, islands, "mirror {}", solve)


def sewing(layout: int, sews: Sequence[SewProposal]) -> Job:
    """Sew as proposed; no island may be in two of the proposals."""

    def job(trial: Trial, worker: Worker, progress: Progress) -> Tried:
        judged = trial.review.layouts[layout]
        solving = within(progress, 0.0, _SOLVING)
        done = 0

        def look() -> None:
            solving(done / len(sews), "sewing")

        def one(sew: SewProposal, is_wanted: Wanted) -> CornerUvs | str:
            try:
                return apply_sew(judged.layout, judged.measures, sew, worker, is_wanted=is_wanted)
            except NoAdvice as refusal:
                return refusal.reason

        changes: list[CornerUvs] = []
        reasons: list[str] = []
        for found in in_order(worker, (partial(one, sew) for sew in sews), look):
            done += 1
            if isinstance(found, CornerUvs):
                changes.append(found)
            else:
                reasons.append(found)
        names = judged.layout.island_name
        pairs = [" and ".join(dict.fromkeys(names[k] for k in sew.islands)) for sew in sews]
        words = f"sew {pairs[0]}" if len(pairs) == 1 else f"sew {counted(len(pairs), 'seam')}"
        return _stepped(trial, layout, words, changes=changes, reasons=reasons, progress=progress)

    return job


def straightening(layout: int, strips: Sequence[StraightenAdvice]) -> Job:
    """Put the straight version of strips in their places; stacks are left alone."""

    def job(trial: Trial, worker: Worker, progress: Progress) -> Tried:
        one = trial.review.layouts[layout].layout
        single = [strip for strip in strips if strip.verdict is not StraightenVerdict.STACKED]
        stacked = [strip.island for strip in strips if strip.verdict is StraightenVerdict.STACKED]
        names = _names(one, [strip.island for strip in single])
        changes = [strip.change for strip in single]
        reasons = [f"{_names(one, stacked)} in a stack: it only moves together"] if stacked else []
        words = f"straighten {names}"
        return _stepped(trial, layout, words, changes=changes, reasons=reasons, progress=progress)

    return job


def levelling(layout: int, islands: Sequence[int], *, to_target: bool) -> Job:
    """Scale islands to the density their importance deserves; all of them if none is named.

    to_target : to the density of the limits instead of keeping the area
    """

    def job(trial: Trial, worker: Worker, progress: Progress) -> Tried:
        judged = trial.review.layouts[layout]
        density = judged.target_density if to_target or islands else None
        options = LevelOptions(density=density, importance=tuple(judged.island_importance.tolist()))
        measures = judged.measures
        found = level(judged.layout, measures.tile, options, stacks=measures.stacks)
        change = found.change
        if islands:
            change = _only(judged.layout, islands, change)
        words = "level densities" + (f" of {_names(judged.layout, islands)}" if islands else "")
        return _stepped(trial, layout, words, changes=[change], progress=progress)

    return job


def packing(layout: int, placed: Packing) -> Job:
    """Take over a packing."""

    def job(trial: Trial, worker: Worker, progress: Progress) -> Tried:
        return _stepped(trial, layout, "pack", changes=[placed.change], progress=progress)

    return job


def fixing(trial: Trial, worker: Worker, progress: Progress) -> Tried:
    """Fix what is safe, in all layouts."""
    fixed = fix_safely(trial, worker, progress=progress)
    return Tried(fixed.trial, fixed.said)


def _by_island(
    layout: int,
    islands: Sequence[int],
    words: str,
    solve: Callable[[int, IslandMesh, Worker, Wanted], CornerUvs],
    trial: Trial,
    worker: Worker,
    progress: Progress,
) -> Tried:
    """Solve for each island, as many at a time as the worker can; what fails is told."""
    judged = trial.review.layouts[layout]
    one, solving, done = judged.layout, within(progress, 0.0, _SOLVING), 0

    def look() -> None:
        solving(done / len(islands), f"island {done + 1:,} of {len(islands):,}")

    def attempt(island: int, mesh: IslandMesh, is_wanted: Wanted) -> CornerUvs | NoAdvice:
        try:
            return solve(island, mesh, worker, is_wanted)
        except NoAdvice as refusal:
            return refusal

    meshes = island_meshes(one, islands, aspect=aspect_of(judged.measures.tile))
    jobs = (partial(attempt, *pair) for pair in zip(islands, meshes, strict=True))
    changes, refused = [], []
    for island, found in zip(islands, in_order(worker, jobs, look), strict=True):
        done += 1
        if isinstance(found, CornerUvs):
            changes.append(found)
        else:
            refused.append((one.island_name[island], found.reason))
    if not changes and len(refused) == 1:
        raise NoAdvice(refused[0][1])
    if not changes:
        raise NoAdvice("; ".join(f"on {name} {reason}" for name, reason in refused[:3]))
    reasons = [f"{name}: {reason}" for name, reason in refused]
    text = words.format(_names(one, islands))
    return _stepped(trial, layout, text, changes=changes, reasons=reasons, progress=progress)


def _stepped(
    trial: Trial,
    layout: int,
    words: str,
    *,
    changes: Sequence[CornerUvs],
    reasons: Sequence[str] = (),
    progress: Progress,
) -> Tried:
    """Make one step of all changes. Raises NoAdvice where there are none."""
    if not changes:
        raise NoAdvice("; ".join(reasons[:3]) or "there is nothing to try")
    one = trial.review.layouts[layout].layout
    present = one.uv[one.corner_uv]
    if all(np.allclose(new.uv, present[new.corner], rtol=0, atol=_SAME) for new in changes):
        raise NoAdvice("it would change nothing")
    said = tuple(f"Left as it is, {reason}." for reason in reasons)
    measuring = within(progress, _SOLVING, 1.0)
    return Tried(applied(trial, step(words, layout, changes), measuring), said)


def _only(layout: Layout, islands: Iterable[int], change: CornerUvs) -> CornerUvs:
    """Return the part of a change that concerns some islands."""
    face = np.searchsorted(layout.face_start, change.corner, side="right") - 1
    is_wanted = np.isin(layout.face_island[face], list(islands))
    return CornerUvs.of(change.corner[is_wanted], change.uv[is_wanted])


def _names(layout: Layout, islands: Sequence[int]) -> str:
    if len(islands) > 3:
        return counted(len(islands), "island")
    return several([layout.island_name[island] for island in islands], len(islands))
