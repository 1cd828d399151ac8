"""Asset's texture coordinates as trials make them: only what changes gets new rows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import FloatArray, IntArray, frozen, ints
from evenweave.layout.layout import Layout
from evenweave.layout.weld import UV_STEPS_PER_TILE
from evenweave.layout.weld_kernels import weld_rows
from evenweave.mesh.asset import Asset, UvSet
from evenweave.trial.uvs.corner_uvs import CornerUvs


@dataclass(frozen=True, eq=False)
class SetChange:
    """New coordinates in one of the asset's sets, corners ascending.

    uv_set : its number; corner : (K,) int32 corners of the asset; uv : (K, 2) float64
    """

    uv_set: int
    corner: IntArray
    uv: FloatArray


def trial_asset(asset: Asset, layout: Layout, change: CornerUvs) -> Asset:
    """Return the asset with a change of one of its layouts made.

    A row of the UV set is replaced where all its corners move to one place. Corners that part
    from others get new rows behind the old ones, so that a row keeps its number. What stays
    within a step of the welding grid (2**-24) keeps its row as it is.
    """
    return with_changes(asset, [asset_change(asset, layout, change)])


def asset_change(asset: Asset, layout: Layout, change: CornerUvs) -> SetChange:
    """Return a change of a layout as one of the asset, before any texture's transform."""
    face = np.searchsorted(layout.face_start, change.corner, side="right") - 1
    within = change.corner - layout.face_start[face]
    corner = asset.face_start[layout.asset_face[face]] + within
    names = [one.name for one in asset.uv_sets]
    order = np.argsort(corner, kind="stable")
    uv = _as_stored(asset, layout, layout.asset_face[face], change.uv)
    return SetChange(names.index(layout.uv_set), ints(corner[order]), frozen(uv[order]))


def _as_stored(asset: Asset, layout: Layout, face: IntArray, uv: FloatArray) -> FloatArray:
    """Return coordinates of faces' corners as they were before their textures' transforms."""
    if not layout.transforms:
        return uv
    stored = uv.copy()
    for material, transform in layout.transforms:
        mine = asset.face_material[face] == asset.material_names.index(material)
        stored[mine] = transform.undone(uv[mine])
    return stored


def with_changes(asset: Asset, changes: Iterable[SetChange]) -> Asset:
    """Return the asset with changes made, of which a later one goes before an earlier one."""
    corner_uv = {}
    for change in changes:
        number = change.uv_set
        if number not in corner_uv:
            corner_uv[number] = corner_values(asset.uv_sets[number])
        corner_uv[number][change.corner] = change.uv
    sets = list(asset.uv_sets)
    for number, value in corner_uv.items():
        sets[number] = _regrouped(sets[number], value)
    return replace(asset, uv_sets=tuple(sets))


def corner_values(uv_set: UvSet) -> FloatArray:
    """Return (C, 2) coordinates of the corners; NaN where there are none."""
    rows = np.vstack([uv_set.uv, [[np.nan, np.nan]]])
    value: FloatArray = rows[uv_set.corner_uv]
    return value


def _regrouped(old: UvSet, value: FloatArray) -> UvSet:
    moved = _moved(old, value)
    if not len(moved):
        return old
    row, place = old.corner_uv[moved], value[moved] + 0.0
    bits = np.column_stack([row.astype(np.int64), place.view(np.int64)])
    group, first = weld_rows(frozen(bits))
    group_row, group_place = row[first], place[first]
    # Groups come by first corner; the first of a row takes it, if no corner stays on it.
    stays = np.zeros(len(old.uv), bool)
    is_moved = np.zeros(len(value), bool)
    is_moved[moved] = True
    stays[old.corner_uv[~is_moved & (old.corner_uv >= 0)]] = True
    takes = np.zeros(len(group_row), bool)
    takes[np.unique(group_row, return_index=True)[1]] = True
    takes &= ~stays[group_row]
    number = np.where(takes, group_row, len(old.uv) + np.cumsum(~takes) - 1).astype(np.int32)
    uv = np.vstack([old.uv, group_place[~takes]])
    uv[group_row[takes]] = group_place[takes]
    corner_uv = old.corner_uv.copy()
    corner_uv[moved] = number[group]
    return UvSet(old.name, frozen(uv), frozen(corner_uv))


def _moved(old: UvSet, value: FloatArray) -> NDArray[np.int64]:
    """Return the corners that move by more than a step of the welding grid."""
    grid = np.round(old.uv * UV_STEPS_PER_TILE) / UV_STEPS_PER_TILE
    has = np.flatnonzero(old.corner_uv >= 0)
    row = old.corner_uv[has]
    with np.errstate(invalid="ignore"):
        is_near = np.abs(value[has] - grid[row]).max(axis=1) <= 1 / UV_STEPS_PER_TILE
    is_same = (value[has] == old.uv[row]).all(axis=1) | np.isnan(value[has]).any(axis=1)
    moved: NDArray[np.int64] = has[~(is_near | is_same)]
    return moved
