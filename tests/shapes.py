"""Small analytic assets for tests, all built from numbers.

    plane(2, 1)                       a 2 m x 1 m sheet whose texture fills the tile 0-1
    patch(surface, texture, ...)      any surface (s, t) -> xyz with any texture (s, t) -> uv
    cube(), cube_pieces()             one cross-shaped island; six islands
    cylinder(), cone()                unrolled without stretch
    sphere_patch(projection)          a map projection of a piece of the unit sphere
    tori(islands, ...)                many islands of quads, triangles and hexagons
    asset(...), together(...), with_uv_set(...), moved(...), unwelded(...), shuffled(...)

Lengths are metres, textures in tile units with v up; every face is counter-clockwise seen from
outside and unmirrored in the texture unless a test makes it otherwise.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenweave.arrays import frozen
from evenweave.mesh.asset import Asset, Unit, UvSet

Faces = Sequence[Sequence[int]] | NDArray[Any]
Field = Callable[[NDArray[np.float64], NDArray[np.float64]], Sequence[NDArray[np.float64]]]


def _ints(values: ArrayLike) -> NDArray[np.int32]:
    return frozen(np.array(values, dtype=np.int32))


def _floats(values: ArrayLike, width: int) -> NDArray[np.float64]:
    return frozen(np.array(values, dtype=np.float64).reshape(-1, width))


def asset(
    position: ArrayLike,
    faces: Faces,
    uv: ArrayLike | None = None,
    *,
    uv_faces: Faces | None = None,
    normal: ArrayLike | None = None,
    normal_faces: Faces | None = None,
    face_part: ArrayLike | None = None,
    parts: Sequence[str] = ("part",),
    face_material: ArrayLike | None = None,
    materials: Sequence[str] = ("material",),
    face_smoothing: ArrayLike | None = None,
    uv_name: str = "uv",
    metres: float = 1.0,
) -> Asset:
    """Return an asset of polygons given as lists of point numbers.

    `uv_faces` and `normal_faces` are shaped like `faces` and default to it; -1 means absent.
    """
    sizes = [len(face) for face in faces]
    start = np.concatenate([[0], np.cumsum(sizes)]) if sizes else np.zeros(1)
    corners = _flat(faces)
    count = len(sizes)
    sets: tuple[UvSet, ...] = ()
    if uv is not None:
        sets = (UvSet(uv_name, _floats(uv, 2), _flat(faces if uv_faces is None else uv_faces)),)
    if normal is None:
        corner_normal = _ints(np.full(len(corners), -1))
    else:
        corner_normal = _flat(faces if normal_faces is None else normal_faces)
    zeros = np.zeros(count)
    return Asset(
        path=Path("shape.obj"),
        format="obj",
        unit=Unit(metres, is_stated=metres != 1.0),
        up_axis="y",
        position=_floats(position, 3),
        face_start=_ints(start),
        corner_position=corners,
        normal=_floats([] if normal is None else normal, 3),
        corner_normal=corner_normal,
        face_part=_ints(zeros if face_part is None else face_part),
        part_names=tuple(parts),
        face_material=_ints(zeros if face_material is None else face_material),
        material_names=tuple(materials),
        face_smoothing=_ints(zeros - 1 if face_smoothing is None else face_smoothing),
        uv_sets=sets,
        caveats=(),
        digest="0" * 64,
    )


def _flat(faces: Faces) -> NDArray[np.int32]:
    return _ints([index for face in faces for index in face])


def patch(
    surface: Field,
    texture: Field,
    *,
    columns: int = 1,
    rows: int = 1,
    triangles: bool = False,
    part: str = "part",
) -> Asset:
    """Return the image of the unit square (s, t), cut into quads (or triangles).

    `surface` and `texture` take arrays s and t and return three and two coordinates.
    """
    t, s = np.meshgrid(np.linspace(0, 1, rows + 1), np.linspace(0, 1, columns + 1), indexing="ij")
    s, t = s.ravel(), t.ravel()
    position = np.column_stack([np.broadcast_to(x, s.shape) for x in surface(s, t)])
    uv = np.column_stack([np.broadcast_to(x, s.shape) for x in texture(s, t)])
    return asset(position, grid_faces(columns, rows, triangles=triangles), uv, parts=(part,))


def grid_faces(columns: int, rows: int, *, triangles: bool = False) -> NDArray[np.int64]:
    """Return the faces of a grid of (columns + 1) x (rows + 1) points numbered row by row."""
    first = (np.arange(rows)[:, None] * (columns + 1) + np.arange(columns)).ravel()
    a, b, c, d = first, first + 1, first + columns + 2, first + columns + 1
    if triangles:
        return np.stack([a, b, c, a, c, d], axis=1).reshape(-1, 3)
    return np.stack([a, b, c, d], axis=1)


def plane(
    width: float = 1.0,
    height: float = 1.0,
    *,
    columns: int = 1,
    rows: int = 1,
    bounds: tuple[float, float, float, float] = (0.0, 0.0, 1.0, 1.0),
    triangles: bool = False,
    part: str = "part",
) -> Asset:
    """Return a sheet in the plane z = 0 whose texture fills `bounds` (u0, v0, u1, v1)."""
    u0, v0, u1, v1 = bounds
    return patch(
        lambda s, t: (s * width, t * height, 0 * s),
        lambda s, t: (u0 + (u1 - u0) * s, v0 + (v1 - v0) * t),
        columns=columns,
        rows=rows,
        triangles=triangles,
        part=part,
    )


CUBE_POSITION = np.array([(x, y, z) for z in (0, 1) for y in (0, 1) for x in (0, 1)], dtype=float)
CUBE_FACES = ((0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (1, 3, 7, 5), (3, 2, 6, 7), (2, 0, 4, 6))
CUBE_NORMAL = np.array([(0, 0, -1), (0, 0, 1), (0, -1, 0), (1, 0, 0), (0, 1, 0), (-1, 0, 0)], float)


def cube(*, flat_normals: bool = False) -> Asset:
    """Return a unit cube unfolded into a cross of squares of 1/4 tile: 7 seams, one island."""
    # The four sides form a row from u = 0 to 1; bottom below and top above its first square.
    grid = {point: number for number, point in enumerate(_CROSS_POINTS)}
    uv = np.array(_CROSS_POINTS, dtype=float) / 4
    sides = [[(k, 1), (k + 1, 1), (k + 1, 2), (k, 2)] for k in range(4)]
    bottom = [(0, 1), (0, 0), (1, 0), (1, 1)]
    top = [(0, 2), (1, 2), (1, 3), (0, 3)]
    uv_faces = [[grid[point] for point in face] for face in (bottom, top, *sides)]
    return _cube(uv, uv_faces, flat_normals=flat_normals)


_CROSS_POINTS = [
    *((i, 0) for i in range(2)),
    *((i, 1) for i in range(5)),
    *((i, 2) for i in range(5)),
    *((i, 3) for i in range(2)),
]


def cube_pieces(*, flat_normals: bool = False, gap: float = 0.1) -> Asset:
    """Return a unit cube whose faces are six islands: squares in a 3 x 2 grid, `gap` apart."""
    side = (1 - 4 * gap) / 3
    uv = []
    for k in range(6):
        u, v = gap + (k % 3) * (side + gap), gap + (k // 3) * (side + gap)
        uv += [(u, v), (u + side, v), (u + side, v + side), (u, v + side)]
    return _cube(uv, np.arange(24).reshape(6, 4), flat_normals=flat_normals)


def _cube(uv: ArrayLike, uv_faces: Faces, *, flat_normals: bool) -> Asset:
    normal = CUBE_NORMAL if flat_normals else None
    normal_faces = np.repeat(np.arange(6), 4).reshape(6, 4)
    return asset(
        CUBE_POSITION, CUBE_FACES, uv, uv_faces=uv_faces, normal=normal,
        normal_faces=normal_faces, parts=("cube",),
    )  # fmt: skip


def cylinder(radius: float = 0.5, height: float = 1.0, *, sides: int = 24, rows: int = 2) -> Asset:
    """Return an open tube cut along one line and unrolled onto u = 0 to 1, at one scale.

    The prism of `sides` flat sides is developable, so its stretch is exactly 1.
    """
    length = sides * 2 * radius * np.sin(np.pi / sides)

    def surface(s: NDArray[np.float64], t: NDArray[np.float64]) -> Sequence[NDArray[np.float64]]:
        turn = 2 * np.pi * (np.round(s * sides) % sides) / sides
        return radius * np.cos(turn), radius * np.sin(turn), height * t

    return patch(
        surface, lambda s, t: (s, t * height / length), columns=sides, rows=rows, part="cylinder"
    )


def cone(radius: float = 0.5, slant: float = 1.0, *, sides: int = 24, rows: int = 3) -> Asset:
    """Return an open cone frustum (from 1/4 to all of its slant) unrolled into a sector.

    The pyramid of `sides` flat sides is developable: stretch exactly 1. One tile is 2 slants.
    """
    step = 2 * np.arcsin(radius * np.sin(np.pi / sides) / slant)
    height = np.sqrt(slant**2 - radius**2)

    def surface(s: NDArray[np.float64], t: NDArray[np.float64]) -> Sequence[NDArray[np.float64]]:
        share = 1 - 0.75 * t
        turn = 2 * np.pi * (np.round(s * sides) % sides) / sides
        return (
            share * radius * np.cos(turn),
            share * radius * np.sin(turn),
            height * (1 - share),
        )

    def texture(s: NDArray[np.float64], t: NDArray[np.float64]) -> Sequence[NDArray[np.float64]]:
        reach, turn = (1 - 0.75 * t) / 2, (s - 0.5) * sides * step - np.pi / 2
        return 0.5 + reach * np.cos(turn), 0.75 + reach * np.sin(turn)

    return patch(surface, texture, columns=sides, rows=rows, part="cone")


def sphere_patch(
    projection: Field,
    *,
    longitude: tuple[float, float] = (-30.0, 30.0),
    latitude: tuple[float, float] = (10.0, 60.0),
    columns: int = 32,
    rows: int = 32,
) -> Asset:
    """Return a piece of the unit sphere, in triangles, textured by a map projection.

    `projection` takes longitude and latitude in radians and returns u and v.
    """

    def angles(s: NDArray[np.float64], t: NDArray[np.float64]) -> Sequence[NDArray[np.float64]]:
        return (
            np.radians(longitude[0] + (longitude[1] - longitude[0]) * s),
            np.radians(latitude[0] + (latitude[1] - latitude[0]) * t),
        )

    def surface(s: NDArray[np.float64], t: NDArray[np.float64]) -> Sequence[NDArray[np.float64]]:
        lam, phi = angles(s, t)
        return np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)

    return patch(
        surface, lambda s, t: projection(*angles(s, t)),
        columns=columns, rows=rows, triangles=True, part="sphere",
    )  # fmt: skip


def tori(islands: int = 9, *, cells: int = 8) -> Asset:
    """Return `islands` bent sheets of `cells` x `cells`, one island and part each.

    In every sheet each eighth quad is cut into two triangles and each eighth pair of
    neighbouring quads is joined into one hexagon. Points and coordinates are shared inside a
    sheet. The sheets lie side by side in the tile without touching.
    """
    side = int(np.ceil(np.sqrt(islands)))
    position, uv, faces, part = [], [], [], []
    cell_faces = _mixed_faces(cells)
    for k in range(islands):
        column, row = k % side, k // side
        t, s = np.meshgrid(
            np.linspace(0, 1, cells + 1), np.linspace(0, 1, cells + 1), indexing="ij"
        )
        s, t = s.ravel(), t.ravel()
        turn, tilt = 2 * np.pi * (column + 0.9 * s) / side, 2 * np.pi * (row + 0.9 * t) / side
        reach = 2 + np.cos(tilt)
        offset = k * (cells + 1) ** 2
        position.append(np.column_stack([reach * np.cos(turn), reach * np.sin(turn), np.sin(tilt)]))
        uv.append(
            np.column_stack([(column + 0.05 + 0.9 * s) / side, (row + 0.05 + 0.9 * t) / side])
        )
        faces += [[index + offset for index in face] for face in cell_faces]
        part += [k] * len(cell_faces)
    return asset(
        np.concatenate(position), faces, np.concatenate(uv),
        face_part=part, parts=tuple(f"sheet {k}" for k in range(islands)),
    )  # fmt: skip


def _mixed_faces(cells: int) -> list[list[int]]:
    quads = grid_faces(cells, cells).tolist()
    faces: list[list[int]] = []
    k = 0
    while k < len(quads):
        a, b, c, d = quads[k]
        if k % 8 == 3:
            faces += [[a, b, c], [a, c, d]]
        elif k % 8 == 5 and (k + 1) % cells:
            _, e, f, _ = quads[k + 1]
            faces.append([a, b, e, f, c, d])
            k += 1
        else:
            faces.append([a, b, c, d])
        k += 1
    return faces


def together(*assets: Asset) -> Asset:
    """Return one asset of all the parts; equal names of parts and materials become one."""
    parts = tuple(dict.fromkeys(name for one in assets for name in one.part_names))
    materials = tuple(dict.fromkeys(name for one in assets for name in one.material_names))
    names = tuple(dict.fromkeys(s.name for one in assets for s in one.uv_sets))

    def offset(field: Callable[[Asset], NDArray[Any]], length: Callable[[Asset], int]) -> Any:
        pieces, base = [], 0
        for one in assets:
            index = field(one)
            pieces.append(np.where(index < 0, -1, index + base))
            base += length(one)
        return np.concatenate(pieces)

    sets = []
    for name in names:
        rows, corners, base = [], [], 0
        for one in assets:
            found = [s for s in one.uv_sets if s.name == name]
            if found:
                rows.append(found[0].uv)
                corners.append(np.where(found[0].corner_uv < 0, -1, found[0].corner_uv + base))
                base += len(found[0].uv)
            else:
                corners.append(np.full(len(one.corner_position), -1))
        sets.append(UvSet(name, frozen(np.concatenate(rows)), _ints(np.concatenate(corners))))
    starts = offset(lambda one: one.face_start[:-1], lambda one: int(one.face_start[-1]))
    total = sum(int(one.face_start[-1]) for one in assets)
    return replace(
        assets[0],
        position=frozen(np.concatenate([one.position for one in assets])),
        face_start=_ints([*starts, total]),
        corner_position=_ints(offset(lambda a: a.corner_position, lambda a: len(a.position))),
        normal=frozen(np.concatenate([one.normal for one in assets])),
        corner_normal=_ints(offset(lambda a: a.corner_normal, lambda a: len(a.normal))),
        face_part=_ints([parts.index(one.part_names[p]) for one in assets for p in one.face_part]),
        part_names=parts,
        face_material=_ints(
            [materials.index(one.material_names[m]) for one in assets for m in one.face_material]
        ),
        material_names=materials,
        face_smoothing=_ints(np.concatenate([one.face_smoothing for one in assets])),
        uv_sets=tuple(sets),
    )


def with_uv_set(one: Asset, name: str, uv: ArrayLike, corner_uv: ArrayLike) -> Asset:
    """Return the asset with one more UV set behind those it has."""
    return replace(one, uv_sets=(*one.uv_sets, UvSet(name, _floats(uv, 2), _ints(corner_uv))))


def with_material(one: Asset, name: str) -> Asset:
    """Return the asset with all faces in one material of this name."""
    zeros = _ints(np.zeros(one.face_count))
    return replace(one, face_material=zeros, material_names=(name,))


def textured(one: Asset, change: Callable[[NDArray[np.float64]], NDArray[np.float64]]) -> Asset:
    """Return the asset with `change` applied to the (N, 2) coordinates of every UV set."""
    sets = tuple(replace(s, uv=_floats(change(s.uv.copy()), 2)) for s in one.uv_sets)
    return replace(one, uv_sets=sets)


def moved(one: Asset, matrix: ArrayLike, offset: ArrayLike = (0.0, 0.0, 0.0)) -> Asset:
    """Return the asset with positions p -> matrix p + offset (normals are turned too)."""
    matrix = np.asarray(matrix, dtype=np.float64)
    return replace(
        one,
        position=_floats(one.position @ matrix.T + np.asarray(offset), 3),
        normal=_floats(one.normal @ matrix.T, 3),
    )


def unwelded(one: Asset) -> Asset:
    """Return the asset with a position and a coordinate of its own at every corner."""
    corners = _ints(np.arange(len(one.corner_position)))
    sets = tuple(
        UvSet(s.name, _floats(s.uv[s.corner_uv], 2), corners)
        for s in one.uv_sets
        if (s.corner_uv >= 0).all()
    )
    return replace(
        one, position=_floats(one.position[one.corner_position], 3), corner_position=corners,
        uv_sets=sets,
    )  # fmt: skip


def shuffled(one: Asset, seed: int) -> tuple[Asset, NDArray[np.int64]]:
    """Return the asset with its faces in random order, each beginning at a random corner.

    The second result gives, for each face of the new asset, the old face.
    """
    random = np.random.default_rng(seed)
    order = random.permutation(one.face_count)
    sizes = np.diff(one.face_start)[order]
    corner = np.concatenate(
        [
            np.roll(np.arange(one.face_start[f], one.face_start[f + 1]), random.integers(100))
            for f in order
        ]
    )
    return (
        replace(
            one,
            face_start=_ints([0, *np.cumsum(sizes)]),
            corner_position=_ints(one.corner_position[corner]),
            corner_normal=_ints(one.corner_normal[corner]),
            face_part=_ints(one.face_part[order]),
            face_material=_ints(one.face_material[order]),
            face_smoothing=_ints(one.face_smoothing[order]),
            uv_sets=tuple(replace(s, corner_uv=_ints(s.corner_uv[corner])) for s in one.uv_sets),
        ),
        order,
    )
