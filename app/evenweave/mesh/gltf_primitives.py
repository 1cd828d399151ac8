"""A placed glTF mesh's primitives, gathered as faces of one part.

Source: Khronos, glTF 2.0 specification, "Meshes" and "Images" (v runs down from the upper
left corner of the texture image; inside Evenweave it runs up).
"""

from __future__ import annotations

import re
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import IntArray
from evenweave.mesh.assembly import Assembly, Faces, carried, carried_normals, is_mirroring
from evenweave.mesh.gltf_accessors import Accessors
from evenweave.mesh.gltf_json import JsonObject, extension, inner, integer, items, mapping
from evenweave.mesh.gltf_materials import Materials, TextureTransform
from evenweave.mesh.gltf_scene import Placement
from evenweave.mesh.gltf_topology import (
    POINTS_AND_LINES,
    TRIANGLES,
    check_indices,
    triangle_corners,
    turned_over,
)
from evenweave.mesh.place import Place
from evenweave.mesh.remarks import Remarks

_UV_SET = re.compile(r"TEXCOORD_(0|[1-9][0-9]{0,3})")
_DRACO = "KHR_draco_mesh_compression"


class Primitives:
    """Puts primitives into an assembly; vertices that primitives share stay shared."""

    def __init__(
        self, accessors: Accessors, materials: Materials, assembly: Assembly, remarks: Remarks
    ) -> None:
        self._accessors = accessors
        self._materials = materials
        self._assembly = assembly
        self._remarks = remarks
        self._uv_rows: dict[tuple[str, int, TextureTransform | None], int] = {}
        self._corners: dict[tuple[int, int, int], IntArray] = {}
        self.uv_sets: set[int] = set()

    def add_mesh(self, mesh: JsonObject, placement: Placement, *, part: str, place: Place) -> None:
        """Gather all primitives of a mesh, carried to where the placement puts them."""
        rows: dict[tuple[str, int], int] = {}
        primitives = items(mesh, "primitives", place)
        for number, primitive in enumerate(primitives):
            at = place.at(f"primitive {number}")
            self._add(mapping(primitive, at), placement, part=part, rows=rows, place=at)

    def _add(
        self,
        primitive: JsonObject,
        placement: Placement,
        *,
        part: str,
        rows: dict[tuple[str, int], int],
        place: Place,
    ) -> None:
        """`rows` holds where this placement's positions and normals stand in the assembly."""
        mode = integer(primitive, "mode", place, default=TRIANGLES)
        attributes = inner(primitive, "attributes", place)
        if mode in POINTS_AND_LINES:
            self._remarks.count("Points and lines are left out")
            return
        if "POSITION" not in attributes:
            self._remarks.count("Primitives without positions are left out")
            return
        self._refuse_compressed(primitive, attributes, place)
        numbers = {name: integer(attributes, name, place) for name in _read_names(attributes)}
        corners = self._triangles(primitive, numbers, mode, place)
        if is_mirroring(placement.world):
            corners = turned_over(corners)
        self._assembly.add_faces(
            Faces(
                part=part,
                materials=(self._materials.name(primitive, place),),
                face_material=None,
                face_size=None,
                corner_position=_shifted(
                    corners, self._carried("POSITION", numbers, placement, rows, place)
                ),
                corner_normal=_shifted(
                    corners, self._carried("NORMAL", numbers, placement, rows, place)
                )
                if "NORMAL" in numbers
                else None,
                corner_uv={
                    name: _shifted(corners, self._uv(name, numbers[name], primitive, place))
                    for name in sorted(numbers)
                    if name.startswith("TEXCOORD_")
                },
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
        self, primitive: JsonObject, numbers: dict[str, int], mode: int, place: Place
    ) -> IntArray:
        """Return (3 T,) int32 vertex numbers, each within every attribute that is read."""
        counts = [self._accessors.count(number, place) for number in numbers.values()]
        vertex_count = min(counts)
        if "indices" not in primitive:
            vertices: NDArray[Any] = np.arange(self._accessors.count(numbers["POSITION"], place))
            place_of_indices = place
        else:
            index = integer(primitive, "indices", place)
            place_of_indices = place.at(f"accessor {index}")
            known = self._corners.get((index, mode, vertex_count))
            if known is not None:
                return known
            vertices = self._accessors.indices(index, place)
        check_indices(vertices, vertex_count, place_of_indices)
        corners = triangle_corners(vertices, mode, place_of_indices)
        if "indices" in primitive:
            self._corners[index, mode, vertex_count] = corners
        return corners

    def _carried(
        self,
        name: str,
        numbers: dict[str, int],
        placement: Placement,
        rows: dict[tuple[str, int], int],
        place: Place,
    ) -> int:
        """Return the first row of a placement's positions or normals, gathered once."""
        number = numbers[name]
        if (name, number) not in rows:
            self._assembly.reserve(24 * self._accessors.count(number, place))
            values = self._accessors.floats(number, 3, place.at(name))
            if name == "POSITION":
                row = self._assembly.add_position(carried(values, placement.world))
            else:
                row = self._assembly.add_normal(carried_normals(values, placement.world))
            rows[name, number] = row
        return rows[name, number]

    def _uv(self, name: str, number: int, primitive: JsonObject, place: Place) -> int:
        """Return the first row of a UV set's points; instances share them."""
        uv_set = int(name.removeprefix("TEXCOORD_"))
        self.uv_sets.add(uv_set)
        is_integer = self._accessors.is_integer(number, place)
        transform = self._materials.decoding(primitive, uv_set, is_integer=is_integer)
        key = (name, number, transform)
        if key not in self._uv_rows:
            self._assembly.reserve(16 * self._accessors.count(number, place))
            uv = self._accessors.floats(number, 2, place.at(name))
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
