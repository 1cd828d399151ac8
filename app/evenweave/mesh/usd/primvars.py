"""USD primvars as values and the value each corner takes: UV sets and normals.

Source: OpenUSD, UsdGeomPrimvar documentation (interpolation, indexed primvars).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.mesh.caveats import Caveats
from evenweave.mesh.names import cleaned
from evenweave.mesh.place import Place
from evenweave.mesh.usd.values import as_floats, floats

_PREFIX = "primvars:"
_ROLE = "TextureCoordinate"
_PLAIN_TYPES = ("float2[]", "double2[]", "half2[]")


@dataclass(frozen=True, eq=False)
class Elements:
    """What values can be attached to.

    face_size : (F,) int32 corners of each face
    corner_vertex : (C,) int32 point of each corner
    """

    point_count: int
    face_size: IntArray
    corner_vertex: IntArray

    @property
    def face_count(self) -> int:
        """Number of faces in the file."""
        return len(self.face_size)

    def of_corners(self, interpolation: str) -> tuple[int, IntArray] | None:
        """Return how many elements an interpolation has and (C,) the one of each corner."""
        corner_count = len(self.corner_vertex)
        if interpolation == "faceVarying":
            return corner_count, np.arange(corner_count, dtype=np.int32)
        if interpolation in ("vertex", "varying"):
            return self.point_count, self.corner_vertex
        if interpolation == "uniform":
            faces = np.arange(self.face_count, dtype=np.int32)
            return self.face_count, np.repeat(faces, self.face_size)
        if interpolation == "constant":
            return 1, np.zeros(corner_count, np.int32)
        return None


@dataclass(frozen=True, eq=False)
class CornerValues:
    """values : (N, width) float64; corner : (C,) int32 row of each corner, -1 absent."""

    values: FloatArray
    corner: IntArray


@dataclass(frozen=True, eq=False)
class UvPrimvar:
    """A primvar that holds a UV set; `has_role` where its type says so."""

    name: str
    has_role: bool
    primvar: Any

    def read(self, elements: Elements, caveats: Caveats, place: Place) -> CornerValues | None:
        """Return the set's points and corners, or None, with a caveat, if they do not fit."""
        return _read(self.primvar, 2, elements, caveats=caveats, place=place.at(self.name))


def uv_primvars(prim: Any) -> list[UvPrimvar]:
    """Return a prim's UV sets in the order they were authored in.

    Arrays typed as texture coordinates are UV sets under any name; plain pairs of numbers
    too, as older files have it, unless one pair stands for the whole mesh.
    """
    from pxr import UsdGeom

    found = []
    api = UsdGeom.PrimvarsAPI(prim)
    for name in _authored_names(prim):
        primvar = api.GetPrimvar(name)
        if not primvar or not primvar.HasValue():
            continue
        value_type = primvar.GetTypeName()
        has_role = value_type.isArray and value_type.role == _ROLE
        is_plain = str(value_type) in _PLAIN_TYPES and primvar.GetInterpolation() != "constant"
        if has_role or is_plain:
            found.append(UvPrimvar(cleaned(name.removeprefix(_PREFIX)), has_role, primvar))
    return found


def normals(
    mesh: Any, elements: Elements, caveats: Caveats, *, place: Place
) -> CornerValues | None:
    """Return a mesh's normals: primvars:normals goes before the attribute, as USD has it."""
    from pxr import UsdGeom

    primvar = UsdGeom.PrimvarsAPI(mesh).GetPrimvar("normals")
    if primvar and primvar.HasValue():
        return _read(primvar, 3, elements, caveats=caveats, place=place.at("normals"))
    at = place.at("normals")
    values = floats(mesh.GetNormalsAttr(), 3, at)
    if values is None or not len(values):
        return None
    interpolation = str(mesh.GetNormalsInterpolation())
    return _fitted(values, None, elements.of_corners(interpolation), caveats=caveats, place=at)


def _authored_names(prim: Any) -> list[str]:
    """Return the names of the primvars in authored order, the strongest layer's first."""
    source = prim.GetPrimInPrototype() if prim.IsInstanceProxy() else prim
    # A damaged file can list properties that are not there.
    specs = (spec for prim_spec in source.GetPrimStack() for spec in prim_spec.properties if spec)
    names = (spec.name for spec in specs)
    is_value = (n for n in names if n.startswith(_PREFIX) and not n.endswith(":indices"))
    return list(dict.fromkeys(is_value))


def _read(
    primvar: Any, width: int, elements: Elements, *, caveats: Caveats, place: Place
) -> CornerValues | None:
    from pxr import Usd

    time = Usd.TimeCode.EarliestTime()
    values = as_floats(primvar.Get(time), width, place)
    indices: IntArray | None = None
    if primvar.IsIndexed():
        indices = np.array(primvar.GetIndices(time), dtype=np.int32)
        absent = primvar.GetUnauthoredValuesIndex()
        if absent >= 0:
            indices = np.where(indices == absent, -1, indices).astype(np.int32)
    fitting = elements.of_corners(str(primvar.GetInterpolation()))
    return _fitted(values, indices, fitting, caveats=caveats, place=place)


def _fitted(
    values: FloatArray,
    indices: IntArray | None,
    elements: tuple[int, IntArray] | None,
    *,
    caveats: Caveats,
    place: Place,
) -> CornerValues | None:
    """Return the values by corner; what does not fit the mesh is left out with a caveat."""
    given = len(values) if indices is None else len(indices)
    if elements is None or given != elements[0]:
        wanted = "another interpolation" if elements is None else f"{elements[0]}"
        caveats.say(
            f"{_start(place)}: {given} values are given where {wanted} are needed; left out."
        )
        return None
    corner = elements[1] if indices is None else indices[elements[1]]
    if len(corner) and (corner.min() < -1 or corner.max() >= len(values)):
        caveats.say(
            f"{_start(place)}: indices beyond its {len(values)} values are taken as absent."
        )
        is_within = (corner >= 0) & (corner < len(values))
        corner = np.where(is_within, corner, np.int32(-1))
    return CornerValues(values, corner)


def _start(place: Place) -> str:
    return place.words[:1].upper() + place.words[1:]
