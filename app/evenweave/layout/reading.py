"""How materials read UV sets: each set, and transform, that the slots of a material name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenweave.mesh.asset import Asset
from evenweave.mesh.texturing import Slot, UvTransform

_GROWTH_SLACK = 1e-6


@dataclass(frozen=True)
class Reading:
    """A UV set as some slots of a material read it.

    uv_set : name of the set; "" where nothing names one: each part then takes its first
    """

    material: int
    uv_set: str = ""
    transform: UvTransform | None = None
    slots: tuple[Slot, ...] = ()


def used_materials(asset: Asset) -> NDArray[np.int64]:
    """Return the materials that any face has, ascending."""
    uses = np.bincount(asset.face_material, minlength=len(asset.material_names))
    return np.flatnonzero(uses)


def known_slots(asset: Asset) -> dict[int, tuple[Slot, ...]]:
    """Return the slots of the used materials of which the file says what they show."""
    by_name = {one.material: one.slots for one in asset.textured}
    names = asset.material_names
    return {
        material: by_name[names[material]]
        for material in used_materials(asset).tolist()
        if names[material] in by_name
    }


def untextured(asset: Asset) -> frozenset[int]:
    """Return the materials that show no texture, in an asset whose other materials do."""
    slots = known_slots(asset)
    if not any(slots.values()):
        return frozenset()
    return frozenset(material for material, shown in slots.items() if not shown)


def readings(asset: Asset, material: int, slots: Sequence[Slot]) -> tuple[Reading, ...]:
    """Return how the slots of a material read its UVs: one reading a set and transform.

    A texture repeated over a set that other slots read plainly is a detail: it is no layout of
    its own. A transform that leaves nothing of the layout is taken as none.
    """
    if not slots:
        return (Reading(material),)
    grouped: dict[tuple[str, UvTransform | None], list[Slot]] = {}
    only = asset.uv_sets[0].name if len(asset.uv_sets) == 1 else ""
    for slot in slots:
        moved = slot.transform
        if moved is not None and moved.growth < _GROWTH_SLACK:
            moved = None
        grouped.setdefault((slot.uv_set or only, moved), []).append(slot)
    plain = {name for name, moved in grouped if _growth(moved) <= 1 + _GROWTH_SLACK}
    return tuple(
        Reading(material, name, moved, tuple(found))
        for (name, moved), found in grouped.items()
        if name not in plain or _growth(moved) <= 1 + _GROWTH_SLACK
    )


def _growth(transform: UvTransform | None) -> float:
    return 1.0 if transform is None else transform.growth


def of_set(material: int, slots: Sequence[Slot], uv_set: str) -> Reading:
    """Return how a material reads one set, by the first transform that its slots name."""
    reading = tuple(slot for slot in slots if slot.uv_set == uv_set)
    moved = next((slot.transform for slot in reading), None)
    kept = tuple(slot for slot in reading if slot.transform == moved)
    return Reading(material, uv_set, moved, kept)


def sharing(readings: Sequence[Reading], merged: Sequence[Sequence[int]]) -> list[list[Reading]]:
    """Group readings that show the same image in the same set, or that are merged by hand.

    merged : groups of materials. No group holds a material twice. Images of a few texels stand
    in for textures and join nothing.
    """
    first_of: dict[object, int] = {}
    root = list(range(len(readings)))

    def top(number: int) -> int:
        while root[number] != number:
            number = root[number]
        return number

    for number, reading in enumerate(readings):
        keys: list[object] = [("merged", k) for k, m in enumerate(merged) if reading.material in m]
        keys += [(slot.image, reading.uv_set) for slot in reading.slots if not slot.image.stands_in]
        for key in keys:
            one, other = sorted((top(first_of.setdefault(key, number)), top(number)))
            root[other] = one
    groups: dict[tuple[int, int], list[Reading]] = {}
    for number, reading in enumerate(readings):
        turn = 0
        while any(one.material == reading.material for one in groups.get((top(number), turn), ())):
            turn += 1
        groups.setdefault((top(number), turn), []).append(reading)
    return list(groups.values())


def merged_materials(asset: Asset, merged: tuple[tuple[str, ...], ...]) -> list[list[int]]:
    """Return the materials of each merged group; unknown names mean nothing, the first counts."""
    taken: set[str] = set()
    groups = []
    for names in merged:
        mine = set(names) - taken
        taken |= mine
        groups.append([n for n, name in enumerate(asset.material_names) if name in mine])
    return groups


def without_coordinates(
    asset: Asset, uv_set: str | None, merged: tuple[tuple[str, ...], ...]
) -> tuple[frozenset[int], frozenset[int]]:
    """Return the materials that have no UVs to judge: those that need some, those that do not.

    A material without texture is not judged by chance coordinates, unless it was asked for.
    """
    used = frozenset(used_materials(asset).tolist())
    has_any = np.zeros(len(asset.material_names), dtype=bool)
    for one in asset.uv_sets:
        if uv_set is None or one.name == uv_set:
            corner_face = np.maximum.reduceat(one.corner_uv, asset.face_start[:-1])
            has_any[asset.face_material[corner_face >= 0]] = True
    bare = frozenset(material for material in used if not has_any[material])
    if bare == used:
        return bare, frozenset()
    joined = {material for group in merged_materials(asset, merged) for material in group}
    plain = untextured(asset) - joined
    if uv_set is not None:
        plain &= bare
    shown = known_slots(asset)
    reads_named = {m for m in bare if any(slot.uv_set for slot in shown.get(m, ()))}
    return bare - plain - joined - (reads_named if uv_set is None else set()), plain
