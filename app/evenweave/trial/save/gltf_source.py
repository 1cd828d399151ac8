"""Where each corner of a glTF asset comes from: node, primitive and vertex.

The document is walked as the reader walks it (`mesh.gltf`, `mesh.gltf_primitives`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from evenweave.arrays import IntArray
from evenweave.mesh.asset import Asset
from evenweave.mesh.caveats import Caveats
from evenweave.mesh.gltf.accessors import Accessors
from evenweave.mesh.gltf.buffers import Buffers
from evenweave.mesh.gltf.container import Container, opened
from evenweave.mesh.gltf.fields import JsonObject, entry, inner, integer, items, mapping
from evenweave.mesh.gltf.materials import Materials
from evenweave.mesh.gltf.scene import Placement, read_scene
from evenweave.mesh.gltf.textures import TextureTransform
from evenweave.mesh.gltf.topology import POINTS_AND_LINES, TRIANGLES, triangle_corners
from evenweave.mesh.place import Place


@dataclass(frozen=True, eq=False)
class Shown:
    """A primitive as one node shows it.

    node : None for a file without nodes; mesh, primitive : numbers
    corners : where its corners stand in the asset
    drawn : (n,) int32 vertices of its triangles in the file's order
    vertex : (n,) int32 vertices of its corners, which may turn triangles over
    accessor : number of the accessor of each UV set it has; moved : sets whose stored values
    are decoded by a texture transform
    """

    node: int | None
    mesh: int
    primitive: int
    corners: slice
    drawn: IntArray
    vertex: IntArray
    accessor: dict[str, int]
    moved: frozenset[str]


@dataclass(frozen=True, eq=False)
class Source:
    """An opened file and what of it is shown, in the order of the asset's corners."""

    container: Container
    buffers: Buffers
    accessors: Accessors
    place: Place
    shown: tuple[Shown, ...]

    @property
    def document(self) -> JsonObject:
        """Return the JSON document."""
        return self.container.document


def source_of(asset: Asset, data: bytes) -> Source:
    """Open the file of which `data` are the bytes and find the asset's corners in it."""
    place = Place(asset.path)
    container = opened(data, place)
    buffers = Buffers(container.document, container.binary, asset.path)
    accessors = Accessors(container.document, buffers)
    walk = _Walk(asset, container.document, accessors, place)
    shown = tuple(
        one
        for placement in read_scene(container.document, place, Caveats()).placements
        for one in walk.primitives(placement)
    )
    if walk.corner != len(asset.corner_position):
        raise RuntimeError("the file's corners were found otherwise than they were read")
    return Source(container, buffers, accessors, place, shown)


@dataclass(eq=False)
class _Walk:
    asset: Asset
    document: JsonObject
    accessors: Accessors
    place: Place
    corner: int = 0
    _materials: Materials = field(init=False)
    _row: dict[tuple[str, int, TextureTransform | None], int] = field(default_factory=dict)
    _rows: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._materials = Materials(self.document, self.place, Caveats())

    def primitives(self, placement: Placement) -> Iterator[Shown]:
        mesh = entry(self.document, "meshes", placement.mesh, self.place)
        for number, primitive in enumerate(items(mesh, "primitives", self.place)):
            attributes = inner(mapping(primitive, self.place), "attributes", self.place)
            mode = integer(primitive, "mode", self.place, default=TRIANGLES)
            if mode in POINTS_AND_LINES or "POSITION" not in attributes:
                continue
            yield self._shown(placement, number, primitive, mode)

    def _shown(self, placement: Placement, number: int, primitive: JsonObject, mode: int) -> Shown:
        attributes = primitive["attributes"]
        drawn = self._drawn(primitive, mode)
        corners = slice(self.corner, self.corner + len(drawn))
        self.corner = corners.stop
        accessor, moved, vertex = {}, set(), drawn
        for uv_set in self.asset.uv_sets:
            if uv_set.name not in attributes:
                continue
            index = integer(attributes, uv_set.name, self.place)
            row, is_moved = self._first_row(uv_set.name, index, primitive)
            accessor[uv_set.name] = index
            moved |= {uv_set.name} if is_moved else set()
            vertex = uv_set.corner_uv[corners] - np.int32(row)
        if not np.array_equal(np.sort(vertex), np.sort(drawn)):
            raise RuntimeError("the file's vertices were found otherwise than they were read")
        return Shown(
            node=placement.node,
            mesh=placement.mesh,
            primitive=number,
            corners=corners,
            drawn=drawn,
            vertex=vertex,
            accessor=accessor,
            moved=frozenset(moved),
        )

    def _drawn(self, primitive: JsonObject, mode: int) -> IntArray:
        if "indices" in primitive:
            index = integer(primitive, "indices", self.place)
            return triangle_corners(self.accessors.indices(index, self.place), mode, self.place)
        position = integer(primitive["attributes"], "POSITION", self.place)
        count = self.accessors.count(position, self.place)
        return triangle_corners(np.arange(count), mode, self.place)

    def _first_row(self, name: str, index: int, primitive: JsonObject) -> tuple[int, bool]:
        """Return the first row of the asset's set that an accessor fills; is it decoded."""
        transform = self._materials.decoding(
            primitive,
            int(name.removeprefix("TEXCOORD_")),
            self.place,
            is_integer=self.accessors.is_integer(index, self.place),
        )
        key = (name, index, transform)
        if key not in self._row:
            self._row[key] = self._rows.get(name, 0)
            self._rows[name] = self._row[key] + self.accessors.count(index, self.place)
        return self._row[key], transform is not None
