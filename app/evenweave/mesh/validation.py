"""What every reader's `Asset` must hold before anything is measured on it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from evenweave.arrays import BoolArray, IntArray, frozen
from evenweave.errors import FileProblem
from evenweave.mesh.asset import Asset, UvSet

_REMEDY = "export the mesh again"


def validated(asset: Asset) -> Asset:
    """Return the asset with read-only arrays and without normals that are not numbers.

    Raises `FileProblem` where there is no face, an index points nowhere or the position of a
    face's corner is not finite. Texture coordinates that are not finite stay: a check judges
    them.
    """
    corners = len(asset.corner_position)
    if asset.face_count < 1:
        raise _problem(asset, "it has no faces", "export the surface itself as polygons")
    if asset.face_start[0] != 0 or asset.face_start[-1] != corners:
        raise _problem(asset, "its faces do not use up its corners")
    if np.diff(asset.face_start).min() < 3:
        raise _problem(asset, "a face has fewer than three corners")
    _check_indices(asset, "vertex", asset.corner_position, (0, len(asset.position)))
    _check_indices(asset, "normal", asset.corner_normal, (-1, len(asset.normal)))
    for uv_set in asset.uv_sets:
        what = f"texture coordinate of “{uv_set.name}”"
        _check_indices(asset, what, uv_set.corner_uv, (-1, len(uv_set.uv)))
    for per_corner in (asset.corner_normal, *(uv_set.corner_uv for uv_set in asset.uv_sets)):
        if len(per_corner) != corners:
            raise _problem(asset, "its corners and their attributes differ in number")
    for per_face in (asset.face_part, asset.face_material, asset.face_smoothing):
        if len(per_face) != asset.face_count:
            raise _problem(asset, "its faces and their attributes differ in number")
    _check_indices(asset, "part", asset.face_part, (0, len(asset.part_names)))
    _check_indices(asset, "material", asset.face_material, (0, len(asset.material_names)))
    _check_positions(asset)
    return _frozen(_without_odd_normals(asset))


def _problem(asset: Asset, cause: str, remedy: str = _REMEDY) -> FileProblem:
    return FileProblem(asset.path, "", cause, remedy)


def _check_indices(asset: Asset, what: str, index: IntArray, bounds: tuple[int, int]) -> None:
    low, count = bounds
    if len(index) == 0:
        return
    worst = int(index.max())
    if worst >= count:
        raise _problem(asset, f"a face uses {what} {worst:,} but only {count:,} are defined")
    if index.min() < low:
        raise _problem(asset, f"a face uses {what} {int(index.min()):,}, which cannot be")


def _check_positions(asset: Asset) -> None:
    is_odd = ~np.isfinite(asset.position).all(axis=1)
    if not is_odd.any():
        return
    is_used = np.zeros(len(asset.position), bool)
    is_used[asset.corner_position] = True
    odd = np.flatnonzero(is_odd & is_used)
    if len(odd):
        cause = f"the position of vertex {int(odd[0]):,} (counted from 0) is not finite"
        raise _problem(asset, cause)


def _without_odd_normals(asset: Asset) -> Asset:
    is_sound: BoolArray = np.asarray(np.isfinite(asset.normal).all(axis=1))
    if is_sound.all():
        return asset
    used = asset.corner_normal >= 0
    is_lost = used & ~is_sound[asset.corner_normal]
    caveat = f"Normals that are not numbers were left out ({int(is_lost.sum())})."
    return replace(
        asset,
        corner_normal=np.where(is_lost, np.int32(-1), asset.corner_normal),
        caveats=(*asset.caveats, caveat) if is_lost.any() else asset.caveats,
    )


def _frozen(asset: Asset) -> Asset:
    return replace(
        asset,
        position=frozen(asset.position),
        face_start=frozen(asset.face_start),
        corner_position=frozen(asset.corner_position),
        normal=frozen(asset.normal),
        corner_normal=frozen(asset.corner_normal),
        face_part=frozen(asset.face_part),
        face_material=frozen(asset.face_material),
        face_smoothing=frozen(asset.face_smoothing),
        uv_sets=tuple(
            UvSet(uv_set.name, frozen(uv_set.uv), frozen(uv_set.corner_uv))
            for uv_set in asset.uv_sets
        ),
    )
