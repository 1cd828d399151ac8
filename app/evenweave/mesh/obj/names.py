"""Which part, material and smoothing group each face of an OBJ file belongs to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, TypeVar

import numpy as np

from evenweave.arrays import IntArray
from evenweave.mesh.obj.kernels import GROUP, MATERIAL, OBJECT, SMOOTHING

Value = TypeVar("Value")


class Event(NamedTuple):
    """An o, g, usemtl or s line: it holds from face `face` on, until the next of its kind."""

    face: int
    kind: int
    text: str


@dataclass(frozen=True, eq=False)
class Membership:
    """Per face the index of its part and material, and its smoothing group (0 off, -1 unsaid)."""

    face_part: IntArray
    part_names: tuple[str, ...]
    face_material: IntArray
    material_names: tuple[str, ...]
    face_smoothing: IntArray


def membership(events: list[Event], face_count: int, nameless: str) -> Membership:
    """Follow the events in file order.

    A part is an object; a group where there is no object; "object / group" where the faces of
    one object lie in several groups. A name that comes again continues its part. `nameless`
    names the part of faces that stand in no object and no group. An object starts without
    group.
    """
    places: list[tuple[int, tuple[str, str]]] = [(0, ("", ""))]
    materials: list[tuple[int, str]] = [(0, "")]
    smoothing: list[tuple[int, int]] = [(0, -1)]
    for event in events:
        if event.kind == OBJECT:
            places.append((event.face, (event.text, "")))
        elif event.kind == GROUP:
            places.append((event.face, (places[-1][1][0], event.text)))
        elif event.kind == MATERIAL:
            materials.append((event.face, event.text))
        elif event.kind == SMOOTHING:
            smoothing.append((event.face, _smoothing_group(event.text)))
    runs = _runs(places, face_count)
    groups: dict[str, set[str]] = {}
    for (named, group), _length in runs:
        groups.setdefault(named, set()).add(group)

    def part_name(named: str, group: str) -> str:
        if not named:
            return group or nameless
        return f"{named} / {group}" if group and len(groups[named]) > 1 else named

    face_part, part_names = _numbered([(part_name(*place), n) for place, n in runs])
    face_material, material_names = _numbered(_runs(materials, face_count))
    groups_by_run = _runs(smoothing, face_count)
    face_smoothing = np.repeat(
        np.array([group for group, _ in groups_by_run], dtype=np.int32),
        [length for _, length in groups_by_run],
    )
    return Membership(face_part, part_names, face_material, material_names, face_smoothing)


def _runs(changes: list[tuple[int, Value]], face_count: int) -> list[tuple[Value, int]]:
    """Return each value with the number of faces it holds for, where that is not 0."""
    ends = [face for face, _ in changes[1:]] + [face_count]
    return [
        (value, end - face) for (face, value), end in zip(changes, ends, strict=True) if end > face
    ]


def _numbered(runs: list[tuple[str, int]]) -> tuple[IntArray, tuple[str, ...]]:
    """Return per face the number of its name, and the names in order of their first use."""
    number: dict[str, int] = {}
    indices = [number.setdefault(name, len(number)) for name, _ in runs]
    lengths = [length for _, length in runs]
    return np.repeat(np.array(indices, dtype=np.int32), lengths), tuple(number)


def _smoothing_group(text: str) -> int:
    """Return the number of an s line: "off" is 0; what is no number is not stated."""
    word = text.split(" ", 1)[0].lower()
    if word in ("off", "0"):
        return 0
    if word == "on":
        return 1
    return min(int(word), 2**31 - 1) if word.isascii() and word.isdigit() else -1
