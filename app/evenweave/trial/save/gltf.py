"""A copy of a glTF or GLB file with other texture coordinates.

Where every vertex has one place to go, the floats are written over the old ones and nothing
else changes. Where corners part, vertices are doubled with all their attributes, morph targets
and skin weights. Nodes, materials, animations, extras and unknown extensions stay.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from evenweave.arrays import IntArray
from evenweave.mesh.asset import Asset
from evenweave.mesh.gltf.fields import JsonObject, extension
from evenweave.trial.save.copy import Copy
from evenweave.trial.save.gltf_sharing import accessor_uses, can_be_patched
from evenweave.trial.save.gltf_source import Shown, Source, source_of
from evenweave.trial.save.gltf_vertices import Vertices, Wanted, vertices
from evenweave.trial.save.gltf_writing import Draft

_COMPRESSED = ("KHR_draco_mesh_compression",)
_COMPRESSED_VIEW = ("EXT_meshopt_compression", "KHR_meshopt_compression")
_TANGENTS = (
    "Tangents are kept as they were; let the program that bakes or shows the mesh compute them "
    "again, for they follow the texture coordinates."
)


@dataclass(frozen=True, eq=False)
class _Unit:
    """Primitives of one mesh that share all their attributes, with the vertices they need."""

    members: tuple[Shown, ...]
    names: tuple[str, ...]
    vertices: Vertices

    @property
    def accessor(self) -> dict[str, int]:
        return self.members[0].accessor


def copied(original: Asset, changed: Asset, data: bytes, target: Path) -> Copy:
    """Return the bytes of a copy with the coordinates of `changed`."""
    source = source_of(original, data)
    wanted = Wanted(source, original, changed)
    draft = Draft(source, data)
    shown = _parted_meshes(draft, source, wanted)
    units = list(_units(draft, source, shown, wanted))
    for unit in units:
        if len(unit.vertices.twin):
            _lengthen(draft, unit)
    _move(draft, source, [unit for unit in units if not len(unit.vertices.twin)])
    has_tangents = any(
        "TANGENT" in _primitive(draft, unit.members[0])["attributes"] for unit in units
    )
    return draft.finished(target, (_TANGENTS,) if has_tangents else ())


def _primitive(draft: Draft, shown: Shown) -> JsonObject:
    found: JsonObject = draft.document["meshes"][shown.mesh]["primitives"][shown.primitive]
    return found


def _parted_meshes(draft: Draft, source: Source, wanted: Wanted) -> list[Shown]:
    """Give nodes that show one mesh with different coordinates meshes of their own."""
    by_node: dict[tuple[int, int | None], list[Shown]] = {}
    for one in source.shown:
        by_node.setdefault((one.mesh, one.node), []).append(one)
    changing = {one.mesh for one in source.shown if wanted.sets(one)}
    mesh_of: dict[tuple[int, bytes], int] = {}
    taken: set[int] = set()
    result = []
    for (mesh, node), primitives in by_node.items():
        look = b"".join(
            wanted.stored(one, name).tobytes()
            for one in primitives
            for name in one.accessor
            if mesh in changing
        )
        if (mesh, look) not in mesh_of:
            mesh_of[mesh, look] = _doubled_mesh(draft, mesh) if mesh in taken else mesh
            taken.add(mesh)
        number = mesh_of[mesh, look]
        if number != mesh:
            draft.document["nodes"][node]["mesh"] = number
        result += [replace(one, mesh=number) for one in primitives]
    return result


def _doubled_mesh(draft: Draft, mesh: int) -> int:
    meshes = draft.document["meshes"]
    meshes.append(copy.deepcopy(meshes[mesh]))
    return len(meshes) - 1


def _units(draft: Draft, source: Source, showns: list[Shown], wanted: Wanted) -> Iterator[_Unit]:
    """Yield the groups of primitives in which anything changes."""
    groups: dict[tuple[int, str], dict[int, Shown]] = {}
    for one in showns:
        primitive = _primitive(draft, one)
        shared = [primitive["attributes"], primitive.get("targets")]
        group = groups.setdefault((one.mesh, json.dumps(shared, sort_keys=True)), {})
        group.setdefault(one.primitive, one)
    for group in groups.values():
        members = tuple(group.values())
        names = tuple(dict.fromkeys(name for one in members for name in wanted.sets(one)))
        if names:
            for one in members:
                _refuse_compressed(draft, source, one, names)
            yield _Unit(members, names, vertices(members, names, wanted))


def _refuse_compressed(draft: Draft, source: Source, shown: Shown, names: tuple[str, ...]) -> None:
    place = source.place.at(f"mesh {shown.mesh}").at(f"primitive {shown.primitive}")
    primitive = _primitive(draft, shown)
    for name in _COMPRESSED:
        if extension(primitive, name) is not None:
            cause = f"its vertices are compressed with {name}, of which no copy can be made"
            raise place.problem(cause, "export it without compression")
    for name in names:
        accessor = draft.document["accessors"][shown.accessor[name]]
        view = (
            draft.document["bufferViews"][accessor["bufferView"]]
            if "bufferView" in accessor
            else {}
        )
        for compression in _COMPRESSED_VIEW:
            if extension(view, compression) is not None:
                cause = f"its {name} is compressed with {compression}"
                raise place.problem(cause, "export it without compression")
        if name in shown.moved:
            cause = f"its {name} is quantised and brought back by a KHR_texture_transform"
            raise place.problem(cause, "export it without quantisation")


def _lengthen(draft: Draft, unit: _Unit) -> None:
    """Give primitives vertices of their own, the doubled ones behind the old ones."""
    found = unit.vertices
    first = _primitive(draft, unit.members[0])
    count = len(found.is_used)
    longer: dict[int, int] = {}

    def lengthened(index: int) -> int:
        if index not in longer:
            longer[index] = draft.longer_accessor(index, found.twin, count)
        return longer[index]

    attributes = {}
    for name, index in first["attributes"].items():
        if name in unit.names:
            old = draft.document["accessors"][index]
            attributes[name] = draft.uv_accessor(found.uv[name], old)
        else:
            attributes[name] = lengthened(index)
    targets = [
        {name: lengthened(index) for name, index in one.items()} for one in first.get("targets", [])
    ]
    for shown, vertex in zip(unit.members, found.corner_vertex, strict=True):
        primitive = _primitive(draft, shown)
        old = draft.document["accessors"][primitive["indices"]] if "indices" in primitive else {}
        primitive["indices"] = draft.index_accessor(_in_file_order(shown, vertex), old)
        primitive["attributes"] = dict(attributes)
        if targets:
            primitive["targets"] = copy.deepcopy(targets)
        if primitive.get("mode", 4) != 4:
            primitive["mode"] = 4  # strips and fans cannot part at a vertex


def _in_file_order(shown: Shown, vertex: IntArray) -> IntArray:
    """Return vertices of corners in the order of the file, which a mirrored node turns over."""
    if np.array_equal(shown.vertex, shown.drawn):
        return vertex
    turned: IntArray = vertex.reshape(-1, 3)[:, [0, 2, 1]].reshape(-1)
    return turned


def _move(draft: Draft, source: Source, units: list[_Unit]) -> None:
    """Write coordinates where no vertex is doubled: in place, or into an accessor of their own."""
    by_accessor: dict[int, list[tuple[_Unit, str]]] = {}
    for unit in units:
        for name in unit.names:
            by_accessor.setdefault(unit.accessor[name], []).append((unit, name))
    uses = accessor_uses(draft.document)
    for index, users in by_accessor.items():
        own = sum(len(unit.members) for unit, _ in users)
        agreed = _agreed([(unit.vertices.uv[name], unit.vertices.is_used) for unit, name in users])
        if (
            agreed is not None
            and uses[index] == own
            and can_be_patched(draft.document, index, uses)
        ):
            draft.patch(index, *agreed)
            continue
        old = draft.document["accessors"][index]
        for unit, name in users:
            new = draft.uv_accessor(unit.vertices.uv[name], old)
            for shown in unit.members:
                _primitive(draft, shown)["attributes"][name] = new


def _agreed(options: list[tuple[Any, Any]]) -> tuple[Any, Any] | None:
    """Return the rows that are drawn and their values, None where two users disagree."""
    rows = np.concatenate([np.flatnonzero(is_used) for _, is_used in options])
    values = np.concatenate([uv[: len(is_used)][is_used] for uv, is_used in options])
    kept, first, back = np.unique(rows, return_index=True, return_inverse=True)
    if not np.array_equal(values[first][back.reshape(-1)], values, equal_nan=True):
        return None
    return kept, values[first]
