"""What is attainable with the same seams: how good the island is, and how good it could be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray, frozen
from evenweave.trial.flatten import placing
from evenweave.trial.flatten.energy import Energy
from evenweave.trial.flatten.flatten import (
    HUGE,
    MIRROR,
    best_flattening,
    joint_energy,
    joint_overlap,
)
from evenweave.trial.flatten.island_mesh import IslandMesh
from evenweave.trial.flatten.surface import SHARED_EDGE, Surface, pieces
from evenweave.trial.uvs.corner_uvs import CornerUvs
from evenweave.trial.work import effort
from evenweave.trial.work.worker import Wanted, Worker

SECONDS = 20.0
SOFT_SHARE = 0.6  # of the time, after which a solver begins nothing further
TRIANGLES_A_SECOND = 10_000  # for which a large island has time, however short it is for others
FEW_SWEEPS = "it is so large that few sweeps had to do, and its seams may allow a little less"


@dataclass(frozen=True, eq=False)
class Attainable:
    """The present texture of an island beside the best one that its seams allow.

    overlap_now, overlap_best : share that lies on itself; NaN where flips forbid to tell
    energy_best : None where no flattening exists; `obstacle` then says why, else it is ""
    corner_uv : (K, 2) tile units, the best flattening at the island's corners, of the present
    density, turned and moved over the present one (the present one where there is no best)
    outline : (S, 2, 2) tile units, its outline, for a ghost over the present one
    caveat : what was taken for granted, a sentence without full stop, or ""
    """

    energy_now: Energy
    overlap_now: float
    energy_best: Energy | None
    overlap_best: float
    corner_uv: FloatArray
    outline: FloatArray
    obstacle: str
    caveat: str

    @property
    def gain(self) -> float:
        """Energy that another flattening saves; inf where the present one has flips."""
        if self.energy_best is None:
            return 0.0
        if self.energy_now.flips > self.energy_best.flips:
            return float("inf")
        return max(self.energy_now.value - self.energy_best.value, 0.0)


def time_for(mesh: IslandMesh, seconds: float) -> float:
    """Return the seconds that an island may take: those, or more where it is large."""
    return max(seconds, len(mesh.triangle) / TRIANGLES_A_SECOND)


def attainable(
    mesh: IslandMesh,
    worker: Worker,
    *,
    seconds: float = SECONDS,
    is_wanted: Wanted = lambda: True,
) -> Attainable:
    """Compare an island with the best its seams allow.

    Raises NoAdvice where it cannot be told, Cancelled when it is no longer wanted.
    """
    seconds = time_for(mesh, seconds)
    return worker.call(_attainable, mesh, seconds, seconds=seconds, is_wanted=is_wanted)


def apply_unwrap(
    mesh: IslandMesh,
    worker: Worker,
    *,
    density: float | None = None,
    seconds: float = SECONDS,
    is_wanted: Wanted = lambda: True,
) -> CornerUvs:
    """Unwrap an island again with the same seams, as well as they allow.

    density : heights of the tile per metre; the present one if None. The island stays where it
    is, and mirrored if it is. Raises NoAdvice where it cannot be done, Cancelled.
    """
    seconds = time_for(mesh, seconds)
    uv = worker.call(_unwrapped, mesh, density, seconds, seconds=seconds, is_wanted=is_wanted)
    return CornerUvs.of(mesh.corner, uv)


def apply_unmirror(mesh: IslandMesh) -> CornerUvs:
    """Mirror an island in u about the middle of its bounds."""
    uv = mesh.uv[mesh.corner_vertex].copy()
    uv[:, 0] = uv[:, 0].min() + uv[:, 0].max() - uv[:, 0]
    return CornerUvs.of(mesh.corner, uv)


def _attainable(mesh: IslandMesh, seconds: float) -> Attainable:
    """Run in the worker."""
    deadline = effort.now() + SOFT_SHARE * seconds
    surfaces = pieces(mesh)
    now = joint_energy(surfaces, [s.uv for s in surfaces])
    overlap_now = np.nan if now.flips else joint_overlap(surfaces, [_upright(s) for s in surfaces])
    obstacle = next((s.obstacle for s in surfaces if s.obstacle), "")
    caveat = SHARED_EDGE if len(surfaces) > 1 else ""
    if len(mesh.triangle) > HUGE:
        caveat = FEW_SWEEPS
    if obstacle and len(surfaces) > 1:
        # To cut one part would leave the others as they are.
        raise ValueError(f"a part of {obstacle}")
    if obstacle:
        return Attainable(
            energy_now=now, overlap_now=overlap_now, energy_best=None, overlap_best=np.nan,
            corner_uv=frozen(mesh.uv[mesh.corner_vertex]), outline=frozen(np.zeros((0, 2, 2))),
            obstacle=obstacle, caveat=caveat,
        )  # fmt: skip
    flat = [best_flattening(s, deadline=deadline).uv for s in surfaces]
    placed = placing.place(surfaces, flat, placing.present_density(mesh))
    best = joint_energy(surfaces, flat)
    return Attainable(
        energy_now=now,
        overlap_now=overlap_now,
        energy_best=best,
        overlap_best=np.nan if best.flips else joint_overlap(surfaces, flat),
        corner_uv=frozen(placing.corner_uv(mesh, surfaces, placed)),
        outline=frozen(placing.outline(mesh, surfaces, placed)),
        obstacle="",
        caveat=caveat,
    )


def _unwrapped(mesh: IslandMesh, density: float | None, seconds: float) -> FloatArray:
    """Run in the worker."""
    deadline = effort.now() + SOFT_SHARE * seconds
    surfaces = pieces(mesh)
    flat = [best_flattening(s, sweeps=60, deadline=deadline).uv for s in surfaces]
    wanted = placing.present_density(mesh) if density is None else density
    return placing.corner_uv(mesh, surfaces, placing.place(surfaces, flat, wanted))


def _upright(surface: Surface) -> FloatArray:
    return surface.uv * (MIRROR if placing.is_mirrored(surface) else 1.0)
