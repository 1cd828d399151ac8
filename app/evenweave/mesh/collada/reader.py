"""COLLADA to `Asset`: polygons, node transforms, instances, skins and every set of TEXCOORD.

The document is read here with the standard library's parser rather than through trimesh and
pycollada: those turn NaN into 0, round to single precision, lose skinned meshes, read only the
first of several `p` lists, and expand entities without bound. They serve as references in
tests. Parts are named by their nodes.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from xml.etree.ElementTree import Element

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.mesh.assembly import (
    Assembly,
    Faces,
    carried,
    carried_normals,
    is_mirroring,
    reversing,
)
from evenweave.mesh.asset import Asset, Unit
from evenweave.mesh.caveats import Caveats
from evenweave.mesh.collada.document import Document, document, source_rows
from evenweave.mesh.collada.primitives import Primitive, primitives
from evenweave.mesh.collada.scene import Instance, Scene
from evenweave.mesh.collada.textures import material_slots
from evenweave.mesh.names import Distinct, cleaned
from evenweave.mesh.place import Place
from evenweave.mesh.texturing import Textured
from evenweave.progress import Progress, silent

_WORDS = {"POSITION": "vertex", "NORMAL": "normal", "TEXCOORD": "texture coordinate"}
_POSITION, _NORMAL = ("POSITION", 0), ("NORMAL", 0)
# X up, with -Y to the right and Z towards the viewer (COLLADA 1.4.1, "up_axis").
_X_UP = np.array([[0.0, -1, 0, 0], [1, 0, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]])


def read(path: Path, progress: Progress = silent) -> Asset:
    """Read a COLLADA file; raises `FileProblem` where it cannot be used."""
    data = path.read_bytes()
    parsed = document(path, data)
    progress(0.3, "Reading the scene")
    caveats = Caveats()
    up_axis = (parsed.root.findtext("asset/up_axis") or "").strip().upper()
    to_axes = _X_UP if up_axis == "X_UP" else np.eye(4)
    gathering = _Gathering(parsed, caveats, len(data))
    scene = Scene(parsed, caveats)
    for count, instance in enumerate(scene.instances()):
        gathering.add(instance, to_axes)
        progress(1 - 0.7 * 0.99**count, "Reading meshes")
    asset = gathering.finish(_unit(parsed, caveats), "z" if up_axis == "Z_UP" else "y")
    textured = (
        Textured(cleaned(name), slots)
        for name, (material, bound) in scene.bindings.items()
        if (slots := material_slots(parsed, material, bound)) is not None
    )
    return replace(asset, textured=(Textured(""), *textured))


def _unit(parsed: Document, caveats: Caveats) -> Unit:
    element = parsed.root.find("asset/unit")
    text = None if element is None else element.get("meter")
    if text is None:
        return Unit()
    try:
        metres = float(text)
    except ValueError:
        metres = 0.0
    if not 0 < metres < np.inf:
        caveats.say("Its unit is not a length; metres are assumed.")
        return Unit()
    return Unit(metres, is_stated=True)


@dataclass(frozen=True, eq=False)
class _Placing:
    """One geometry being placed: its part's name, its matrix, and the rows handed out so far."""

    part: str
    matrix: FloatArray
    materials: dict[str, str]
    place: Place
    first_row: dict[tuple[str, Element], int] = field(default_factory=dict)


class _Gathering:
    """Collects the instances of one document."""

    def __init__(self, parsed: Document, caveats: Caveats, file_bytes: int) -> None:
        self._document = parsed
        self._caveats = caveats
        self._assembly = Assembly(parsed.place.path, file_bytes)
        self._distinct = Distinct()
        self._primitives: dict[Element, list[Primitive]] = {}
        self._rows: dict[tuple[Element, int], FloatArray] = {}
        self._first_uv_row: dict[tuple[int, Element], int] = {}

    def add(self, instance: Instance, to_axes: FloatArray) -> None:
        """Take the faces of one geometry in its place; `to_axes` turns the file's axes to ours."""
        geometry = instance.geometry
        place = self._document.place.at(f"geometry '{geometry.get('id', '')}'")
        mesh = geometry.find("mesh")
        if mesh is None:
            self._caveats.count("Geometries other than meshes were left out")
            return
        if geometry not in self._primitives:
            self._primitives[geometry] = primitives(self._document, mesh, place, self._caveats)
        name = cleaned(instance.name) or self._document.place.path.stem
        placing = _Placing(
            part=self._distinct(name),
            matrix=to_axes @ instance.matrix,
            materials=instance.materials,
            place=place,
        )
        for primitive in self._primitives[geometry]:
            self._assembly.add_faces(self._faces(primitive, placing))

    def finish(self, unit: Unit, up_axis: str) -> Asset:
        """Return the asset; raises `FileProblem` if nothing had a face."""
        if not self._assembly.has_faces:
            said = self._caveats.reasons()
            cause = "it has no faces" + (f" ({said})" if said else "")
            raise self._document.place.problem(cause, "export the surface itself as polygons")
        numbers = sorted({number for number, _ in self._first_uv_row})
        return self._assembly.finish(
            format="collada",
            unit=unit,
            up_axis=up_axis,
            uv_sets=tuple(f"TEXCOORD{number}" for number in numbers),
            caveats=self._caveats.sentences(),
        )

    def _faces(self, primitive: Primitive, placing: _Placing) -> Faces:
        start = np.concatenate(([0], np.cumsum(primitive.face_size)))
        order = reversing(start) if is_mirroring(placing.matrix) else slice(None)
        corner_position = self._position_rows(primitive, placing)[order]
        corner_normal = None
        if _NORMAL in primitive.sources:
            corner_normal = self._normal_rows(primitive, placing)[order]
        material = placing.materials.get(primitive.material, primitive.material)
        return Faces(
            part=placing.part,
            materials=(cleaned(material),),
            face_material=None,
            face_size=primitive.face_size,
            corner_position=corner_position,
            corner_normal=corner_normal,
            corner_uv={
                f"TEXCOORD{number}": self._uv_rows(primitive, number, placing)[order]
                for semantic, number in primitive.sources
                if semantic == "TEXCOORD"
            },
        )

    def _position_rows(self, primitive: Primitive, placing: _Placing) -> IntArray:
        source, rows = self._source(primitive, _POSITION, placing.place)
        key = ("position", source)
        if key not in placing.first_row:
            moved = carried(rows, placing.matrix)
            placing.first_row[key] = self._assembly.add_position(moved)
        return primitive.corner_index[_POSITION] + np.int32(placing.first_row[key])

    def _normal_rows(self, primitive: Primitive, placing: _Placing) -> IntArray:
        source, rows = self._source(primitive, _NORMAL, placing.place)
        key = ("normal", source)
        if key not in placing.first_row:
            turned = carried_normals(rows, placing.matrix)
            placing.first_row[key] = self._assembly.add_normal(turned)
        return primitive.corner_index[_NORMAL] + np.int32(placing.first_row[key])

    def _uv_rows(self, primitive: Primitive, number: int, placing: _Placing) -> IntArray:
        """Texture coordinates do not move: instances share them."""
        source, rows = self._source(primitive, ("TEXCOORD", number), placing.place)
        key = (number, source)
        if key not in self._first_uv_row:
            self._first_uv_row[key] = self._assembly.add_uv(f"TEXCOORD{number}", rows)
        first = np.int32(self._first_uv_row[key])
        return primitive.corner_index["TEXCOORD", number] + first

    def _source(
        self, primitive: Primitive, key: tuple[str, int], place: Place
    ) -> tuple[Element, FloatArray]:
        """Return the rows that a semantic refers to, after checking that its indices fit."""
        source, index = primitive.sources[key], primitive.corner_index[key]
        width = 2 if key[0] == "TEXCOORD" else 3
        if (source, width) not in self._rows:
            self._rows[source, width] = source_rows(source, width, place)
        rows = self._rows[source, width]
        what = _WORDS[key[0]]
        if index.max() >= len(rows):
            cause = (
                f"face uses {what} {int(index.max()):,} but only 0 to {len(rows) - 1:,} are defined"
            )
            raise place.problem(cause if len(rows) else f"it has no {what}s")
        if index.min() < 0:
            raise place.problem(f"face uses {what} {int(index.min()):,}, which cannot be")
        return source, rows
