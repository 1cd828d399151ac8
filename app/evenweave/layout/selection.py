"""Which faces make up which layout: by material (or merged materials) and UV set."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import BoolArray, IntArray
from evenweave.mesh.asset import Asset

NO_MATERIAL = "no material"


@dataclass(frozen=True, eq=False)
class Selection:
    """The faces of one layout to be.

    uv_set : index into the asset's sets, -1 where there is none
    face : (F,) int32 asset's faces with coordinates at every corner; missing : those without;
    unusable : those with coordinates that are not finite or absurd
    """

    name: str
    materials: tuple[str, ...]
    uv_set: int
    uv_set_name: str
    face: IntArray
    missing: IntArray
    unusable: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int32))


def select_faces(
    asset: Asset, uv_set: str | None, merged: tuple[tuple[str, ...], ...]
) -> tuple[Selection, ...]:
    """Return the layouts in the order of their first material in the file.

    With `uv_set` None each part of a material takes the first set in which it has any
    coordinates, and parts of one material that take different sets make separate layouts.
    """
    if asset.face_count == 0:
        return ()
    groups = _material_groups(asset, merged)
    material_group = np.empty(len(asset.material_names), dtype=np.int32)
    for number, members in enumerate(groups):
        material_group[list(members)] = number
    face_group = material_group[asset.face_material]
    complete = [_complete_faces(asset, index) for index in range(len(asset.uv_sets))]
    if uv_set is None:
        face_set = _first_sets(asset, face_group, complete)
    else:
        names = [one.name for one in asset.uv_sets]
        face_set = np.full(asset.face_count, names.index(uv_set) if uv_set in names else -1)
    return _selections(asset, uv_set or "", groups, face_group, face_set, complete)


def _material_groups(asset: Asset, merged: tuple[tuple[str, ...], ...]) -> list[list[int]]:
    """Return the material indices of each layout; unknown names in `merged` mean nothing."""
    group_of: dict[str, int] = {}
    for number, names in enumerate(merged):
        for name in names:
            group_of.setdefault(name, number)
    groups: dict[object, list[int]] = {}
    for index, name in enumerate(asset.material_names):
        groups.setdefault(group_of.get(name, ("alone", index)), []).append(index)
    return list(groups.values())


def _complete_faces(asset: Asset, index: int) -> BoolArray | None:
    """Return which faces have coordinates at every corner; None means that all have."""
    corner_uv = asset.uv_sets[index].corner_uv
    if len(corner_uv) == 0 or corner_uv.min() >= 0:
        return None
    complete: BoolArray = np.minimum.reduceat(corner_uv, asset.face_start[:-1]) >= 0
    return complete


def _first_sets(
    asset: Asset, face_group: NDArray[np.int32], complete: list[BoolArray | None]
) -> NDArray[np.int64]:
    """Return each face's UV set: the first in which its part has any coordinates."""
    if complete and complete[0] is None:
        return np.zeros(asset.face_count, dtype=np.int64)
    pair = face_group.astype(np.int64) * len(asset.part_names) + asset.face_part
    pairs, face_pair = np.unique(pair, return_inverse=True)
    pair_set = np.full(len(pairs), -1)
    for index in reversed(range(len(asset.uv_sets))):
        corner_uv = asset.uv_sets[index].corner_uv
        has_any = np.maximum.reduceat(corner_uv, asset.face_start[:-1]) >= 0
        pair_set[face_pair[has_any]] = index
    return pair_set[face_pair]


def _selections(
    asset: Asset,
    asked_set: str,
    groups: list[list[int]],
    face_group: NDArray[np.int32],
    face_set: NDArray[np.int64],
    complete: list[BoolArray | None],
) -> tuple[Selection, ...]:
    is_usable = _usable_faces(face_set, complete)
    is_used = np.bincount(asset.face_material, minlength=len(asset.material_names)) > 0
    selections = []
    for group, layouts in _layouts_of_groups(face_group, face_set, len(asset.uv_sets)).items():
        names = tuple(asset.material_names[m] for m in groups[group] if is_used[m])
        name = " + ".join(one or NO_MATERIAL for one in names)
        for index, faces in layouts:
            set_name = asset.uv_sets[index].name if index >= 0 else asked_set
            usable = is_usable[faces]
            selections.append(
                Selection(
                    name=name if len(layouts) == 1 else f"{name}, {set_name}",
                    materials=names,
                    uv_set=index,
                    uv_set_name=set_name,
                    face=faces if usable.all() else faces[usable],
                    missing=faces[~usable],
                )
            )
    return tuple(selections)


def _usable_faces(face_set: NDArray[np.int64], complete: list[BoolArray | None]) -> BoolArray:
    """Return which faces have coordinates at every corner in the set they take."""
    is_usable: BoolArray = face_set >= 0
    for index, is_complete in enumerate(complete):
        if is_complete is not None:
            is_usable &= is_complete | (face_set != index)
    return is_usable


def _layouts_of_groups(
    face_group: NDArray[np.int32], face_set: NDArray[np.int64], set_count: int
) -> dict[int, list[tuple[int, NDArray[np.int32]]]]:
    """Return the (UV set, faces) of each group's layouts; set -1 where a group has none.

    Faces whose part has no coordinates at all go with the first set of their group.
    """
    stride = set_count + 1
    key = face_group.astype(np.int64) * stride + np.where(face_set < 0, set_count, face_set)
    order, keys, bounds = _grouped(key)
    found: dict[int, list[tuple[int, NDArray[np.int32]]]] = {}
    for group_key, start, end in zip(keys.tolist(), bounds[:-1], bounds[1:], strict=True):
        group, index = divmod(group_key, stride)
        layouts = found.setdefault(group, [])
        faces = order[start:end]
        if index < set_count:
            layouts.append((index, faces))
        elif layouts:
            first_set, first_faces = layouts[0]
            layouts[0] = (first_set, np.sort(np.concatenate([first_faces, faces])))
        else:
            layouts.append((-1, faces))
    return found


def _grouped(
    face_key: NDArray[np.int64],
) -> tuple[NDArray[np.int32], NDArray[np.int64], NDArray[np.int64]]:
    """Return the faces ordered by key, the keys, and where each key's faces begin."""
    if face_key.min() == face_key.max():
        faces = np.arange(len(face_key), dtype=np.int32)
        return faces, face_key[:1], np.array([0, len(face_key)])
    order = np.argsort(face_key, kind="stable").astype(np.int32)
    ordered = face_key[order]
    begins = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]]))
    return order, ordered[begins], np.append(begins, len(order))
