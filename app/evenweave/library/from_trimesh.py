"""trimesh's meshes and scenes as an `Asset`, through trimesh's public interface alone."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.errors import FileProblem
from evenweave.mesh.assembly import Assembly, Faces, carried, carried_normals, is_mirroring
from evenweave.mesh.asset import Asset, Unit
from evenweave.mesh.validation import validated

if TYPE_CHECKING:
    import trimesh

FIRST_SET = "uv"


def asset_of(scene: trimesh.Trimesh | trimesh.Scene, metres_per_unit: float = 1.0) -> Asset:
    """Return a mesh, or all meshes of a scene as its graph places them, as one asset.

    Each node is a part, each material's name a layout's. The first UV set is `visual.uv`; every
    vertex attribute of shape (V, 2) is another, under its key. Raises FileProblem where there
    is no face.
    """
    named = list(_meshes(scene))
    path = Path(_name(scene))
    size = sum(mesh.vertices.nbytes + mesh.faces.nbytes for _, mesh, _ in named)
    assembly = Assembly(path, 32 * size)
    digest = hashlib.sha256()
    names: dict[str, None] = {}
    for part, mesh, matrix in named:
        sets = _uv_sets(mesh)
        names.update(dict.fromkeys(sets))
        _add(assembly, part, mesh, matrix=matrix, sets=sets)
        for array in (mesh.vertices, mesh.faces, *sets.values()):
            digest.update(np.ascontiguousarray(array).tobytes())
    if not assembly.has_faces:
        raise FileProblem(path, "", "it has no faces", "give a mesh with triangles")
    asset = assembly.finish(
        format="trimesh",
        unit=Unit(metres_per_unit, is_stated=True),
        up_axis="y",
        uv_sets=tuple(names),
        caveats=(),
    )
    return validated(replace(asset, digest=digest.hexdigest()))


def _meshes(
    scene: trimesh.Trimesh | trimesh.Scene,
) -> Iterator[tuple[str, trimesh.Trimesh, FloatArray]]:
    import trimesh

    if isinstance(scene, trimesh.Trimesh):
        yield _name(scene), scene, np.eye(4)
        return
    for node in scene.graph.nodes_geometry:
        matrix, name = scene.graph[node]
        mesh = scene.geometry[name]
        if isinstance(mesh, trimesh.Trimesh):
            yield str(node), mesh, np.asarray(matrix, np.float64)


def _name(scene: Any) -> str:
    named = scene.metadata.get("name") or scene.metadata.get("file_name") or "mesh"
    return str(named)


def _add(
    assembly: Assembly,
    part: str,
    mesh: trimesh.Trimesh,
    *,
    matrix: FloatArray,
    sets: dict[str, FloatArray],
) -> None:
    faces = np.asarray(mesh.faces, np.int32)
    if is_mirroring(matrix):
        faces = faces[:, [0, 2, 1]]
    corner: IntArray = np.ascontiguousarray(faces.reshape(-1))
    first = assembly.add_position(carried(np.asarray(mesh.vertices, np.float64), matrix))
    normal = assembly.add_normal(
        carried_normals(np.asarray(mesh.vertex_normals, np.float64), matrix)
    )
    assembly.add_faces(
        Faces(
            part=part,
            materials=(_material(mesh),),
            face_material=None,
            face_size=None,
            corner_position=corner + np.int32(first),
            corner_normal=corner + np.int32(normal),
            corner_uv={
                name: corner + np.int32(assembly.add_uv(name, uv)) for name, uv in sets.items()
            },
        )
    )


def _uv_sets(mesh: trimesh.Trimesh) -> dict[str, FloatArray]:
    rows = len(mesh.vertices)
    own = getattr(mesh.visual, "uv", None)
    attributes = {FIRST_SET: own, **mesh.vertex_attributes}
    arrays = {str(name): np.asarray(uv) for name, uv in attributes.items() if uv is not None}
    return {
        name: np.ascontiguousarray(uv[:, :2], np.float64)
        for name, uv in arrays.items()
        if uv.ndim == 2 and uv.shape[0] == rows and (uv.shape[1] == 2 or name == FIRST_SET)
    }


def _material(mesh: trimesh.Trimesh) -> str:
    material = getattr(mesh.visual, "material", None)
    return str(getattr(material, "name", "") or "")
