"""Cut here: where another seam would let an island lie with less stretch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenweave.arrays import FloatArray, IntArray, frozen, ints
from evenweave.trial.cut.candidates import CutKind
from evenweave.trial.cut.graph import Edging, edging
from evenweave.trial.cut.parted import Cutting, cuttings
from evenweave.trial.cut.search import hidden_share
from evenweave.trial.flatten import placing
from evenweave.trial.flatten.attainable import SECONDS, SOFT_SHARE, time_for
from evenweave.trial.flatten.energy import Energy
from evenweave.trial.flatten.flatten import (
    HUGE,
    Flattening,
    best_flattening,
    joint_energy,
    joint_overlap,
)
from evenweave.trial.flatten.island_mesh import IslandMesh
from evenweave.trial.flatten.surface import Surface, pieces
from evenweave.trial.uvs.corner_uvs import CornerUvs
from evenweave.trial.work import effort
from evenweave.trial.work.worker import NoAdvice, Wanted, Worker

MOST_PROPOSALS = 5
TRIANGLES_A_SECOND, MOST_SECONDS = 2_000, 40.0  # for which a large island has time


@dataclass(frozen=True, eq=False)
class CutProposal:
    """Edges of one island to make into seams.

    kinds : what each cut does, in order
    edge_corner : (E,) int32 corners of the layout: the edge runs from it to the next of its face
    edge_point : (E, 2) int32 rows of `layout.point_m`, the ends of each edge
    edge_uv : (E, 2, 2) tile units, where each edge lies on the present texture
    length_m : of all edges; hidden_share : of it along sharp or concave edges
    pieces : how many islands it leaves
    energy : predicted, with the stretch; overlap : predicted share that lies on itself
    corner_uv : (K, 2) tile units, the predicted flattening at the island's corners
    outline : (S, 2, 2) tile units, its outline, for a ghost
    """

    kinds: tuple[CutKind, ...]
    edge_corner: IntArray
    edge_point: IntArray
    edge_uv: FloatArray
    length_m: float
    hidden_share: float
    pieces: int
    energy: Energy
    overlap: float
    corner_uv: FloatArray
    outline: FloatArray


def propose_cuts(
    mesh: IslandMesh,
    worker: Worker,
    *,
    seconds: float = SECONDS,
    is_wanted: Wanted = lambda: True,
) -> tuple[CutProposal, ...]:
    """Return seams worth adding to an island, best first; empty if none helps.

    Seams run along edges of polygons. They leave one piece where that can lie flat, several
    where it cannot. The search is greedy and ends with the time.
    Raises NoAdvice where none can be sought, Cancelled when it is no longer wanted.
    """
    if len(mesh.triangle) > HUGE:
        raise NoAdvice(f"no seam is sought in more than {HUGE:,} triangles")
    seconds = max(seconds, min(len(mesh.triangle) / TRIANGLES_A_SECOND, MOST_SECONDS))
    return worker.call(_proposals, mesh, seconds, seconds=seconds, is_wanted=is_wanted)


def apply_cut(
    mesh: IslandMesh,
    proposal: CutProposal,
    worker: Worker,
    *,
    density: float | None = None,
    seconds: float = SECONDS,
    is_wanted: Wanted = lambda: True,
) -> CornerUvs:
    """Cut an island along a proposal's edges and unwrap it as well as they allow.

    density : heights of the tile per metre; the present one if None. The island stays where it
    is; pieces are laid side by side. Raises NoAdvice where it cannot be done, Cancelled.
    """
    seconds = time_for(mesh, seconds)
    uv = worker.call(
        _cut_open, mesh, proposal.edge_corner, proposal.corner_uv, density, seconds,
        seconds=seconds, is_wanted=is_wanted,
    )  # fmt: skip
    return CornerUvs.of(mesh.corner, uv)


def _proposals(mesh: IslandMesh, seconds: float) -> tuple[CutProposal, ...]:
    """Run in the worker. An island in several pieces is cut in the one that needs it most."""
    deadline = effort.now() + SOFT_SHARE * seconds
    surfaces = pieces(mesh)
    surface = max(surfaces, key=_need)
    edges = edging(surface)
    found = cuttings(surface, deadline)[:MOST_PROPOSALS]
    if not found and effort.now() > deadline:
        raise ValueError("none was found within the work that is done for one island")
    density = placing.present_density(mesh)
    proposals = tuple(_proposal(mesh, surface, edges, one, density) for one in found)
    others = [one for one in surfaces if one is not surface]
    if not others:
        return proposals
    uvs = [best_flattening(one, deadline=deadline).uv for one in others]
    return tuple(
        _with_others(proposal, one, others, uvs)
        for proposal, one in zip(proposals, found, strict=True)
    )


def _with_others(
    proposal: CutProposal, cutting: Cutting, others: list[Surface], uvs: list[FloatArray]
) -> CutProposal:
    """Return a proposal whose figures are those of all parts of the island."""
    flat = [*(one.uv for one in cutting.flats if one is not None), *uvs]
    surfaces = [*cutting.surfaces, *others]
    energy = joint_energy(surfaces, flat)
    overlap = np.nan if energy.flips else joint_overlap(surfaces, flat)
    return replace(proposal, energy=energy, overlap=overlap)


def _need(surface: Surface) -> tuple[bool, float]:
    return bool(surface.obstacle), surface.area_m2


def _proposal(
    mesh: IslandMesh, surface: Surface, edges: Edging, cutting: Cutting, density: float
) -> CutProposal:
    flat = [one.uv for one in cutting.flats if one is not None]
    if cutting.energy is None:
        raise ValueError("no flattening was found")
    surfaces = cutting.surfaces
    placed = _placed(mesh, surface, surfaces, flat, density)
    mesh_side = surface.side[cutting.side]
    ends = np.stack([mesh_side, mesh_side + 1 - 3 * (mesh_side % 3 == 2)], axis=1)
    vertex = mesh.triangle.reshape(-1)[ends]
    return CutProposal(
        kinds=cutting.kinds,
        edge_corner=ints(mesh.corner[mesh.triangle_corner.reshape(-1)[mesh_side]]),
        edge_point=ints(mesh.vertex_point[vertex]),
        edge_uv=frozen(mesh.uv[vertex]),
        length_m=float(edges.length_m[cutting.side].sum()),
        hidden_share=hidden_share(cutting.side, edges),
        pieces=len(surfaces),
        energy=cutting.energy,
        overlap=cutting.overlap,
        corner_uv=frozen(placing.corner_uv(mesh, surfaces, placed)),
        outline=frozen(placing.outline(mesh, surfaces, placed)),
    )


def _cut_open(
    mesh: IslandMesh,
    edge_corner: IntArray,
    foretold_uv: FloatArray,
    density: float | None,
    seconds: float,
) -> FloatArray:
    """Run in the worker. What was foretold is the start, so that it is never worse than that."""
    deadline = effort.now() + SOFT_SHARE * seconds
    surface, side = _sides(mesh, pieces(mesh), edge_corner)
    opened = surface.opened(side).parts()
    foretold = foretold_uv * np.array([mesh.aspect, 1.0])
    flat = [one.uv for one in _flattened([_laid(one, foretold) for one in opened], deadline)]
    wanted = placing.present_density(mesh) if density is None else density
    return placing.corner_uv(mesh, opened, _placed(mesh, surface, opened, flat, wanted))


def _placed(
    mesh: IslandMesh,
    whole: Surface,
    parts: Sequence[Surface],
    flat: Sequence[FloatArray],
    density: float,
) -> tuple[FloatArray, ...]:
    """Place the pieces of a surface, all of the whole's handedness."""
    is_mirrored = placing.is_mirrored(whole)
    placed = placing.place(parts, flat, density, is_mirrored=is_mirrored)
    return placing.side_by_side(placed, placing.Home.of(mesh))


def _laid(surface: Surface, corner_uv: FloatArray) -> Surface:
    """Return a surface with another texture. corner_uv : (K, 2) at the mesh's corners."""
    uv = surface.uv.copy()
    uv[surface.triangle] = corner_uv[surface.corner]
    return replace(surface, uv=uv)


def _flattened(surfaces: Sequence[Surface], deadline: float) -> Iterator[Flattening]:
    """Yield the best flattening of each, in time by size."""
    left = sum(len(one.triangle) for one in surfaces)
    for surface in surfaces:
        now = effort.now()
        share = len(surface.triangle) / left
        yield best_flattening(surface, sweeps=60, deadline=now + share * (deadline - now))
        left -= len(surface.triangle)


def _sides(
    mesh: IslandMesh, surfaces: Sequence[Surface], edge_corner: IntArray
) -> tuple[Surface, IntArray]:
    """Return the piece that some edges belong to, and one of its sides for each."""
    row = mesh.triangle_corner.reshape(-1)
    is_cut = mesh.side_is_edge.reshape(-1) & np.isin(mesh.corner[row], edge_corner)
    for surface in surfaces:
        side = np.flatnonzero(is_cut[surface.side]).astype(np.int32)
        if len(side):
            return surface, side
    raise ValueError("the island has changed since the cut was proposed")
