"""A placed glTF mesh's primitives, gathered as faces of one part.

Source: Khronos, glTF 2.0 specification, "Meshes" and "Images" (v runs down from the upper
left corner of the texture image; inside Evenweave it runs up).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.mesh.assembly import Assembly, Faces, carried, carried_normals, is_mirroring
from evenweave.mesh.caveats import Caveats
from evenweave.mesh.gltf.accessors import Accessors
from evenweave.mesh.gltf.fields import JsonObject, extension, inner, integer, items, mapping
from evenweave.mesh.gltf.materials import Materials
from evenweave.mesh.gltf.textures import TextureTransform
from evenweave.mesh.gltf.topology import (
    POINTS_AND_LINES,
    TRIANGLES,
    check_indices,
    triangle_corners,
    turned_over,
)
from evenweave.mesh.place import Place

_UV_SET = re.compile(r"TEXCOORD_(0|[1-9][0-9]{0,3})")
_DRACO = "KHR_draco_mesh_compression"


@dataclass(frozen=True, eq=False)
class Part:
    """A part in the making.

    world : (4, 4) float64 matrix acting on columns, from mesh to scene
    rows : where its positions and normals stand in the assembly, by name and accessor
    """

    name: str
    world: FloatArray
    rows: dict[tuple[str, int], int] = field(default_factory=dict)


class Primitives:
    """Puts primitives into an assembly; vertices that primitives share stay shared."""

    def __init__(
        self, accessors: Accessors, materials: Materials, assembly: Assembly, *, caveats: Caveats
    ) -> None:
        self._accessors = accessors
        self._materials = materials
        self._assembly = assembly
        self._caveats = caveats
        self._uv_rows: dict[tuple[str, int, TextureTransform | None], int] = {}
        self._corners: dict[tuple[int, int, int], IntArray] = {}
        self.uv_sets: set[int] = set()

    def add_mesh(self, mesh: JsonObject, part: Part, place: Place) -> None:
        """Gather all primitives of a mesh as the faces of a part."""
        for number, primitive in enumerate(items(mesh, "primitives", place)):
            at = place.at(f"primitive {number}")
            self._add(mapping(primitive, at), part, at)

    def _add(self, primitive: JsonObject, part: Part, place: Place) -> None:
        mode = integer(primitive, "mode", place, default=TRIANGLES)
        attributes = inner(primitive, "attributes", place)
        if mode in POINTS_AND_LINES:
            self._caveats.count("Points and lines are left out")
            return
        if "POSITION" not in attributes:
            self._caveats.count("Primitives without positions are left out")
            return
        self._refuse_compressed(primitive, attributes, place)
        numbers = {name: integer(attributes, name, place) for name in _read_names(attributes)}
        # Rows come first: reading them checks the counts that the triangles rely on.
        rows = {
            name: self._row(name, numbers[name], primitive=primitive, part=part, place=place)
            for name in numbers
        }
        corners = self._triangles(primitive, numbers, mode, place=place)
        if is_mirroring(part.world):
            corners = turned_over(corners)
        by_name = {name: _shifted(corners, row) for name, row in rows.items()}
        self._assembly.add_faces(
            Faces(
                part=part.name,
                materials=(self._materials.name(primitive, place),),
                face_material=None,
                face_size=None,
                corner_position=by_name.pop("POSITION"),
                corner_normal=by_name.pop("NORMAL", None),
                corner_uv=by_name,
            )
        )

    def _refuse_compressed(
        self, primitive: JsonObject, attributes: JsonObject, place: Place
    ) -> None:
        if extension(primitive, _DRACO) is None:
            return
        position = integer(attributes, "POSITION", place)
        if not self._accessors.has_own_data(position, place):
            raise place.problem(
                f"its vertices are compressed with {_DRACO}, which is not read",
                "export it without compression",
            )

    def _triangles(
        self, primitive: JsonObject, numbers: dict[str, int], mode: int, *, place: Place
    ) -> IntArray:
        """Return (3 T,) int32 vertex numbers, each within every attribute that is read."""
        counts = {name: self._accessors.count(numbers[name], place) for name in numbers}
        vertex_count = min(counts.values())
        if "indices" not in primitive:
            fewest = min(counts, key=lambda name: counts[name])
            if vertex_count < counts["POSITION"]:
                raise place.problem(
                    f"{fewest} has {vertex_count} elements for {counts['POSITION']} positions"
                )
            return triangle_corners(np.arange(vertex_count), mode, place)
        number = integer(primitive, "indices", place)
        key = (number, mode, vertex_count)
        if key not in self._corners:
            at = place.at(f"accessor {number}")
            indices = self._accessors.indices(number, place)
            check_indices(indices, vertex_count, at)
            self._corners[key] = triangle_corners(indices, mode, at)
        return self._corners[key]

    def _row(
        self, name: str, number: int, *, primitive: JsonObject, part: Part, place: Place
    ) -> int:
        """Return the assembly's first row of an attribute, gathered once for all who share it."""
        at = place.at(name)
        if name in ("POSITION", "NORMAL"):
            if (name, number) not in part.rows:
                values = self._accessors.floats(number, 3, at)
                if name == "POSITION":
                    row = self._assembly.add_position(carried(values, part.world))
                else:
                    row = self._assembly.add_normal(carried_normals(values, part.world))
                part.rows[name, number] = row
            return part.rows[name, number]
        return self._uv_row(name, number, primitive=primitive, place=at)

    def _uv_row(self, name: str, number: int, *, primitive: JsonObject, place: Place) -> int:
        """Return the first row of a UV set's points, which do not move with the part."""
        uv_set = int(name.removeprefix("TEXCOORD_"))
        self.uv_sets.add(uv_set)
        is_integer = self._accessors.is_integer(number, place)
        transform = self._materials.decoding(primitive, uv_set, place, is_integer=is_integer)
        key = (name, number, transform)
        if key not in self._uv_rows:
            uv = self._accessors.floats(number, 2, place)
            if transform is not None:
                uv = transform.applied(uv)
            uv[:, 1] = 1.0 - uv[:, 1]
            self._uv_rows[key] = self._assembly.add_uv(name, uv)
        return self._uv_rows[key]


def _read_names(attributes: JsonObject) -> list[str]:
    return [
        name for name in attributes if name in ("POSITION", "NORMAL") or _UV_SET.fullmatch(name)
    ]


def _shifted(corners: IntArray, row: int) -> IntArray:
    return corners + np.int32(row) if row else corners
