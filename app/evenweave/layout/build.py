"""`build_layouts`: from the asset's faces to layouts, welded, triangulated and cut into islands."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import BoolArray, ByteArray, FloatArray, IntArray, frozen
from evenweave.layout.edge_kernels import BORDER, NONMANIFOLD, SEAM, match_edges
from evenweave.layout.layout import Edges, Layout
from evenweave.layout.names import island_names, parts_of_islands
from evenweave.layout.selection import Selection, select_faces
from evenweave.layout.triangulate_kernels import triangulate
from evenweave.layout.weld import Joined, join_faces, weld_positions, weld_uvs, without_unusable
from evenweave.mesh.asset import Asset
from evenweave.progress import Progress, silent


def build_layouts(
    asset: Asset,
    uv_set: str | None = None,
    merged: tuple[tuple[str, ...], ...] = (),
    *,
    lightmaps: tuple[str, ...] = (),
    unit_metres: float | None = None,
    progress: Progress = silent,
) -> tuple[Layout, ...]:
    """Return the asset's layouts in the order of their first material in the file.

    With `uv_set` None a material is judged in each set that its textures read, and materials
    whose textures read the same image share a layout, as do merged ones; see `select_faces`.
    Texture transforms are applied. Materials without coordinates give a layout without faces.
    `unit_metres` overrides the length of the file's unit.

    Points and coordinates are the same where their values are: coordinates are snapped to
    2**-24 tile, points are compared as the file has them. Faces are of one island where they
    share an edge in 3D with equal coordinates at both ends; but mirrored halves (or the two
    sides of a leaf) that lie on each other are two islands, though coordinates are equal along
    the fold.
    """
    progress(0.0, "Collecting faces")
    asset, selections = select_faces(asset, uv_set, merged, lightmaps)
    metres = asset.unit.metres if unit_metres is None else unit_metres
    with ThreadPoolExecutor(1) as pool:
        welding = pool.submit(weld_positions, asset)
        uvs = weld_uvs(asset, sorted({one.uv_set for one in selections if one.uv_set >= 0}))
        selections = without_unusable(asset, selections, uvs)
        positions = welding.result()
        progress(0.3, "Welding corners")
        joined = join_faces(
            asset, selections, pool, positions=positions, uvs=uvs, unit_metres=metres
        )  # fmt: skip
        progress(0.5, "Joining faces into islands")
        matching = pool.submit(
            match_edges, joined.face_start, joined.corner_point, joined.corner_uv, joined.uv,
            len(joined.point_m),
        )  # fmt: skip
        triangle_corner, triangle_face = triangulate(
            joined.face_start, joined.corner_point, joined.corner_uv, joined.point_m, joined.uv
        )
        topology = _Topology(triangle_corner, triangle_face, *matching.result())
    progress(0.9, "Naming islands")
    return tuple(
        _layout(asset, selection, number, joined=joined, topology=topology)
        for number, selection in enumerate(selections)
    )


@dataclass(frozen=True, eq=False)
class _Topology:
    """Triangles, edges and islands of all layouts, numbered throughout like `Joined`."""

    triangle_corner: IntArray
    triangle_face: IntArray
    corner_kind: ByteArray
    corner_twin: IntArray
    corner_outline: BoolArray
    face_island: IntArray


def _layout(
    asset: Asset, selection: Selection, number: int, *, joined: Joined, topology: _Topology
) -> Layout:
    """Cut one layout out of the whole."""
    face, next_face = joined.layout_face[number : number + 2].tolist()
    corner, next_corner = joined.layout_corner[number : number + 2].tolist()
    point, next_point = joined.layout_point[number : number + 2].tolist()
    uv, next_uv = joined.layout_uv[number : number + 2].tolist()
    triangles = slice(corner - 2 * face, next_corner - 2 * next_face)
    corners = slice(corner, next_corner)
    point_m = frozen(joined.point_m[point:next_point])
    corner_point = _less(joined.corner_point[corners], point)
    triangle_corner = _less(topology.triangle_corner[triangles], corner)
    triangle_face = _less(topology.triangle_face[triangles], face)
    islands = topology.face_island[face:next_face]
    face_island = _less(islands, int(islands[0]) if len(islands) else 0)
    island_count = int(face_island.max()) + 1 if len(islands) else 0

    def surface(faces: NDArray[np.int64]) -> FloatArray:
        return _surface(faces, point_m, corner_point, triangle_corner, triangle_face)

    parts, main = parts_of_islands(
        face_island, asset.face_part[selection.face], island_count, surface
    )
    return Layout(
        name=selection.name,
        materials=selection.materials,
        uv_set=selection.uv_set_name,
        asset_face=frozen(selection.face),
        missing_face=frozen(selection.missing),
        unusable_face=frozen(selection.unusable),
        face_start=_less(joined.face_start[face : next_face + 1], corner),
        corner_point=corner_point,
        corner_uv=_less(joined.corner_uv[corners], uv),
        point_m=point_m,
        uv=frozen(joined.uv[uv:next_uv]),
        triangle_corner=triangle_corner,
        triangle_face=triangle_face,
        face_island=face_island,
        island_name=island_names([asset.part_names[part] for part in main.tolist()]),
        island_parts=parts,
        slots=selection.slots,
        transforms=selection.transforms,
        needs_uvs=selection.needs_uvs,
        edges=_edges(
            topology.corner_kind[corners],
            _twins(topology.corner_twin[corners], corner),
            topology.corner_outline[corners],
        ),
    )


def _less(numbers: IntArray, offset: int) -> IntArray:
    """Return the numbers counted from `offset`; the same array where that is 0."""
    return frozen(numbers - np.int32(offset) if offset else numbers)


def _twins(corner_twin: IntArray, offset: int) -> IntArray:
    if offset == 0:
        return corner_twin
    return np.where(corner_twin < 0, np.int32(-1), corner_twin - np.int32(offset))


def _edges(corner_kind: ByteArray, corner_twin: IntArray, corner_outline: BoolArray) -> Edges:
    """Collect the corners of each kind of edge; each seam once, its lesser corner first."""
    seam = np.flatnonzero(corner_kind == SEAM).astype(np.int32)
    twin = corner_twin[seam]
    first = seam < twin
    return Edges(
        seam=frozen(np.column_stack([seam[first], twin[first]])),
        border=_places(corner_kind == BORDER),
        nonmanifold=_places(corner_kind == NONMANIFOLD),
        outline=_places(corner_outline),
        twin=frozen(corner_twin),
    )


def _places(mask: BoolArray) -> IntArray:
    return frozen(np.flatnonzero(mask).astype(np.int32))


def _surface(
    faces: NDArray[np.int64],
    point_m: FloatArray,
    corner_point: IntArray,
    triangle_corner: IntArray,
    triangle_face: IntArray,
) -> FloatArray:
    """Return the area of some faces (ascending) in square metres."""
    is_wanted = np.isin(triangle_face, faces)
    a, b, c = point_m[corner_point[triangle_corner[is_wanted]]].transpose(1, 0, 2)
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2
    place = np.searchsorted(faces, triangle_face[is_wanted])
    surface: FloatArray = np.bincount(place, weights=area, minlength=len(faces)).astype(np.float64)
    return surface
