"""The faces of a COLLADA mesh: triangles, polylist, polygons, tristrips and trifans."""

from __future__ import annotations

from dataclasses import dataclass
from xml.etree.ElementTree import Element

import numpy as np

from evenweave.arrays import IntArray
from evenweave.mesh.caveats import Caveats
from evenweave.mesh.collada.document import Document, whole_numbers_of
from evenweave.mesh.place import Place

_FACES = ("triangles", "polylist", "polygons", "tristrips", "trifans")
_NO_FACES = ("lines", "linestrips")


@dataclass(frozen=True, eq=False)
class Primitive:
    """Faces with one material.

    face_size : (F,) int32
    corner_index : semantic and set -> (C,) int32 rows of that source
    sources : semantic and set -> source element
    """

    material: str
    face_size: IntArray
    corner_index: dict[tuple[str, int], IntArray]
    sources: dict[tuple[str, int], Element]


def primitives(
    document: Document, mesh: Element, place: Place, caveats: Caveats
) -> list[Primitive]:
    """Return the mesh's faces; what carries no faces is told as a caveat."""
    found = []
    for element in mesh:
        if element.tag in _NO_FACES:
            caveats.count("Lines were left out: they carry no texture")
        elif element.tag in _FACES:
            primitive = _primitive(document, element, place.at(element.tag), caveats)
            if len(primitive.face_size):
                found.append(primitive)
    return found


def _primitive(document: Document, element: Element, place: Place, caveats: Caveats) -> Primitive:
    inputs = _inputs(document, element, place)
    stride = 1 + max(offset for _, offset in inputs.values())
    rows, face_size = _rows(element, stride, place, caveats)
    is_kept = face_size >= 3
    caveats.count("Faces with fewer than three corners were left out", int((~is_kept).sum()))
    rows = rows[np.repeat(is_kept, face_size)]
    return Primitive(
        material=element.get("material") or "",
        face_size=face_size[is_kept],
        corner_index={
            key: np.ascontiguousarray(rows[:, offset]) for key, (_, offset) in inputs.items()
        },
        sources={key: source for key, (source, _) in inputs.items()},
    )


def _inputs(
    document: Document, element: Element, place: Place
) -> dict[tuple[str, int], tuple[Element, int]]:
    """Return semantic and set -> source and offset; VERTEX stands for what `vertices` lists."""
    found: dict[tuple[str, int], tuple[Element, int]] = {}
    for entry in element.findall("input"):
        offset = _number(entry, "offset", place)
        semantic, number = entry.get("semantic", ""), _number(entry, "set", place)
        source = document.referred(entry.get("source"))
        if source is None:
            raise place.problem(f"its {semantic} numbers are missing from the file")
        if semantic != "VERTEX":
            found.setdefault((semantic, number), (source, offset))
            continue
        for shared in source.findall("input"):
            rows = document.referred(shared.get("source"))
            if rows is not None:
                key = shared.get("semantic", ""), _number(shared, "set", place)
                found.setdefault(key, (rows, offset))
    if ("POSITION", 0) not in found:
        raise place.problem("it has no vertex positions")
    return found


def _number(element: Element, name: str, place: Place) -> int:
    text = element.get(name, "0")
    if not (text.isascii() and text.isdigit() and int(text) < 1000):
        raise place.problem(f"the {name} “{text[:40]}” of an input is not a small number")
    return int(text)


def _rows(
    element: Element, stride: int, place: Place, caveats: Caveats
) -> tuple[IntArray, IntArray]:
    """Return (C, stride) indices of the corners, and the corners of each face."""
    runs = [_table(p, stride, place) for p in element.findall("p")]
    holed = [_table(p, stride, place) for p in element.findall("ph/p")]
    caveats.count("Faces with holes were filled", len(holed))
    if element.tag == "polygons":
        runs += holed
        sizes = np.array([len(run) for run in runs], np.int32)
        return _joined(runs, stride), sizes
    if element.tag in ("tristrips", "trifans"):
        corners = _strip_corners if element.tag == "tristrips" else _fan_corners
        rows = _joined([run[corners(len(run))] for run in runs if len(run) >= 3], stride)
    else:
        rows = _joined(runs, stride)
    if element.tag == "polylist":
        sizes = whole_numbers_of(element.find("vcount"), place)
        if (sizes < 0).any() or int(sizes.sum(dtype=np.int64)) != len(rows):
            raise place.problem(f"its faces ask for other than the {len(rows):,} corners it has")
        return rows, sizes
    if len(rows) % 3:
        raise place.problem(f"its {len(rows):,} corners do not make whole triangles")
    return rows, np.full(len(rows) // 3, 3, np.int32)


def _table(p: Element, stride: int, place: Place) -> IntArray:
    indices = whole_numbers_of(p, place)
    if len(indices) % stride:
        raise place.problem(f"its {len(indices):,} indices do not make rows of {stride}")
    return indices.reshape(-1, stride)


def _joined(runs: list[IntArray], stride: int) -> IntArray:
    return np.concatenate([np.empty((0, stride), np.int32), *runs])


def _strip_corners(count: int) -> IntArray:
    """Triangle k of a strip is k, k + 1, k + 2; every second one is turned over."""
    first = np.arange(count - 2)
    odd = first % 2
    return np.stack([first + odd, first + 1 - odd, first + 2], axis=1).ravel().astype(np.int32)


def _fan_corners(count: int) -> IntArray:
    """Triangle k of a fan is 0, k + 1, k + 2."""
    first = np.arange(count - 2)
    return np.stack([np.zeros_like(first), first + 1, first + 2], axis=1).ravel().astype(np.int32)
