"""The faces of all layouts side by side, with one number for equal points and coordinates."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.layout.selection import Selection
from evenweave.layout.weld_kernels import gather_faces, number_by_use, weld_rows, weld_uv
from evenweave.mesh.asset import Asset

UV_STEPS_PER_TILE = float(2**24)
UV_BOUND_TILES = 1e6


@dataclass(frozen=True, eq=False)
class WeldedPositions:
    """row_id : (V,) int32 number of each of the asset's positions; id_row : a row of each."""

    row_id: IntArray
    id_row: IntArray


@dataclass(frozen=True, eq=False)
class WeldedUvs:
    """The asset's UV sets in use, behind one another.

    set_row : first row of each set (-1 if not in use); row_id : (N,) int32 number of each row,
    -1 where it cannot be used; id_uv : (U, 2) float64 snapped
    """

    set_row: tuple[int, ...]
    row_id: IntArray
    id_uv: FloatArray


@dataclass(frozen=True, eq=False)
class Joined:
    """All layouts' faces behind one another, as in `Layout` but numbered throughout.

    layout_face, layout_corner, layout_point, layout_uv : (L + 1,) int32 where each begins.
    No point or uv is shared between layouts.
    """

    face_start: IntArray
    corner_point: IntArray
    corner_uv: IntArray
    point_m: FloatArray
    uv: FloatArray
    layout_face: IntArray
    layout_corner: IntArray
    layout_point: IntArray
    layout_uv: IntArray


def weld_positions(asset: Asset) -> WeldedPositions:
    """Number the asset's positions by value; -0 equals 0."""
    bits = (asset.position + 0.0).view(np.int64)
    return WeldedPositions(*map(frozen, weld_rows(frozen(bits))))


def weld_uvs(asset: Asset, uv_sets: Sequence[int]) -> WeldedUvs:
    """Number the coordinates of some of the asset's UV sets by value, each set apart."""
    set_row = [-1] * len(asset.uv_sets)
    row_ids: list[NDArray[np.int32]] = []
    id_uvs: list[FloatArray] = []
    rows = ids = 0
    for index in uv_sets:
        row_id, id_uv = weld_uv(asset.uv_sets[index].uv, UV_STEPS_PER_TILE, UV_BOUND_TILES)
        set_row[index] = rows
        row_ids.append(np.where(row_id < 0, -1, row_id + ids).astype(np.int32) if ids else row_id)
        id_uvs.append(id_uv)
        rows += len(row_id)
        ids += len(id_uv)
    return WeldedUvs(
        tuple(set_row),
        frozen(_joined(row_ids, np.zeros(0, dtype=np.int32))),
        frozen(_joined(id_uvs, np.zeros((0, 2)))),
    )


def without_unusable(
    asset: Asset, selections: Sequence[Selection], uvs: WeldedUvs
) -> tuple[Selection, ...]:
    """Move faces with coordinates that are not finite or absurd to `unusable`."""
    if len(uvs.row_id) == 0 or uvs.row_id.min() >= 0:
        return tuple(selections)
    is_sound: dict[int, NDArray[np.bool_]] = {}
    for index in {one.uv_set for one in selections if one.uv_set >= 0}:
        corner_uv = asset.uv_sets[index].corner_uv
        corner_id = uvs.row_id[np.maximum(corner_uv, 0) + uvs.set_row[index]]
        is_sound[index] = np.minimum.reduceat(corner_id, asset.face_start[:-1]) >= 0
    result = []
    for one in selections:
        sound = is_sound[one.uv_set][one.face] if one.uv_set >= 0 else np.zeros(0, dtype=bool)
        result.append(replace(one, face=one.face[sound], unusable=one.face[~sound]))
    return tuple(result)


def join_faces(
    asset: Asset,
    selections: Sequence[Selection],
    pool: Executor,
    *,
    positions: WeldedPositions,
    uvs: WeldedUvs,
    unit_metres: float,
) -> Joined:
    """Lay the faces of all layouts behind one another, points and uvs in order of first use."""
    face_start, corner_position, corner_row = _corners(asset, selections, uvs)
    layout_face = _bounds([len(one.face) for one in selections])
    layout_corner = frozen(face_start[layout_face])
    numbering = pool.submit(
        number_by_use, corner_position, positions.row_id, layout_corner, len(positions.id_row)
    )
    corner_uv, uv_id, layout_uv = number_by_use(
        corner_row, uvs.row_id, layout_corner, len(uvs.id_uv)
    )
    uv = frozen(uvs.id_uv[uv_id])
    corner_point, point_id, layout_point = numbering.result()
    point_m = asset.position[positions.id_row[point_id]]
    if unit_metres != 1.0:
        point_m *= unit_metres
    return Joined(
        face_start=face_start,
        corner_point=frozen(corner_point),
        corner_uv=frozen(corner_uv),
        point_m=frozen(point_m),
        uv=uv,
        layout_face=layout_face,
        layout_corner=layout_corner,
        layout_point=layout_point,
        layout_uv=layout_uv,
    )


def _corners(
    asset: Asset, selections: Sequence[Selection], uvs: WeldedUvs
) -> tuple[IntArray, IntArray, IntArray]:
    """Return starts, positions and UV rows of all selected faces, behind one another."""
    if len(selections) == 1 and len(selections[0].face) == asset.face_count:
        one = selections[0]
        return asset.face_start, asset.corner_position, asset.uv_sets[one.uv_set].corner_uv
    sizes, positions, rows = [], [], []
    for one in selections:
        if len(one.face) == 0:
            continue
        corner_uv = asset.uv_sets[one.uv_set].corner_uv
        size, position, row = gather_faces(
            one.face, asset.face_start, asset.corner_position, corner_uv
        )
        sizes.append(size)
        positions.append(position)
        rows.append(row + np.int32(uvs.set_row[one.uv_set]))
    none = np.zeros(0, dtype=np.int32)
    return (
        _bounds(_joined(sizes, none)),
        frozen(_joined(positions, none)),
        frozen(_joined(rows, none)),
    )


def _bounds(sizes: Sequence[int] | IntArray) -> IntArray:
    bounds = np.zeros(len(sizes) + 1, dtype=np.int32)
    np.cumsum(sizes, out=bounds[1:])
    return frozen(bounds)


def _joined(pieces: list[NDArray], none: NDArray) -> NDArray:  # type: ignore[type-arg]
    if len(pieces) == 1:
        return pieces[0]
    return np.concatenate(pieces) if pieces else none
