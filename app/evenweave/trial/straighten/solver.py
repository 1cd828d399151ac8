"""The straight version of an island that is a strip. Runs in the worker process."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.trial.flatten.energy import Energy, energy
from evenweave.trial.flatten.flatten import best_flattening, quick_flattening
from evenweave.trial.flatten.island_mesh import IslandMesh
from evenweave.trial.flatten.placing import corner_uv, is_mirrored, present_density
from evenweave.trial.flatten.surface import Surface, pieces
from evenweave.trial.straighten.corners import (
    Sides,
    bow,
    box_fill,
    edges,
    path_length,
    quad_corners,
    turning_corners,
)
from evenweave.trial.work import effort

LEAST_CORNER = 60.0  # degrees that a strip turns at its corners
LEAST_ASPECT = 1.3
LEAST_BOW, FULL_BOX = 0.01, 0.9  # a strip that bends less and fills its box is straight
SOFT_WEIGHT = 10.0  # with which the rim is drawn to the rectangle
ROUGH_SWEEPS = 8
ROUNDS, SWEEPS = 6, 5  # of drawing the rim to the rectangle and letting it slide along


@dataclass(frozen=True, eq=False)
class StraightStrip:
    """A strip, how it is and how it would be straight.

    bow, fill : of the best flattening; bow_now, fill_now : of the present texture
    fill_straight : of the straight version
    free, straight : energies of the best flattening and of the straight version
    sides_m : lengths of the four sides on the surface, long, short, long, short
    is_grid : its quads form a grid, which becomes a clean rectangle
    length, width : of the straight version at the present density, heights of the tile
    corner_uv : (K, 2) tile units at the island's corners, straight along the texel grid, in the
    quarter turn nearest to the present one, about the same centre
    """

    bow: float
    fill: float
    bow_now: float
    fill_now: float
    fill_straight: float
    free: Energy
    straight: Energy
    sides_m: tuple[float, float, float, float]
    is_grid: bool
    length: float
    width: float
    corner_uv: FloatArray


def straight_strip(mesh: IslandMesh, seconds: float) -> StraightStrip:
    """Straighten an island; ValueError with a phrase where it is no strip or is straight."""
    surfaces = pieces(mesh)
    if len(surfaces) > 1 or len(surfaces[0].rims) != 1 or surfaces[0].genus:
        raise ValueError("it is not one piece without holes")
    surface = surfaces[0]
    deadline = effort.now() + seconds / 2
    rough = quick_flattening(surface, ROUGH_SWEEPS)
    if rough is not None and not rough.energy.flips:
        _band(surface, rough.uv)  # most islands are no strip, which this tells in little time
    free = best_flattening(surface, deadline=deadline)
    if free.energy.flips:
        raise ValueError("it cannot be laid out without faces turned over")
    band = _band(surface, free.uv)
    rim, sides, sides_m = surface.rims[0], band.sides, band.sides_m
    is_grid = bool(np.isnan(sides.degrees))
    uv = _grid_rectangle(surface, sides) if is_grid else _soft_rectangle(surface, sides, sides_m)
    found = energy(surface.point_m, uv, surface.triangle)
    if found.flips or not np.isfinite(found.scale):
        raise ValueError("its straight version has faces turned over")
    uv = uv / found.scale * present_density(mesh)
    now = surface.uv[rim] * (np.array([-1.0, 1.0]) if is_mirrored(surface) else 1.0)
    size = np.ptp(uv, axis=0)
    return StraightStrip(
        bow=band.bow,
        fill=band.fill,
        bow_now=bow(now, sides),
        fill_now=box_fill(now),
        fill_straight=box_fill(uv[rim]),
        free=free.energy,
        straight=found,
        sides_m=(sides_m[0], sides_m[1], sides_m[2], sides_m[3]),
        is_grid=is_grid,
        length=float(size.max()),
        width=float(size.min()),
        corner_uv=corner_uv(mesh, surfaces, [_placed(surface, uv)]),
    )


@dataclass(frozen=True, eq=False)
class _Band:
    """The four sides of a bent strip, their lengths on the surface, its bow and box fill."""

    sides: Sides
    sides_m: tuple[float, ...]
    bow: float
    fill: float


def _band(surface: Surface, uv: FloatArray) -> _Band:
    """Find the sides of a strip that lies flat; ValueError where it is none or is straight."""
    rim = surface.rims[0]
    outline = uv[rim]
    sides = quad_corners(surface, uv) or turning_corners(outline)
    if sides is None:
        raise ValueError("it has no four corners")
    bend, fill = bow(outline, sides), box_fill(outline)
    sides_m = tuple(path_length(surface.point_m[side]) for side in sides.of(rim))
    _refuse_other_shapes(sides, sides_m, bend, fill)
    return _Band(sides, sides_m, bend, fill)


def _refuse_other_shapes(
    sides: Sides, sides_m: tuple[float, ...], bend: float, fill: float
) -> None:
    """Raise ValueError for what is no strip, or none that bends."""
    if sides.degrees < LEAST_CORNER:
        raise ValueError("it has no four corners")
    is_grid = bool(np.isnan(sides.degrees))
    aspect = (sides_m[0] + sides_m[2]) / max(sides_m[1] + sides_m[3], 1e-300)
    if not is_grid and aspect < LEAST_ASPECT:
        raise ValueError("it is too short for a strip")
    if not is_grid and bend <= LEAST_BOW and fill >= FULL_BOX:
        raise ValueError("it is straight")


def _rectangle(sides_m: tuple[float, ...], rim_m: list[FloatArray]) -> FloatArray:
    """Return (N, 2) places of the rim on a rectangle, by length along each side.

    In the order of the sides, each without its last vertex.
    """
    across, up = (sides_m[0] + sides_m[2]) / 2, (sides_m[1] + sides_m[3]) / 2
    corner = np.array([[0.0, 0.0], [across, 0.0], [across, up], [0.0, up], [0.0, 0.0]])
    found = []
    for number, path in enumerate(rim_m):
        step = np.linalg.norm(np.diff(path, axis=0), axis=1)
        share = np.concatenate([[0.0], np.cumsum(step)[:-1]]) / max(float(step.sum()), 1e-300)
        found.append(corner[number] + share[:, None] * (corner[number + 1] - corner[number]))
    return np.vstack(found)


def _soft_rectangle(surface: Surface, sides: Sides, sides_m: tuple[float, ...]) -> FloatArray:
    """Return (N, 2) a flattening whose rim is drawn to a rectangle but may slide."""
    paths = sides.of(surface.rims[0])
    rim = np.concatenate([path[:-1] for path in paths]).astype(np.int32)
    uv = _start(surface, paths, sides_m)
    ends = np.cumsum([0, *(len(path) - 1 for path in paths)])
    for _ in range(ROUNDS):
        uv = _drawn(surface, uv, rim, _projected(uv[rim], ends))
    return uv


def _start(surface: Surface, paths: tuple[IntArray, ...], sides_m: tuple[float, ...]) -> FloatArray:
    """Return (N, 2) a map onto a rectangle without flips.

    Each coordinate is harmonic between the two sides on which it is fixed and free along the
    others, so that opposite places face each other; else the rim is spaced by length.
    """
    import igl

    length, width = (sides_m[0] + sides_m[2]) / 2, (sides_m[1] + sides_m[3]) / 2
    point, triangle = surface.solid_m, surface.triangle
    axes = []
    for low, high, most in ((paths[3], paths[1], length), (paths[0], paths[2], width)):
        fixed = np.concatenate([low, high]).astype(np.int32)
        value = np.repeat([0.0, most], [len(low), len(high)])[:, None]
        axes.append(np.asarray(igl.harmonic(point, triangle, fixed, value, 1)).reshape(-1))
    rim = np.concatenate([path[:-1] for path in paths]).astype(np.int32)
    even = _rectangle(sides_m, [surface.point_m[path] for path in paths])
    for uv in (np.stack(axes, axis=1), igl.harmonic(point, triangle, rim, even, 1)):
        if np.isfinite(uv).all() and not energy(surface.point_m, uv, triangle).flips:
            return np.ascontiguousarray(uv)
    raise ValueError("its straight version has faces turned over")


def _drawn(surface: Surface, uv: FloatArray, rim: IntArray, goal: FloatArray) -> FloatArray:
    """Return (N, 2) a flattening of little stretch whose rim is drawn to a goal."""
    import igl

    data = igl.slim_precompute(
        np.asfortranarray(surface.solid_m),
        np.asfortranarray(surface.triangle, np.int32),
        np.asfortranarray(uv),
        igl.SYMMETRIC_DIRICHLET,
        rim,
        np.asfortranarray(goal),
        SOFT_WEIGHT,
    )
    return np.ascontiguousarray(igl.slim_solve(data, SWEEPS))


def _projected(at: FloatArray, ends: IntArray) -> FloatArray:
    """Return a rim moved onto the straight line through each of its sides, along which it slid.

    at : (N, 2) in the order of the sides, each without its last vertex; side k has ends[k] to
    ends[k + 1]
    """
    goal = at.copy()
    for side in range(4):
        own = np.append(np.arange(ends[side], ends[side + 1]), ends[side + 1] % len(at))
        axis = 1 - side % 2
        goal[own, axis] = at[own, axis].mean()
    return goal


def _grid_rectangle(surface: Surface, sides: Sides) -> FloatArray:
    """Return (N, 2) a rectangle whose rows and columns are as wide as their edges are on average.

    The harmonic map of a grid's edges, all weighing alike, whose rim is numbered by row and
    column, is row and column.
    """
    paths = sides.of(surface.rims[0])
    columns, rows = len(paths[0]) - 1, len(paths[1]) - 1
    at = np.zeros((len(surface.point_m), 2))
    at[paths[0]] = np.stack([np.arange(columns + 1), np.zeros(columns + 1)], axis=1)
    at[paths[1]] = np.stack([np.full(rows + 1, columns), np.arange(rows + 1)], axis=1)
    at[paths[2]] = np.stack([np.arange(columns, -1, -1), np.full(columns + 1, rows)], axis=1)
    at[paths[3]] = np.stack([np.zeros(rows + 1), np.arange(rows, -1, -1)], axis=1)
    edge = edges(surface)
    cell = np.rint(_harmonic(at, edge, surface.rims[0])).astype(np.int64)
    length = np.linalg.norm(surface.point_m[edge[:, 0]] - surface.point_m[edge[:, 1]], axis=1)
    step = np.abs(cell[edge[:, 0]] - cell[edge[:, 1]])
    if not (step.sum(axis=1) == 1).all():
        raise ValueError("its quads do not form a grid")
    result = np.empty_like(at)
    for axis, count in enumerate((columns, rows)):
        along = step[:, axis] == 1
        band = np.minimum(cell[edge[along, 0], axis], cell[edge[along, 1], axis])
        mean = np.bincount(band, length[along], count) / np.bincount(band, minlength=count)
        result[:, axis] = np.concatenate([[0.0], np.cumsum(mean)])[cell[:, axis]]
    return result


def _harmonic(at: FloatArray, edge: IntArray, rim: IntArray) -> FloatArray:
    """Return (N, 2) places in which every inner vertex is the mean of its neighbours."""
    from scipy.sparse import coo_matrix, diags
    from scipy.sparse.linalg import splu

    count = len(at)
    inner = np.setdiff1d(np.arange(count), rim)
    if len(inner) == 0:
        return at
    both = np.vstack([edge, edge[:, ::-1]])
    joined = coo_matrix((np.ones(len(both)), (both[:, 0], both[:, 1])), (count, count)).tocsr()
    laplacian = (diags(np.asarray(joined.sum(axis=1)).ravel()) - joined).tocsr()
    right = -(laplacian[inner][:, rim] @ at[rim])
    found = at.copy()
    solve = splu(laplacian[inner][:, inner].tocsc())
    found[inner] = solve.solve(np.asarray(right))
    return found


def _placed(surface: Surface, uv: FloatArray) -> FloatArray:
    """Return a straight version over the present texture, turned by quarters only."""
    if is_mirrored(surface):
        uv = uv * np.array([-1.0, 1.0])
    middle = (surface.uv.min(axis=0) + surface.uv.max(axis=0)) / 2
    a, b = uv - uv.mean(axis=0), surface.uv - surface.uv.mean(axis=0)
    along = float((a * b).sum())
    across = float((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum())
    quarters = round(float(np.arctan2(across, along)) / (np.pi / 2)) % 4
    for _ in range(quarters):
        uv = np.stack([-uv[:, 1], uv[:, 0]], axis=1)
    placed: FloatArray = uv + middle - (uv.min(axis=0) + uv.max(axis=0)) / 2
    return placed
