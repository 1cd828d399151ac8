"""Which faces make up which layout: by the UV sets and images that materials' textures read."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import BoolArray, IntArray
from evenweave.layout.moved_sets import with_moved_sets
from evenweave.layout.reading import (
    Reading,
    known_slots,
    merged_materials,
    of_set,
    readings,
    sharing,
    used_materials,
    without_coordinates,
)
from evenweave.mesh.asset import Asset
from evenweave.mesh.texturing import Slot, UvTransform

NO_MATERIAL = "no material"
_MOST_NAMES = 3


@dataclass(frozen=True, eq=False)
class Selection:
    """The faces of one layout to be.

    uv_set : index into the sets of the asset it was selected in, -1 where there is none
    face : (F,) int32 asset's faces with coordinates at every corner; missing : those without;
    unusable : those with coordinates that are not finite or absurd
    slots : the textures that read it; transforms : by material, where one lays the texture
    needs_uvs : False where no texture reads the materials, in an asset that has textures
    """

    name: str
    materials: tuple[str, ...]
    uv_set: int
    uv_set_name: str
    face: IntArray
    missing: IntArray
    unusable: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int32))
    slots: tuple[Slot, ...] = ()
    transforms: tuple[tuple[str, UvTransform], ...] = ()
    needs_uvs: bool = True


def select_faces(
    asset: Asset,
    uv_set: str | None,
    merged: tuple[tuple[str, ...], ...],
    lightmaps: tuple[str, ...] = (),
) -> tuple[Asset, tuple[Selection, ...]]:
    """Return the layouts in the order of their first material in the file.

    With `uv_set` None a material is judged in every set that its textures read, and materials
    whose textures read the same image share a layout. Where the file does not say what a
    material shows, each of its parts takes the first set in which it has any coordinates.
    Materials without coordinates make one layout together. A set in `lightmaps` is one layout of
    all materials, and no other is judged in it. The asset returned has, behind its
    own sets, those that textures read through a transform.
    """
    if asset.face_count == 0:
        return asset, ()
    if uv_set in lightmaps:
        return asset, (_lightmap(asset, uv_set, ()),)
    bare, plain = without_coordinates(asset, uv_set, merged)
    found = _readings(asset, uv_set, merged, bare | plain)
    lit = [one for one in found if one.uv_set in lightmaps]
    found = [one for one in found if one.uv_set not in lightmaps]
    groups = sharing(found, merged_materials(asset, merged))
    asset, group_sets = with_moved_sets(asset, groups)
    selections = _selections(asset, uv_set or "", groups, group_sets, lightmaps)
    selections += _together(asset, bare, uv_set or "", needs_uvs=True)
    selections += _together(asset, plain, uv_set or "", needs_uvs=False)
    place = {name: number for number, name in enumerate(asset.material_names)}
    selections.sort(key=lambda one: min(place[name] for name in one.materials))
    if uv_set is None:
        own = {one.name for one in asset.uv_sets}
        selections += [
            _lightmap(asset, name, tuple(slot for one in lit for slot in one.slots))
            for name in lightmaps
            if name in own
        ]
    return asset, tuple(_distinct(selections))


def _lightmap(asset: Asset, name: str, slots: tuple[Slot, ...]) -> Selection:
    """Return the layout of all faces in a set that is used as a lightmap."""
    index = [one.name for one in asset.uv_sets].index(name)
    faces = np.arange(asset.face_count, dtype=np.int32)
    usable = _usable([_complete_faces(asset, index)], 0, faces)
    return Selection(
        name=f"{name} (lightmap)",
        materials=tuple(asset.material_names[number] for number in used_materials(asset).tolist()),
        uv_set=index,
        uv_set_name=name,
        face=faces[usable],
        missing=faces[~usable],
        slots=tuple(slot for slot in slots if slot.uv_set == name),
    )


def _readings(
    asset: Asset,
    uv_set: str | None,
    merged: tuple[tuple[str, ...], ...],
    left_out: frozenset[int],
) -> list[Reading]:
    shown = known_slots(asset)
    found: list[Reading] = []
    for material in used_materials(asset).tolist():
        if material in left_out:
            continue
        slots = shown.get(material, ())
        if uv_set is None:
            found += readings(asset, material, slots)
        else:
            found.append(of_set(material, slots, uv_set))
    return found


def _together(
    asset: Asset, materials: frozenset[int], asked_set: str, *, needs_uvs: bool
) -> list[Selection]:
    """Return one selection of all faces of materials without UVs to judge."""
    is_meant = np.zeros(len(asset.material_names), dtype=bool)
    is_meant[sorted(materials)] = True
    has_any = np.zeros(asset.face_count, dtype=bool)
    for one in () if needs_uvs else asset.uv_sets:
        has_any |= np.maximum.reduceat(one.corner_uv, asset.face_start[:-1]) >= 0
    faces = np.flatnonzero(is_meant[asset.face_material] & ~has_any).astype(np.int32)
    if len(faces) == 0:
        return []
    numbers = np.unique(asset.face_material[faces]).tolist()
    names = tuple(asset.material_names[material] for material in numbers)
    none = np.zeros(0, dtype=np.int32)
    return [
        Selection(_name(names), names, -1, asked_set, none, faces, needs_uvs=needs_uvs)
    ]  # fmt: skip


def _name(materials: tuple[str, ...]) -> str:
    return " + ".join(one or NO_MATERIAL for one in materials)


def _selections(
    asset: Asset,
    asked_set: str,
    groups: list[list[Reading]],
    group_sets: list[int | None],
    lightmaps: tuple[str, ...],
) -> list[Selection]:
    """Return the layouts of all groups: one a group and set in it."""
    complete = [_complete_faces(asset, index) for index in range(len(asset.uv_sets))]
    times: dict[int, int] = {}
    for group in groups:
        for reading in group:
            times[reading.material] = times.get(reading.material, 0) + 1
    selections = []
    for group, moved_set in zip(groups, group_sets, strict=True):
        faces = _faces(asset, group)
        face_set = _face_sets(asset, group, faces, moved_set=moved_set, lightmaps=lightmaps)
        layouts = _by_set(faces, face_set)
        materials = tuple(asset.material_names[reading.material] for reading in group)
        needs_set = len(layouts) > 1 or any(times[reading.material] > 1 for reading in group)
        for index, mine in layouts:
            name = asset.uv_sets[index].name if index >= 0 else group[0].uv_set or asked_set
            usable = _usable(complete, index, mine)
            selections.append(
                Selection(
                    name=f"{_name(materials)}, {name}" if needs_set else _name(materials),
                    materials=materials,
                    uv_set=index,
                    uv_set_name=name,
                    face=mine if usable.all() else mine[usable],
                    missing=mine[~usable],
                    slots=tuple(dict.fromkeys(slot for one in group for slot in one.slots)),
                    transforms=tuple(
                        (asset.material_names[one.material], one.transform)
                        for one in group
                        if one.transform is not None
                    ),
                )
            )
    return selections


def _faces(asset: Asset, group: list[Reading]) -> IntArray:
    is_meant = np.zeros(len(asset.material_names), dtype=bool)
    is_meant[[reading.material for reading in group]] = True
    return np.flatnonzero(is_meant[asset.face_material]).astype(np.int32)


def _complete_faces(asset: Asset, index: int) -> BoolArray | None:
    """Return which faces have coordinates at every corner; None means that all have."""
    corner_uv = asset.uv_sets[index].corner_uv
    if len(corner_uv) == 0 or corner_uv.min() >= 0:
        return None
    complete: BoolArray = np.minimum.reduceat(corner_uv, asset.face_start[:-1]) >= 0
    return complete


def _usable(complete: list[BoolArray | None], index: int, faces: IntArray) -> BoolArray:
    if index < 0:
        return np.zeros(len(faces), dtype=bool)
    known = complete[index]
    return np.ones(len(faces), dtype=bool) if known is None else known[faces]


def _face_sets(
    asset: Asset,
    group: list[Reading],
    faces: IntArray,
    *,
    moved_set: int | None,
    lightmaps: tuple[str, ...],
) -> NDArray[np.int64]:
    """Return the set that each of a group's faces is judged in, -1 where it has none."""
    if moved_set is not None:
        return np.full(len(faces), moved_set, dtype=np.int64)
    names = [one.name for one in asset.uv_sets]
    material_set = np.full(len(asset.material_names), -2, dtype=np.int64)
    for reading in group:
        if reading.uv_set:
            named = names.index(reading.uv_set) if reading.uv_set in names else -1
            material_set[reading.material] = named
    face_set = material_set[asset.face_material[faces]]
    takes_first = face_set == -2
    if takes_first.any():
        face_set[takes_first] = _first_sets(asset, faces[takes_first], lightmaps)
    return face_set


def _first_sets(asset: Asset, faces: IntArray, lightmaps: tuple[str, ...]) -> NDArray[np.int64]:
    """Return each face's UV set: the first, but for lightmaps, where its part has coordinates."""
    part = asset.face_part[faces]
    part_set = np.full(len(asset.part_names), -1, dtype=np.int64)
    for index in reversed(range(len(asset.uv_sets))):
        if asset.uv_sets[index].name in lightmaps:
            continue
        corner_uv = asset.uv_sets[index].corner_uv
        has_any = np.maximum.reduceat(corner_uv, asset.face_start[:-1])[faces] >= 0
        part_set[part[has_any]] = index
    return part_set[part]


def _by_set(faces: IntArray, face_set: NDArray[np.int64]) -> list[tuple[int, IntArray]]:
    """Return the (UV set, faces) of a group's layouts; set -1 where it has none.

    Faces whose part has no coordinates at all go with the first set of their group.
    """
    found = np.unique(face_set).tolist()
    if len(found) == 1:
        return [(found[0], faces)]
    sets = [index for index in found if index >= 0]
    taken = np.where(face_set < 0, sets[0], face_set)
    return [(index, faces[taken == index]) for index in sets]


def _distinct(selections: list[Selection]) -> list[Selection]:
    """Tell layouts of one name apart by the textures that read them."""
    names = [one.name for one in selections]
    return [
        one
        if names.count(one.name) == 1 or not one.slots
        else replace(one, name=f"{one.name} ({', '.join(slot.name for slot in one.slots)})")
        for one in selections
    ]
