"""Try a sew: weld two islands along a run of seam and flatten them as one. In the worker."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray, frozen
from evenweave.trial.cut.candidates import angle_defects
from evenweave.trial.flatten import placing
from evenweave.trial.flatten.energy import Energy
from evenweave.trial.flatten.flatten import Flattening, best_flattening, quick_flattening
from evenweave.trial.flatten.island_mesh import IslandMesh
from evenweave.trial.flatten.surface import Surface, pieces, triangle_areas
from evenweave.trial.flatten.topology import components
from evenweave.trial.sew.chains import CORNER

MOST_ENERGY = 1.02
LEAST_ADDED = 0.003  # energy that may be added to islands that are above it already
SWEEPS = 8


@dataclass(frozen=True, eq=False)
class Alone:
    """An island by itself: energy as well as its seams allow, area in m2, number of rims."""

    value: float
    area_m2: float
    rims: int


@dataclass(frozen=True, eq=False)
class Sewn:
    """The joined islands: energy, and per corner (K, 2) tile units; fill of the smallest box.

    added : energy above that of the islands apart, weighted by surface
    """

    energy: Energy
    added: float
    fill: float
    corner_uv: FloatArray
    outline: FloatArray


def alone(mesh: IslandMesh) -> Alone:
    """Flatten an island by itself. Raises ValueError where that cannot be done."""
    surface = _single(mesh)
    flat = quick_flattening(surface, SWEEPS)
    if flat is None or flat.energy.flips:
        raise ValueError("it does not lie flat by itself")
    return Alone(flat.energy.value, surface.area_m2, len(surface.rims))


def sewn(
    mesh: IslandMesh,
    host_corners: int,
    inside: IntArray,
    apart: Sequence[Alone],
    sweeps: int | None = None,
) -> Sewn:
    """Flatten welded islands as one. Raises ValueError with a phrase where it is not worth it.

    mesh : from `welded`, of which the first `host_corners` corners stay where they are
    inside : vertices of the mesh along the run
    apart : the islands by themselves
    sweeps : to flatten as well as possible, None to judge quickly
    """
    surface = _single(mesh)
    most_rims = sum(one.rims for one in apart) - (len(apart) - 1)
    if not 1 <= len(surface.rims) <= most_rims:
        raise ValueError("it would leave a hole or close the island")
    if _holds_corner(surface, inside):
        raise ValueError("a sharp corner would end up inside")
    flat = best_flattening(surface, sweeps=sweeps) if sweeps else quick_flattening(surface, SWEEPS)
    if flat is None or not flat.is_sound:
        raise ValueError("it would flip or lie on itself")
    area = sum(one.area_m2 for one in apart)
    before = sum(one.value * one.area_m2 for one in apart) / area
    added = max(flat.energy.value - before, 0.0)
    if flat.energy.value > MOST_ENERGY and added > LEAST_ADDED:
        raise ValueError("it would stretch too much")
    is_host: BoolArray = np.asarray((surface.corner < host_corners).all(axis=1))
    placed = [placing.over(surface, flat.uv * _host_density(mesh, host_corners), is_host)]
    return Sewn(
        energy=flat.energy,
        added=added,
        fill=box_fill(surface, flat),
        corner_uv=frozen(placing.corner_uv(mesh, [surface], placed)),
        outline=frozen(placing.outline(mesh, [surface], placed)),
    )


def _single(mesh: IslandMesh) -> Surface:
    surfaces = pieces(mesh)
    if len(surfaces) > 1:
        raise ValueError("it falls into several pieces")
    if surfaces[0].obstacle:
        raise ValueError(surfaces[0].obstacle)
    return surfaces[0]


def _holds_corner(surface: Surface, inside: IntArray) -> bool:
    is_inside = np.isin(surface.vertex, inside)
    for rim in surface.rims:
        is_inside[rim] = False
    return bool((np.abs(angle_defects(surface))[is_inside] > CORNER).any())


def _host_density(mesh: IslandMesh, host_corners: int) -> float:
    is_host = (mesh.triangle_corner < host_corners).all(axis=1)
    triangle = mesh.triangle_corner[is_host]
    point_m, uv = mesh.point_m[mesh.corner_vertex], mesh.square_uv[mesh.corner_vertex]
    surface = float(triangle_areas(point_m, triangle).sum())
    texture = float(np.abs(placing.uv_areas(uv, triangle)).sum())
    return float(np.sqrt(texture / surface)) if surface > 0 else 0.0


def box_fill(surface: Surface, flat: Flattening) -> float:
    """Return the share of its smallest rectangle, turned as need be, that a flattening fills."""
    import shapely

    box = shapely.oriented_envelope(shapely.MultiPoint(flat.uv[np.concatenate(surface.rims)]))
    area = float(np.abs(placing.uv_areas(flat.uv, surface.triangle)).sum())
    return min(area / max(float(shapely.area(box)), 1e-300), 1.0)


def welded(
    host: IslandMesh, other: IslandMesh | None, weld: tuple[IntArray, IntArray]
) -> tuple[IslandMesh, IntArray]:
    """Return host and other (None : the host with itself) as one mesh, joined where told.

    weld : pairs of corners of the layout that become one vertex. The host's corners come first.
    Also returns the vertices that were joined. A joined vertex has the host's present uv.
    """
    parts = [host] if other is None else [host, other]
    first_vertex = np.cumsum([0] + [len(part.point_m) for part in parts])
    first_corner = np.cumsum([0] + [len(part.corner) for part in parts])
    corner = np.concatenate([part.corner for part in parts])
    corner_vertex = np.concatenate(
        [part.corner_vertex + n for part, n in zip(parts, first_vertex, strict=False)]
    )
    order = np.argsort(corner)
    a, b = (corner_vertex[order[np.searchsorted(corner[order], end)]] for end in weld)
    label = components(int(first_vertex[-1]), a, b)
    _, first, new = np.unique(label, return_index=True, return_inverse=True)
    new = new.reshape(-1).astype(np.int32)
    corner_vertex = new[corner_vertex]
    triangle_corner = np.vstack(
        [part.triangle_corner + n for part, n in zip(parts, first_corner, strict=False)]
    ).astype(np.int32)
    mesh = IslandMesh(
        point_m=np.vstack([part.point_m for part in parts])[first],
        uv=np.vstack([part.uv for part in parts])[first],
        triangle=corner_vertex[triangle_corner],
        vertex_point=np.concatenate([part.vertex_point for part in parts])[first],
        corner=corner,
        corner_vertex=corner_vertex,
        triangle_corner=triangle_corner,
        side_is_edge=np.vstack([part.side_is_edge for part in parts]),
        aspect=host.aspect,
    )
    return mesh, np.unique(new[np.append(a, b)])
