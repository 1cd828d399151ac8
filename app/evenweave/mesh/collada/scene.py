"""The nodes of a COLLADA scene, flattened: which geometry stands where, in which materials.

A skinned geometry is placed as it was bound (COLLADA 1.4.1, chapter 4, "Skin Deformation"):
its bind shape matrix counts, the node's own place does not. A morph gives its base shape.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from xml.etree.ElementTree import Element

import numpy as np

from evenweave.arrays import FloatArray
from evenweave.mesh.caveats import Caveats
from evenweave.mesh.collada.document import Document, floats_of
from evenweave.mesh.place import Place

_DEEPEST = 200
_FREE_NODES, _NODES_PER_ELEMENT = 50_000, 100  # how far instances may multiply a small file
_LENGTHS = {"matrix": 16, "translate": 3, "rotate": 4, "scale": 3}


@dataclass(frozen=True, eq=False)
class Instance:
    """A geometry in its place.

    name : of its node, else of the geometry
    matrix : (4, 4) float64, acts on columns
    materials : symbol in the geometry -> name of the material
    """

    name: str
    geometry: Element
    matrix: FloatArray
    materials: dict[str, str]


class Scene:
    """Walks the nodes of a document's scene.

    bindings : of each material met, by name, its element and the first that binds it
    """

    def __init__(self, document: Document, caveats: Caveats) -> None:
        self._document = document
        self._caveats = caveats
        elements = sum(1 for _ in document.root.iter())
        self.bindings: dict[str, tuple[Element, Element]] = {}
        self._nodes_left = _FREE_NODES + _NODES_PER_ELEMENT * elements

    def instances(self) -> Iterator[Instance]:
        """Yield every geometry of the scene; all geometries plainly if there is no scene."""
        root = self._document.root
        wanted = root.find("scene/instance_visual_scene")
        scene = None if wanted is None else self._document.referred(wanted.get("url"))
        if scene is None:
            scene = root.find("library_visual_scenes/visual_scene")
        if scene is None:
            for geometry in root.findall("library_geometries/geometry"):
                yield Instance(_name(geometry), geometry, np.eye(4), {})
            return
        for node in scene.findall("node"):
            yield from self._walk(node, np.eye(4), ())

    def _walk(
        self, node: Element, matrix: FloatArray, above: tuple[Element, ...]
    ) -> Iterator[Instance]:
        self._nodes_left -= 1
        if len(above) >= _DEEPEST or self._nodes_left < 0:
            raise self._document.place.problem(
                "its nodes are nested without end", "export the mesh again without the hierarchy"
            )
        if any(node is other for other in above):
            self._caveats.count("Nodes that contain themselves were left out")
            return
        place = self._document.place.at(f"node '{_name(node)}'")
        matrix = matrix @ self._own_matrix(node, place)
        above = (*above, node)
        for child in node:
            if child.tag == "node":
                yield from self._walk(child, matrix, above)
            elif child.tag == "instance_node":
                other = self._document.referred(child.get("url"))
                if other is None:
                    self._caveats.count("Nodes in other files were left out")
                else:
                    yield from self._walk(other, matrix, above)
            elif child.tag == "instance_geometry":
                geometry = self._document.referred(child.get("url"))
                yield from self._placed(child, geometry, matrix, _name(node))
            elif child.tag == "instance_controller":
                geometry, bound = self._controlled(child, matrix, place)
                yield from self._placed(child, geometry, bound, _name(node))

    def _placed(
        self, instance: Element, geometry: Element | None, matrix: FloatArray, name: str
    ) -> Iterator[Instance]:
        if geometry is None or geometry.tag != "geometry":
            self._caveats.count("Geometries missing from the file were left out")
            return
        materials = {}
        for bound in instance.findall("bind_material/technique_common/instance_material"):
            target = self._document.referred(bound.get("target"))
            if target is not None:
                materials[bound.get("symbol", "")] = _name(target)
                self.bindings.setdefault(_name(target), (target, bound))
        yield Instance(name or _name(geometry), geometry, matrix, materials)

    def _controlled(
        self, instance: Element, matrix: FloatArray, place: Place
    ) -> tuple[Element | None, FloatArray]:
        """Follow skins and morphs to the geometry beneath, at most as deep as nodes go."""
        found = self._document.referred(instance.get("url"))
        for _ in range(_DEEPEST):
            if found is None or found.tag != "controller":
                return found, matrix
            skin, morph = found.find("skin"), found.find("morph")
            if skin is not None:
                bind = floats_of(skin.find("bind_shape_matrix"), place)
                matrix = bind.reshape(4, 4) if len(bind) == 16 else np.eye(4)
                found = self._document.referred(skin.get("source"))
            else:
                found = None if morph is None else self._document.referred(morph.get("source"))
        return None, matrix

    def _own_matrix(self, node: Element, place: Place) -> FloatArray:
        matrix = np.eye(4)
        for element in node:
            if element.tag in ("skew", "lookat"):
                self._caveats.count(f"Transforms of the kind “{element.tag}” were left out")
            elif element.tag in _LENGTHS:
                values = floats_of(element, place)
                if len(values) != _LENGTHS[element.tag] or not np.isfinite(values).all():
                    raise place.problem(f"its {element.tag} is not made of finite numbers")
                matrix = matrix @ _transform(element.tag, values)
        return matrix


def _transform(kind: str, values: FloatArray) -> FloatArray:
    if kind == "matrix":
        return values.reshape(4, 4)
    matrix = np.eye(4)
    if kind == "translate":
        matrix[:3, 3] = values
    elif kind == "scale":
        matrix[:3, :3] = np.diag(values)
    else:
        length = np.linalg.norm(values[:3])
        if length > 0:
            matrix[:3, :3] = _rotation(values[:3] / length, np.radians(values[3]))
    return matrix


def _rotation(axis: FloatArray, angle: float) -> FloatArray:
    """Rodrigues' rotation formula."""
    x, y, z = axis
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.asarray(np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross)


def _name(element: Element) -> str:
    return element.get("name") or element.get("id") or ""
