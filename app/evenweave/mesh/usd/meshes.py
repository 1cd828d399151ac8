"""One USD mesh prim after the other, gathered as faces.

Source: OpenUSD, UsdGeomMesh, UsdGeomGprim (orientation) and UsdGeomSubset documentation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import FloatArray, IntArray
from evenweave.mesh.assembly import (
    Assembly,
    Faces,
    carried,
    carried_normals,
    is_mirroring,
    reversing,
)
from evenweave.mesh.caveats import Caveats
from evenweave.mesh.place import Place
from evenweave.mesh.texturing import Textured
from evenweave.mesh.usd.materials import Materials
from evenweave.mesh.usd.primvars import Elements, UvPrimvar, normals, uv_primvars
from evenweave.mesh.usd.values import earliest, floats, whole_numbers


@dataclass(frozen=True, eq=False)
class _Topology:
    """Which faces and corners of a mesh are kept, and in what order.

    face : (F,) kept faces of the file, or the slice of all
    face_size : (F,) int32 corners of the kept faces
    corner : (C,) kept corners of the file, faces turned over where they must be, or all
    """

    face: NDArray[Any] | slice
    face_size: IntArray
    corner: NDArray[Any] | slice


class Meshes:
    """Puts mesh prims into an assembly; parts and materials are labelled by their full paths.

    kept_corner : of each mesh gathered, in that order, by its path, (C,) the file's corner behind
    each of the assembly's
    """

    def __init__(self, assembly: Assembly, caveats: Caveats) -> None:
        from pxr import Usd, UsdGeom

        self._assembly = assembly
        self._caveats = caveats
        self._xforms = UsdGeom.XformCache(Usd.TimeCode.EarliestTime())
        self._materials = Materials(caveats)
        self._uv_sets: dict[str, UvPrimvar] = {}
        self.kept_corner: dict[str, NDArray[Any]] = {}

    def uv_set_order(self) -> tuple[str, ...]:
        """Return the names of all UV sets: "st" first, then those typed as coordinates."""
        found = sorted(self._uv_sets.values(), key=lambda p: (p.name != "st", not p.has_role))
        return tuple(primvar.name for primvar in found)

    def material_names(self) -> dict[str, str]:
        """Return the short distinct name of each material label."""
        return self._materials.names()

    def textured(self) -> tuple[Textured, ...]:
        """Return what the textures of each material read."""
        return self._materials.textured()

    def add(self, mesh: Any, place: Place) -> None:
        """Gather a `UsdGeom.Mesh`, unless it is not meant to be seen or has nothing to show."""
        prim = mesh.GetPrim()
        if not self._is_wanted(mesh):
            return
        position = floats(mesh.GetPointsAttr(), 3, place.at("points"))
        elements = None if position is None else self._elements(mesh, len(position), place)
        if position is None or elements is None:
            self._caveats.count("Meshes without points or faces are left out")
            return
        world = np.array(self._xforms.GetLocalToWorldTransform(prim)).T
        is_left_handed = earliest(mesh.GetOrientationAttr()) == "leftHanded"
        topology = self._topology(
            mesh, elements, turn_over=is_left_handed != is_mirroring(world), place=place
        )
        if not len(topology.face_size):
            return
        materials, face_material = self._materials.of_faces(prim, elements.face_count, place)
        corners = elements.corner_vertex[topology.corner]
        numbers = np.arange(len(elements.corner_vertex))
        self.kept_corner[str(prim.GetPath())] = numbers[topology.corner]
        row = self._assembly.add_position(carried(position, world))
        self._assembly.add_faces(
            Faces(
                part=str(prim.GetPath()),
                materials=materials,
                face_material=None if face_material is None else face_material[topology.face],
                face_size=topology.face_size,
                corner_position=_shifted(corners, row),
                corner_normal=self._normals(mesh, elements, topology, world=world, place=place),
                corner_uv=self._uvs(prim, elements, topology, place=place),
            )
        )

    def _is_wanted(self, mesh: Any) -> bool:
        from pxr import UsdGeom

        purpose = str(mesh.ComputePurpose())
        if purpose not in (UsdGeom.Tokens.default_, UsdGeom.Tokens.render):
            self._caveats.count(f"Meshes of purpose {purpose} are left out")
            return False
        if mesh.ComputeVisibility() == UsdGeom.Tokens.invisible:
            self._caveats.count("Invisible meshes are read like visible ones")
        scheme = mesh.GetSubdivisionSchemeAttr()
        if scheme.HasAuthoredValue() and earliest(scheme) in ("catmullClark", "loop"):
            self._caveats.count("Subdivision surfaces are read as their control meshes")
        return True

    def _elements(self, mesh: Any, point_count: int, place: Place) -> Elements | None:
        """Return the mesh's faces, corners and points counted and checked, if it has any."""
        size = whole_numbers(mesh.GetFaceVertexCountsAttr(), place.at("faceVertexCounts"))
        vertex = whole_numbers(mesh.GetFaceVertexIndicesAttr(), place.at("faceVertexIndices"))
        if size is None or vertex is None or not len(size):
            return None
        if int(size.min()) < 0:
            raise place.problem("a face has a negative number of corners")
        corner_count = int(size.sum(dtype=np.int64))
        if corner_count != len(vertex):
            raise place.problem(
                f"its faces have {corner_count} corners, but {len(vertex)} indices are given"
            )
        if corner_count and (int(vertex.min()) < 0 or int(vertex.max()) >= point_count):
            wrong = int(vertex.min()) if int(vertex.min()) < 0 else int(vertex.max())
            raise place.problem(f"index {wrong} is not among its {point_count} points")
        return Elements(point_count=point_count, face_size=size, corner_vertex=vertex)

    def _topology(
        self, mesh: Any, elements: Elements, *, turn_over: bool, place: Place
    ) -> _Topology:
        """Leave out holes and faces of fewer than three corners; turn the rest if asked."""
        size = elements.face_size
        is_kept = size >= 3
        too_few = len(size) - int(np.count_nonzero(is_kept))
        self._caveats.count("Faces with fewer than three corners are left out", too_few)
        holes = whole_numbers(mesh.GetHoleIndicesAttr(), place.at("holeIndices"))
        if holes is not None and len(holes):
            is_kept[holes[(holes >= 0) & (holes < len(size))]] = False
        if is_kept.all() and not turn_over:
            return _Topology(face=slice(None), face_size=size, corner=slice(None))
        corner = np.flatnonzero(np.repeat(is_kept, size))
        kept_size = size[is_kept]
        if turn_over:
            corner = corner[reversing(np.concatenate([[0], np.cumsum(kept_size)]))]
        return _Topology(face=np.flatnonzero(is_kept), face_size=kept_size, corner=corner)

    def _normals(
        self, mesh: Any, elements: Elements, topology: _Topology, *, world: FloatArray, place: Place
    ) -> IntArray | None:
        scheme = mesh.GetSubdivisionSchemeAttr()
        if scheme.HasAuthoredValue() and earliest(scheme) != "none":
            # The limit surface has its own normals; authored ones are ignored by definition.
            return None
        found = normals(mesh, elements, self._caveats, place=place)
        if found is None:
            return None
        row = self._assembly.add_normal(carried_normals(found.values, world))
        return _shifted(found.corner[topology.corner], row)

    def _uvs(
        self, prim: Any, elements: Elements, topology: _Topology, *, place: Place
    ) -> dict[str, IntArray]:
        corner_uv: dict[str, IntArray] = {}
        for primvar in uv_primvars(prim):
            found = primvar.read(elements, self._caveats, place)
            if found is None:
                continue
            self._uv_sets.setdefault(primvar.name, primvar)
            row = self._assembly.add_uv(primvar.name, found.values)
            corner_uv[primvar.name] = _shifted(found.corner[topology.corner], row)
        return corner_uv


def _shifted(corner: IntArray, row: int) -> IntArray:
    """Return (C,) rows of the assembly; what is absent stays -1."""
    if not row:
        return corner
    shifted = corner + np.int32(row)
    shifted[corner < 0] = -1
    return shifted
