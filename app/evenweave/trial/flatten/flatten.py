"""Flatten a surface as well as its rims allow. Runs in the worker process."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray
from evenweave.trial.flatten.contact import cleared
from evenweave.trial.flatten.energy import Energy, energy
from evenweave.trial.flatten.overlap import self_overlap
from evenweave.trial.flatten.scaffold import contactless
from evenweave.trial.flatten.solvers import arap, lscm, slim, tutte
from evenweave.trial.flatten.surface import Surface
from evenweave.trial.work import effort

EASY = 1.003  # energy below which as-rigid-as-possible is as good as the best
OVERLAP_PRICE = 0.5  # energy
APART_PRICE = 0.1  # energy that a flattening may cost for not lying on itself
APART_GAIN = 1e-4  # energy for which one is sought where a worse one lies on nothing
SLIVER = 0.005  # overlap up to which parts are drawn off each other where they are
CONVEX_SWEEPS = 20
FEW = 8  # sweeps over what is huge
SMALL, MOST_APART = 3_000, 20_000  # triangles: few sweeps above, none for a list above
MOST_LISTED = 50_000  # triangles above which the last solver takes too long for a list
HUGE = 200_000  # triangles above which the slow solvers are left out
HARD = 1.5  # energy above which a start is poor enough to try a convex one
MIRROR = np.array([-1.0, 1.0])


@dataclass(frozen=True, eq=False)
class Flattening:
    """uv : (N, 2) float64, upright, scaled so that its energy is least at one unit per metre.

    overlap : share of it that lies on itself; NaN where flips forbid to tell
    """

    uv: FloatArray
    energy: Energy
    overlap: float

    @property
    def is_sound(self) -> bool:
        """It could be used as it is: nothing flipped, nothing on itself."""
        return self.energy.flips == 0 and self.overlap == 0


def scored(surface: Surface, uv: FloatArray) -> Flattening:
    """Bring a flattening to true size, upright, and measure it on the true geometry."""
    found = energy(surface.point_m, uv, surface.triangle)
    if found.is_mirrored:
        uv = uv * MIRROR
    if np.isfinite(found.scale):
        uv = uv / found.scale
    uv = np.ascontiguousarray(uv)
    overlap = np.nan if found.flips else self_overlap(uv, surface.rims)
    return Flattening(uv, found, overlap)


def best_flattening(
    surface: Surface, *, sweeps: int | None = None, deadline: float = np.inf
) -> Flattening:
    """Return the best of the present flattening and what the solvers find.

    Better has fewer flips, then less energy, to which 0.5 is added where it lies on itself.
    Where the least stretched one lies on itself, another is sought that does not.
    sweeps : of the last solver; if None by size, and none where they would change little or
    take long.
    deadline : on the clock of `effort`, after which nothing further is begun.
    Raises ValueError with a phrase where the surface cannot be flattened.
    """
    if surface.obstacle:
        raise ValueError(surface.obstacle)
    begun = effort.now()
    found = [scored(surface, surface.uv)]
    for uv in _candidates(surface, deadline):
        if np.isfinite(uv).all():
            found.append(scored(surface, uv))
    best = min(found, key=rank)
    # A burst of the last solver takes about as long as all before it did.
    has_time = effort.now() + (effort.now() - begun) < deadline
    has_time &= len(surface.triangle) <= (HUGE if sweeps else MOST_LISTED)
    if has_time and best.energy.flips == 0 and (sweeps or best.energy.value > EASY):
        is_hard = best.energy.value > HARD
        wanted = sweeps or (50 if is_hard else 30 if len(surface.triangle) <= 10_000 else 15)
        uv = slim(
            surface.solid_m, surface.triangle, best.uv, wanted,
            settled=3e-4 if is_hard or sweeps else 3e-3, deadline=deadline,
        )  # fmt: skip
        if np.isfinite(uv).all():
            found.append(scored(surface, uv))
    found += _apart(surface, found, sweeps, deadline)
    return min(found, key=rank)


def restricted(part: Surface, whole: Surface, flat: Flattening) -> Flattening:
    """Return a part of a flattening: that of a part of the surface, which may be cut open."""
    # Sides are known by the mesh's; triangles keep the order of their corners.
    row = np.zeros(int(whole.side.max()) + 1, np.int32)
    row[whole.side] = np.arange(len(whole.side), dtype=np.int32)
    uv = np.zeros((len(part.point_m), 2))
    uv[part.triangle] = flat.uv[whole.triangle[row[part.side[::3]] // 3]]
    return scored(part, uv)


def settled(surface: Surface, flat: Flattening, deadline: float = np.inf) -> Flattening:
    """Return a flattening near one that lies on itself that does not, or that one."""
    return min([flat, *_apart(surface, [flat], None, deadline)], key=rank)


def _apart(
    surface: Surface, flattenings: list[Flattening], sweeps: int | None, deadline: float
) -> list[Flattening]:
    """Return flattenings that do not lie on themselves, where the least stretched one does.

    None that would be much more stretched, unless none that was found lies on nothing.
    """
    loose = min(flattenings, key=lambda one: one.energy.rank)
    start = min((one for one in flattenings if one.is_sound), key=rank, default=None)
    most = loose.energy.value + APART_PRICE if start is None else start.energy.value
    if not loose.overlap > 0 or most < loose.energy.value + APART_GAIN:
        return []
    if loose.overlap < SLIVER:
        uv = cleared(surface, loose.uv, deadline=deadline)
        near = None if uv is None else scored(surface, uv)
        if near is not None and near.is_sound and near.energy.value < most:
            start = near
    if len(surface.triangle) > MOST_APART and not sweeps:
        return [] if start is None else [start]
    wanted = sweeps or (60 if len(surface.triangle) <= SMALL else 15)
    new = []
    if start is not None:
        uv = contactless(surface, start.uv, wanted, deadline=deadline)
        new = [start, scored(surface, uv)]
    # Where rims touch there is no room to begin in, and no gain.
    if start is None or new[-1].energy.value > start.energy.value - APART_GAIN:
        uv = _spread_out(surface, deadline).uv
        new.append(scored(surface, contactless(surface, uv, wanted, deadline=deadline)))
    return [one for one in new if one.is_sound and one.energy.value <= most]


def _spread_out(surface: Surface, deadline: float) -> Flattening:
    """Return the last flattening on the way from a convex one that does not lie on itself."""
    last = scored(surface, tutte(surface.solid_m, surface.triangle, surface.rims))
    for _ in range(CONVEX_SWEEPS):
        uv = slim(surface.solid_m, surface.triangle, last.uv, 1, settled=0.0, deadline=deadline)
        new = scored(surface, uv)
        if not new.is_sound or new.energy.value > 0.99 * last.energy.value:
            break
        last = new
    return last


def quick_flattening(surface: Surface, sweeps: int) -> Flattening | None:
    """Return a flattening from scratch, good enough to compare cuts by; None where it fails."""
    conformal = lscm(surface.solid_m, surface.triangle, surface.rims[0])
    if conformal is None:
        return None
    first = scored(surface, conformal)
    if not np.isfinite(first.energy.scale):
        return None
    rigid = arap(surface.solid_m, surface.triangle, first.uv, sweeps)
    return min(first, scored(surface, rigid), key=rank) if np.isfinite(rigid).all() else first


def rank(flattening: Flattening) -> tuple[int, float]:
    """Order from better to worse: fewer flips, then less energy and, at a price, no overlap."""
    return flattening.energy.flips, flattening.energy.value + OVERLAP_PRICE * bool(
        flattening.overlap > 0
    )


def _candidates(surface: Surface, deadline: float) -> Iterator[FloatArray]:
    """Yield flattenings from different starts: the present one, conformal, and convex."""
    point_m, triangle = surface.solid_m, surface.triangle
    starts = [surface.uv]
    if len(triangle) > HUGE:
        starts.append(tutte(point_m, triangle, surface.rims))
        yield from _rigid(surface, starts, deadline)
        return
    conformal = lscm(point_m, triangle, surface.rims[0])
    if conformal is not None:
        yield conformal
        starts.append(conformal)
    sound = [uv for uv in (_true_size(surface, start) for start in starts) if uv is not None]
    hardness = (energy(surface.point_m, uv, triangle).value for uv in sound)
    if min(hardness, default=np.inf) > HARD:
        convex = _true_size(surface, tutte(point_m, triangle, surface.rims))
        if convex is not None:
            yield convex
            yield slim(point_m, triangle, convex, 20, deadline=deadline)
            sound.append(convex)
        if conformal is not None:
            scale = energy(point_m, conformal, triangle).scale
            if np.isfinite(scale):
                sound.append(conformal / scale)
    for start in sound:
        if effort.now() < deadline:
            yield arap(point_m, triangle, start, 20)


def _rigid(surface: Surface, starts: Sequence[FloatArray], deadline: float) -> Iterator[FloatArray]:
    """Yield what few sweeps make of the starts that do not flip."""
    for start in starts:
        sound = _true_size(surface, start)
        if sound is not None and effort.now() < deadline:
            yield arap(surface.solid_m, surface.triangle, sound, FEW)


def _true_size(surface: Surface, uv: FloatArray) -> FloatArray | None:
    """Return a flip-free start upright and at true size; None where it has flips."""
    now = energy(surface.point_m, uv, surface.triangle)
    if now.flips or not np.isfinite(now.scale):
        return None
    return np.ascontiguousarray(uv * (MIRROR if now.is_mirrored else 1.0) / now.scale)


def joint_energy(surfaces: Sequence[Surface], uvs: Sequence[FloatArray]) -> Energy:
    """Return the energy of several surfaces under one common scale."""
    first = np.cumsum([0] + [len(s.point_m) for s in surfaces])
    triangle = [s.triangle + start for s, start in zip(surfaces, first, strict=False)]
    point_m = np.vstack([s.point_m for s in surfaces])
    return energy(point_m, np.vstack(uvs), np.vstack(triangle).astype(np.int32))


def joint_overlap(surfaces: Sequence[Surface], uvs: Sequence[FloatArray]) -> float:
    """Return the share of several flip-free flattenings that lies on itself, each by itself."""
    area = np.array([s.area_m2 for s in surfaces])
    share = [self_overlap(uv, s.rims) for s, uv in zip(surfaces, uvs, strict=True)]
    return float((area * share).sum() / max(area.sum(), 1e-300))
