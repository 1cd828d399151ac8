"""Shapes to flatten, as one island each: closed and open surfaces whose best cuts are known.

    tube(), capped_tube(), cone(), cap(), sphere(), torus(), elbow(), box(), l_prism(), mobius()

Textures are projections along z, crumpled for closed shapes, unless told otherwise; metres.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
from numpy.typing import NDArray
from tests.shapes import asset

from evenweave.layout.build import build_layouts
from evenweave.mesh.asset import Asset
from evenweave.trial.flatten.island_mesh import IslandMesh, island_mesh

Points = NDArray[np.float64]
Surface = Callable[[Points, Points], Iterable[Points]]
Texture = Callable[[Points], Points]
TURN = 2 * np.pi


def planar(p: Points) -> Points:
    return p[:, :2]


def crumpled(p: Points) -> Points:
    """A projection in which no two halves of a closed shape fall together."""
    return p[:, :2] + np.random.default_rng(3).normal(0, 0.03, (len(p), 2))


def island(one: Asset, number: int = 0, *, aspect: float = 1.0) -> IslandMesh:
    """Return one island of an asset's first layout."""
    return island_mesh(build_layouts(one, None, ())[0], number, aspect=aspect)


def grid(
    surface: Surface,
    size: tuple[int, int],
    *,
    closed: tuple[bool, bool] = (True, False),
    texture: Texture = planar,
) -> Asset:
    """Return quads over the unit square (s, t); points that fall together become one."""
    columns, rows = size
    across, up = columns + (not closed[0]), rows + (not closed[1])
    t, s = np.meshgrid(np.arange(up) / rows, np.arange(across) / columns, indexing="ij")
    point = np.stack(np.broadcast_arrays(*surface(s.ravel(), t.ravel())), axis=1)
    _, first, number = np.unique(
        np.round(point, 9) + 0.0, axis=0, return_index=True, return_inverse=True
    )
    number = first[number.ravel()]
    faces = []
    for j in range(rows):
        for i in range(columns):
            right, above = (i + 1) % across, (j + 1) % up
            ring = [j * across + i, j * across + right, above * across + right, above * across + i]
            ring = [int(number[k]) for k in ring]
            ring = [k for n, k in enumerate(ring) if k != ring[n - 1]]
            if len(ring) > 2:
                faces.append(ring)
    return solid(point, faces, texture)


def solid(point: Points, faces: list[list[int]], texture: Texture) -> Asset:
    used, number = np.unique(np.concatenate([np.array(f) for f in faces]), return_inverse=True)
    ends = np.cumsum([len(face) for face in faces])[:-1]
    rings = [list(map(int, part)) for part in np.split(number.ravel(), ends)]
    return asset(point[used], rings, texture(point[used]))


def tube(*, radius: float = 0.5, length: float = 2.0, texture: Texture = planar) -> Asset:
    return grid(
        lambda s, t: (radius * np.cos(TURN * s), radius * np.sin(TURN * s), length * t),
        (32, 24),
        texture=texture,
    )


def capped_tube() -> Asset:
    """The tube with fans of triangles as lids."""
    one = tube()
    rim, top = 32, 32 * 24
    point = np.vstack([one.position, [[0, 0, 0], [0, 0, 2.0]]])
    faces = [list(map(int, f)) for f in one.corner_position.reshape(-1, 4)]
    order = np.lexsort((np.arctan2(one.position[:, 1], one.position[:, 0]), one.position[:, 2]))
    low, high, middle = order[:rim], order[top : top + rim], len(one.position)
    for k in range(rim):
        after = (k + 1) % rim
        faces.append([int(low[after]), int(low[k]), middle])
        faces.append([int(high[k]), int(high[after]), middle + 1])
    return solid(point, faces, crumpled)


def cone(*, texture: Texture = planar) -> Asset:
    def surface(s: Points, t: Points) -> tuple[Points, Points, Points]:
        reach = 0.5 * (1 - t)
        return reach * np.cos(TURN * s), reach * np.sin(TURN * s), t

    return grid(surface, (48, 24), texture=texture)


def cap(share: float = 0.5, *, texture: Texture = planar) -> Asset:
    """A part of the unit sphere round its pole, 0.5 a hemisphere, 1 all of it."""
    widest = np.arccos(1 - 2 * share)

    def surface(s: Points, t: Points) -> tuple[Points, Points, Points]:
        angle = widest * (1 - t)
        reach = np.sin(angle)
        return reach * np.cos(TURN * s), reach * np.sin(TURN * s), np.cos(angle)

    return grid(surface, (48, 16), texture=texture)


def sphere() -> Asset:
    return cap(1.0, texture=crumpled)


def torus() -> Asset:
    def surface(s: Points, t: Points) -> tuple[Points, Points, Points]:
        reach = 1 + 0.36 * np.cos(TURN * t)
        return reach * np.cos(TURN * s), reach * np.sin(TURN * s), 0.36 * np.sin(TURN * t)

    return grid(surface, (40, 20), closed=(True, True), texture=crumpled)


def elbow(*, radius: float = 0.2, turn: float = np.pi / 2) -> Asset:
    """A pipe bent about the z axis at distance 1."""

    def surface(s: Points, t: Points) -> tuple[Points, Points, Points]:
        reach = 1 - radius * np.cos(TURN * s)
        return reach * np.cos(turn * t), reach * np.sin(turn * t), radius * np.sin(TURN * s)

    return grid(surface, (24, 24), texture=crumpled)


def box() -> Asset:
    return blocks([(0, 0, 0)])


def l_prism() -> Asset:
    return blocks([(0, 0, 0), (1, 0, 0), (0, 1, 0)])


def blocks(cells: list[tuple[int, int, int]], parts: int = 4) -> Asset:
    """The outside of unit cubes, each cut `parts` times along each edge."""
    small = {
        (parts * a + i, parts * b + j, parts * c + k)
        for a, b, c in cells
        for i in range(parts)
        for j in range(parts)
        for k in range(parts)
    }
    number: dict[tuple[int, ...], int] = {}
    faces = []
    for cell in sorted(small):
        for axis in range(3):
            for step in (-1, 1):
                beside = np.array(cell)
                beside[axis] += step
                if tuple(beside.tolist()) in small:
                    continue
                base = np.array(cell)
                base[axis] += step > 0
                u, v = np.eye(3, dtype=int)[(axis + 1) % 3], np.eye(3, dtype=int)[(axis + 2) % 3]
                ring = [base, base + u, base + u + v, base + v]
                ring = ring if step > 0 else ring[::-1]
                faces.append([number.setdefault(tuple(p.tolist()), len(number)) for p in ring])
    return solid(np.array(list(number), dtype=float) / parts, faces, crumpled)


def mobius() -> Asset:
    """A strip joined to itself with half a turn: one-sided."""
    count = 24
    angle = TURN * np.arange(count) / count
    half = np.stack([np.cos(angle / 2) * np.cos(angle), np.cos(angle / 2) * np.sin(angle),
                     np.sin(angle / 2)], axis=1)  # fmt: skip
    middle = np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=1)
    point = np.vstack([middle - 0.3 * half, middle + 0.3 * half])
    faces = [[k, k + 1, count + k + 1, count + k] for k in range(count - 1)]
    faces.append([count - 1, count, 0, 2 * count - 1])
    return solid(point, faces, planar)
