"""A copy of a USD file: a new layer with other texture coordinates over the original.

The original is a sublayer of the copy and stays untouched; the copy holds nothing but the
primvars that changed, and the stage's own metadata, which USD takes from the uppermost layer.
Source: OpenUSD documentation, "LIVRPS strength ordering", UsdGeomPrimvar.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import BoolArray, FloatArray
from evenweave.errors import FileProblem
from evenweave.mesh.assembly import Assembly
from evenweave.mesh.asset import Asset
from evenweave.mesh.caveats import Caveats
from evenweave.mesh.place import Place
from evenweave.mesh.usd.meshes import Meshes
from evenweave.mesh.usd.primvars import Elements, UvPrimvar, uv_primvars
from evenweave.mesh.usd.values import whole_numbers
from evenweave.trial.save.copy import Copy
from evenweave.trial.uvs.asset_uvs import corner_values

_OF_LAYER = frozenset({"subLayers", "subLayerOffsets", "primChildren"})
# Types of coordinates and what they are written as: halves could not hold what was tried.
_WRITTEN = {
    "texCoord2f[]": "texCoord2f[]",
    "texCoord2d[]": "texCoord2d[]",
    "texCoord2h[]": "texCoord2f[]",
    "float2[]": "float2[]",
    "double2[]": "double2[]",
    "half2[]": "float2[]",
}
_MEMORY = 1 << 30


def copied(original: Asset, changed: Asset, data: bytes, target: Path) -> Copy:
    """Return the new layer's bytes. `data`, the original's bytes, stays where it is."""
    from pxr import Sdf, Tf, Usd

    place = Place(original.path)
    try:
        stage = Usd.Stage.Open(str(original.path.absolute()), Usd.Stage.LoadAll)
        layer = Sdf.Layer.CreateAnonymous(".usda")
        _copy_metadata(stage.GetRootLayer(), layer)
        layer.subLayerPaths.append(_relative(original.path, target))
        caveats = [
            f"The copy is a layer over {original.path.name} and needs that file in its place."
        ]
        for one in _changed_meshes(stage, original, changed, len(data)):
            caveats += one.write(layer, place.at(f"mesh '{one.prim.GetPath()}'"))
        return Copy(_exported(layer, target), (), tuple(dict.fromkeys(caveats)))
    except Tf.ErrorException as error:
        reason = str(error.args[0] if error.args else error).splitlines()[0][:160]
        raise place.problem(f"no copy could be made ({reason})") from None


@dataclass(frozen=True, eq=False)
class _Mesh:
    """A mesh of which coordinates change.

    kept : (C,) the file's corner behind each of its corners in the asset
    uv : per changed set (C, 2) new coordinates, and (C,) bool which of them change
    """

    prim: Any
    kept: NDArray[Any]
    uv: dict[str, tuple[FloatArray, BoolArray]]

    def write(self, layer: Any, place: Place) -> list[str]:
        """Put the changed primvars into the layer; return remarks."""
        if self.prim.IsInstanceProxy():
            cause = "it is shown through an instance, which shares its coordinates with others"
            raise place.problem(cause, "export it without instancing")
        caveats = []
        for primvar in uv_primvars(self.prim):
            if primvar.name in self.uv:
                uv, is_changed = self.uv[primvar.name]
                corner_uv, is_absent = self._corner_uv(primvar, place)
                corner_uv[self.kept[is_changed]] = uv[is_changed]
                own = place.at(primvar.name)
                _author(layer, self.prim.GetPath(), primvar, (corner_uv, is_absent), place=own)
                if primvar.primvar.ValueMightBeTimeVarying():
                    caveats.append("Coordinates that moved in time stand still in the copy.")
        return caveats

    def _corner_uv(self, primvar: UvPrimvar, place: Place) -> tuple[FloatArray, BoolArray]:
        """Return (C, 2) what all of the file's corners have now; (C,) bool which have nothing."""
        from pxr import UsdGeom

        mesh = UsdGeom.Mesh(self.prim)
        size = whole_numbers(mesh.GetFaceVertexCountsAttr(), place)
        vertex = whole_numbers(mesh.GetFaceVertexIndicesAttr(), place)
        points = mesh.GetPointsAttr().Get(_earliest())
        if size is None or vertex is None or points is None:
            raise RuntimeError("a mesh that was read has lost its faces")
        elements = Elements(point_count=len(points), face_size=size, corner_vertex=vertex)
        found = primvar.read(elements, Caveats(), place)
        if found is None:
            raise RuntimeError("a primvar that was read cannot be read again")
        corner_uv: FloatArray = np.vstack([found.values, [[np.nan, np.nan]]])[found.corner]
        return corner_uv, found.corner < 0


def _author(
    layer: Any,
    path: Any,
    primvar: UvPrimvar,
    corners: tuple[FloatArray, BoolArray],
    *,
    place: Place,
) -> None:
    """Write a primvar, a value for each corner of a face, equal ones once.

    corners : (C, 2) the values, and (C,) bool which corners have none
    """
    from pxr import Sdf, Vt

    name = str(primvar.primvar.GetTypeName())
    if name not in _WRITTEN:
        cause = f"it has the type {name}, of which no copy can be made"
        raise place.problem(cause, "export it with two numbers a coordinate")
    corner_uv, is_absent = corners
    value, row = np.unique(corner_uv[~is_absent], axis=0, return_inverse=True)
    # What is absent is told by one more value, to which the corners without one point.
    index = np.full(len(corner_uv), len(value), np.int32)
    index[~is_absent] = row.reshape(-1)
    if is_absent.any():
        value = np.vstack([value, [[0.0, 0.0]]])
    kind = _WRITTEN[name]
    is_double = kind in ("double2[]", "texCoord2d[]")
    array = (Vt.Vec2dArray if is_double else Vt.Vec2fArray).FromNumpy(
        value.astype(np.float64 if is_double else np.float32)
    )
    prim = Sdf.CreatePrimInLayer(layer, path)
    full_name = primvar.primvar.GetName()
    attribute = Sdf.AttributeSpec(prim, full_name, Sdf.ValueTypeNames.Find(kind))
    attribute.default = array
    attribute.SetInfo("interpolation", "faceVarying")
    indices = Sdf.AttributeSpec(prim, f"{full_name}:indices", Sdf.ValueTypeNames.IntArray)
    indices.default = Vt.IntArray.FromNumpy(index)
    if is_absent.any() or primvar.primvar.GetUnauthoredValuesIndex() >= 0:
        last = len(value) - 1 if is_absent.any() else -1
        attribute.SetInfo("unauthoredValuesIndex", last)


def _earliest() -> Any:
    from pxr import Usd

    return Usd.TimeCode.EarliestTime()


def _copy_metadata(old: Any, new: Any) -> None:
    """Copy what only a root layer can say: units, up axis, default prim, times."""
    source, copy = old.pseudoRoot, new.pseudoRoot
    for key in source.ListInfoKeys():
        if key not in _OF_LAYER:
            copy.SetInfo(key, source.GetInfo(key))


def _relative(path: Path, target: Path) -> str:
    here, there = (os.path.realpath(one.parent) for one in (path, target))
    try:
        relative = Path(os.path.relpath(here, there)) / path.name
    except ValueError:  # on another drive
        return Path(here, path.name).as_posix()
    text = relative.as_posix()
    return text if text.startswith("../") else f"./{text}"


def _changed_meshes(
    stage: Any, original: Asset, changed: Asset, byte_count: int
) -> Iterator[_Mesh]:
    """Find the asset's corners again, mesh by mesh, as the reader gathers them."""
    from pxr import Usd, UsdGeom

    meshes = Meshes(Assembly(original.path, byte_count + _MEMORY), Caveats())
    prims = Usd.PrimRange.Stage(stage, Usd.TraverseInstanceProxies(Usd.PrimDefaultPredicate))
    for prim in prims:
        if prim.IsA(UsdGeom.Mesh):
            meshes.add(UsdGeom.Mesh(prim), Place(original.path))
    ends = np.cumsum([len(kept) for kept in meshes.kept_corner.values()])
    if not len(ends) or ends[-1] != len(original.corner_position):
        raise RuntimeError("the file's corners were found otherwise than they were read")
    moved = {}
    for old, new in zip(original.uv_sets, changed.uv_sets, strict=True):
        if old is not new:
            before, after = corner_values(old), corner_values(new)
            moved[old.name] = after, ~((before == after) | np.isnan(after)).all(axis=1)
    for (path, kept), end in zip(meshes.kept_corner.items(), ends.tolist(), strict=True):
        own = slice(end - len(kept), end)
        uv = {name: (new[own], which[own]) for name, (new, which) in moved.items()}
        uv = {name: (new, which) for name, (new, which) in uv.items() if which.any()}
        if uv:
            yield _Mesh(stage.GetPrimAtPath(path), kept, uv)


def _exported(layer: Any, target: Path) -> bytes:
    """Return the layer's bytes, as text for .usda and binary for the others."""
    if target.suffix.lower() == ".usda":
        return str(layer.ExportToString()).encode("utf-8")
    draft = target.with_name(f".evenweave-{secrets.token_hex(8)}{target.suffix}")
    try:
        if not layer.Export(str(draft)):
            raise FileProblem(target, "", "it cannot be written", "choose another place")
        return draft.read_bytes()
    finally:
        draft.unlink(missing_ok=True)
