"""glTF 2.0 and GLB files, read with numpy alone.

Source: Khronos, glTF 2.0 specification: metres, y up, triangles wound counter-clockwise.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from evenweave.errors import FileProblem
from evenweave.mesh.assembly import Assembly
from evenweave.mesh.asset import Asset, Companion, Unit
from evenweave.mesh.caveats import Caveats
from evenweave.mesh.gltf.accessors import Accessors
from evenweave.mesh.gltf.buffers import Buffers
from evenweave.mesh.gltf.container import opened
from evenweave.mesh.gltf.fields import JsonObject, entry, integer, items, text
from evenweave.mesh.gltf.materials import Materials
from evenweave.mesh.gltf.primitives import Part, Primitives
from evenweave.mesh.gltf.scene import Placement, Scene, read_scene
from evenweave.mesh.gltf.skin import rest_matrix
from evenweave.mesh.gltf.textures import Images
from evenweave.mesh.names import Distinct
from evenweave.mesh.place import Place
from evenweave.progress import Progress, silent

# Extensions that change no vertex, by the beginning of their names, and those read here.
_HARMLESS = ("KHR_materials_", "KHR_texture_", "EXT_texture_", "MSFT_texture_", "KHR_lights_")
_READ = ("KHR_mesh_quantization", "KHR_draco_mesh_compression", "EXT_meshopt_compression")


def read(path: Path, progress: Progress = silent) -> Asset:
    """Return the meshes of a .gltf or .glb file's default scene, or raise a FileProblem.

    A part is a node that shows a mesh, so a mesh shown twice makes two parts. v is turned
    to run up.
    """
    place = Place(path)
    progress(0.0, "reading the file")
    data = _bytes(path)
    container = opened(data, place)
    caveats = Caveats()
    document = container.document
    buffers = Buffers(document, container.binary, path)
    scene = read_scene(document, place, caveats)
    assembly = Assembly(path, len(data))
    accessors = Accessors(document, buffers)
    materials = Materials(document, place, caveats)
    primitives = Primitives(accessors, materials, assembly, caveats=caveats)
    distinct = Distinct()
    for done, placement in enumerate(scene.placements):
        progress(0.1 + 0.8 * done / len(scene.placements), "reading the meshes")
        placed = _at_rest(placement, scene, document, accessors=accessors, place=place)
        _gather(placed, document, primitives, distinct=distinct, place=place)
        _caveat_on_what_moves(placement, document, caveats, place=place)
    _caveat_on_extensions(document, caveats, place)
    if not assembly.has_faces:
        raise place.problem(*_why_empty(document, caveats))
    progress(0.9, "joining the parts")
    asset = assembly.finish(
        format=container.format,
        unit=Unit(metres=1.0, is_stated=True),
        up_axis="y",
        uv_sets=tuple(f"TEXCOORD_{number}" for number in sorted(primitives.uv_sets)),
        caveats=caveats.sentences(),
    )
    textured = materials.textured(Images(document, buffers, path))
    return replace(asset, textured=textured, companions=tuple(map(Companion, buffers.files)))


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise FileProblem(path, "", reason, "check the file and its permissions") from None


def _at_rest(
    placement: Placement, scene: Scene, document: JsonObject, *, accessors: Accessors, place: Place
) -> Placement:
    """Return the placement, by its skeleton at rest where it has one."""
    node = _node(placement, document, place)
    if "skin" not in node:
        return placement
    world = rest_matrix(
        integer(node, "skin", place),
        scene.node_world,
        document=document,
        accessors=accessors,
        place=place,
    )
    return placement if world is None else replace(placement, world=world)


def _gather(
    placement: Placement,
    document: JsonObject,
    primitives: Primitives,
    *,
    distinct: Distinct,
    place: Place,
) -> None:
    mesh = entry(document, "meshes", placement.mesh, place)
    name = text(mesh, "name")
    number = f"mesh {placement.mesh}" if placement.node is None else f"node {placement.node}"
    part = Part(distinct(placement.name or name or number), placement.world)
    at = place.at(f"mesh '{name[:60]}'" if name else f"mesh {placement.mesh}")
    primitives.add_mesh(mesh, part, at)


def _node(placement: Placement, document: JsonObject, place: Place) -> JsonObject:
    return {} if placement.node is None else entry(document, "nodes", placement.node, place)


def _caveat_on_what_moves(
    placement: Placement, document: JsonObject, caveats: Caveats, *, place: Place
) -> None:
    """Tell of parts that a viewer may show in another shape than they are read in."""
    node = _node(placement, document, place)
    mesh = entry(document, "meshes", placement.mesh, place)
    weights = items(node if "weights" in node else mesh, "weights", place)
    if any(isinstance(weight, int | float) and weight for weight in weights):
        caveats.count("Parts with morph targets are read in their base shape")
    if "skin" in node:
        caveats.count("Parts with a skeleton are read at rest")


def _caveat_on_extensions(document: JsonObject, caveats: Caveats, place: Place) -> None:
    for name in items(document, "extensionsRequired", place):
        if isinstance(name, str) and name not in _READ and not name.startswith(_HARMLESS):
            caveats.say(f"The file requires {name[:60]}, which is not read.")


def _why_empty(document: JsonObject, caveats: Caveats) -> tuple[str, str]:
    if not document.get("meshes"):
        return "it holds no meshes", "export it with its meshes"
    cause = "its scene shows no triangles"
    reasons = caveats.reasons()
    return f"{cause} ({reasons})" if reasons else cause, "export it with its surfaces"
