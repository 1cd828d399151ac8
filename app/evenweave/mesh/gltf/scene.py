"""The node hierarchy of a glTF document: which mesh stands where.

Source: Khronos, glTF 2.0 specification, "Scenes" and "Nodes and Hierarchy".
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray
from evenweave.mesh.caveats import Caveats
from evenweave.mesh.gltf.fields import JsonObject, entry, extension, integer, items, numbers, text
from evenweave.mesh.place import Place

_IDENTITY = tuple(np.eye(4).ravel())


@dataclass(frozen=True, eq=False)
class Placement:
    """A node that shows a mesh.

    node : its number, None for a mesh read without a node
    name : the node's name, "" if it has none
    mesh : the mesh's number
    world : (4, 4) float64 matrix acting on columns, from mesh to scene
    """

    node: int | None
    name: str
    mesh: int
    world: FloatArray


@dataclass(frozen=True, eq=False)
class Scene:
    """The placements in the order of the hierarchy, and every visited node's world matrix."""

    placements: tuple[Placement, ...]
    node_world: dict[int, FloatArray]


def read_scene(document: JsonObject, place: Place, caveats: Caveats) -> Scene:
    """Walk the scene from its roots; a file of meshes without nodes shows every mesh once."""
    meshes = items(document, "meshes", place)
    if not items(document, "nodes", place):
        identity = np.eye(4)
        return Scene(tuple(Placement(None, "", mesh, identity) for mesh in range(len(meshes))), {})
    scene = _walked(document, _roots(document, place, caveats), place, caveats=caveats)
    unplaced = len(meshes) - len({placement.mesh for placement in scene.placements})
    caveats.count("Meshes that no node of the scene shows are left out", unplaced)
    return scene


def node_words(document: JsonObject, index: int) -> str:
    """Return how a sentence calls a node."""
    nodes = document.get("nodes")
    node = nodes[index] if isinstance(nodes, list) and index < len(nodes) else None
    name = text(node, "name") if isinstance(node, dict) else ""
    return f"node '{name[:60]}'" if name else f"node {index}"


def _roots(document: JsonObject, place: Place, caveats: Caveats) -> list[int]:
    """Return the root nodes of the default scene, or of all scenes' hierarchy without one."""
    scenes = items(document, "scenes", place)
    if scenes or "scene" in document:
        number = integer(document, "scene", place, default=0)
        scene = entry(document, "scenes", number, place)
        caveats.count("Scenes other than the default one are left out", len(scenes) - 1)
        return _node_numbers(scene, "nodes", place.at(f"scene {number}"))
    children: set[int] = set()
    nodes = items(document, "nodes", place)
    for index in range(len(nodes)):
        at = place.at(node_words(document, index))
        children.update(_node_numbers(entry(document, "nodes", index, place), "children", at))
    return [index for index in range(len(nodes)) if index not in children]


def _walked(document: JsonObject, roots: list[int], place: Place, *, caveats: Caveats) -> Scene:
    """Visit every node below the roots in file order, without recursion."""
    parent: dict[int, int | None] = {}
    node_world: dict[int, FloatArray] = {}
    placements: list[Placement] = []
    waiting: list[tuple[int, int | None]] = [(root, None) for root in reversed(roots)]
    while waiting:
        index, above = waiting.pop()
        at = place.at(node_words(document, index))
        if index in parent:
            _refuse_second_visit(document, (index, above), parent, place=at)
        parent[index] = above
        node = entry(document, "nodes", index, place)
        local = _local(node, at)
        with np.errstate(all="ignore"):
            world = local if above is None else node_world[above] @ local
        if not np.isfinite(world).all():
            raise at.problem("its transforms multiply beyond all numbers")
        node_world[index] = world
        if "mesh" in node:
            mesh = integer(node, "mesh", at)
            placements.append(Placement(index, text(node, "name"), mesh, world))
        if extension(node, "EXT_mesh_gpu_instancing") is not None:
            caveats.count("Nodes repeated by EXT_mesh_gpu_instancing are read once")
        children = _node_numbers(node, "children", at)
        waiting.extend((child, index) for child in reversed(children))
    return Scene(tuple(placements), node_world)


def _refuse_second_visit(
    document: JsonObject,
    visit: tuple[int, int | None],
    parent: dict[int, int | None],
    *,
    place: Place,
) -> None:
    index, above = visit
    ancestor = above
    while ancestor is not None and ancestor != index:
        ancestor = parent[ancestor]
    if ancestor == index:
        raise place.problem("it is its own ancestor")
    parents = [node_words(document, p) for p in (parent[index], above) if p is not None]
    where = " and ".join(["the scene"] * (2 - len(parents)) + parents)
    raise place.problem(f"it stands in the hierarchy twice, under {where}")


def _node_numbers(holder: JsonObject, key: str, place: Place) -> list[int]:
    numbers_ = items(holder, key, place)
    return [integer({key: number}, key, place) for number in numbers_]


def _local(node: JsonObject, place: Place) -> FloatArray:
    """Return a node's own (4, 4) matrix, from its columns or from T * R * S."""
    if "matrix" in node:
        columns = numbers(node, "matrix", place, default=_IDENTITY)
        matrix = np.array(columns).reshape(4, 4).T.copy()
        matrix[3] = (0, 0, 0, 1)
        return matrix
    matrix = np.eye(4)
    scale = numbers(node, "scale", place, default=(1.0, 1.0, 1.0))
    rotation = numbers(node, "rotation", place, default=(0.0, 0.0, 0.0, 1.0))
    matrix[:3, :3] = _rotation(np.array(rotation)) * np.array(scale)
    matrix[:3, 3] = numbers(node, "translation", place, default=(0.0, 0.0, 0.0))
    return matrix


def _rotation(quaternion: FloatArray) -> FloatArray:
    """Return the (3, 3) rotation of a quaternion (x, y, z, w), its length made one."""
    largest = np.abs(quaternion).max()
    if largest == 0:
        return np.eye(3)
    x, y, z, w = (quaternion / largest) / np.linalg.norm(quaternion / largest)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
