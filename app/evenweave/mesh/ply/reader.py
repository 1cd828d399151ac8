"""PLY to `Asset`.

Polygons and shared vertices stay as they are in the file. Texture coordinates may belong to
vertices (s t, u v, texture_u texture_v: each pair is a set of its own) or to the corners of
faces (a list `texcoord`); `texnumber` tells faces of several textures apart, and those become
materials. trimesh, the usual library, would cut polygons into triangles and split vertices,
so it serves as the reference in tests instead. PLY knows no unit: one metre is assumed.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray, frozen
from evenweave.errors import FileProblem
from evenweave.mesh.asset import Asset, Unit, UvSet
from evenweave.mesh.caveats import Caveats
from evenweave.mesh.ply.body import Column, rows
from evenweave.mesh.ply.header import Header, header
from evenweave.progress import Progress, silent

_INDEX_NAMES = ("vertex_indices", "vertex_index")
_PAIRS = (("s", "t"), ("u", "v"), ("texture_u", "texture_v"), ("texcoord_u", "texcoord_v"))
_AS_POLYGONS = "export the surface itself as polygons"

Columns = dict[str, Column]


def read(path: Path, progress: Progress = silent) -> Asset:
    """Read a PLY file, text or binary; raises `FileProblem` where it cannot be used."""
    data = path.read_bytes()
    head = header(path, data)
    progress(0.1, "Reading rows")
    found = rows(path, data, head)
    progress(0.8, "Gathering faces")
    vertex, face = found.get("vertex", {}), found.get("face", {})
    caveats = Caveats()
    position = _positions(path, vertex)
    corners = _corners(path, head, face)
    _refuse_odd_indices(path, corners, len(position))
    is_kept = corners.lengths >= 3
    caveats.count("Faces with fewer than three corners were left out", int((~is_kept).sum()))
    if not is_kept.any():
        raise FileProblem(path, "", "none of its faces has three corners", _AS_POLYGONS)
    is_corner_kept = np.repeat(is_kept, corners.lengths)
    face_size = corners.lengths[is_kept]
    corner_position = frozen(corners.values[is_corner_kept].astype(np.int32))
    absent = frozen(np.full_like(corner_position, -1))
    normal = _joined(vertex, ("nx", "ny", "nz"))
    face_material, material_names = _materials(head, face, is_kept)
    of_faces = _face_uv_set(face, corners, is_kept, caveats)
    return Asset(
        path=path,
        format="ply",
        unit=Unit(),
        up_axis="y",
        position=frozen(position),
        face_start=frozen(np.concatenate(([0], np.cumsum(face_size))).astype(np.int32)),
        corner_position=corner_position,
        normal=frozen(np.empty((0, 3)) if normal is None else normal),
        corner_normal=absent if normal is None else corner_position,
        face_part=frozen(np.zeros(len(face_size), np.int32)),
        part_names=(path.stem,),
        face_material=frozen(face_material),
        material_names=material_names,
        face_smoothing=frozen(np.full(len(face_size), -1, np.int32)),
        uv_sets=(*of_faces, *_vertex_uv_sets(vertex, corner_position)),
        caveats=caveats.sentences(),
        digest="",
    )


def _joined(columns: Columns, names: tuple[str, ...]) -> FloatArray | None:
    """Return scalar properties side by side, None if one is missing."""
    if not all(name in columns for name in names):
        return None
    values = [columns[name].values for name in names]
    if len({len(column) for column in values}) != 1:
        return None
    return np.stack(values, axis=1).astype(np.float64)


def _positions(path: Path, vertex: Columns) -> FloatArray:
    position = _joined(vertex, ("x", "y", "z"))
    if position is None:
        raise FileProblem(path, "", "it has no vertices with x, y and z", "export the mesh again")
    return position


def _corners(path: Path, head: Header, face: Columns) -> Column:
    """Return the list of corners: by its name, or the only list there is."""
    element = head.element("face")
    lists = [have.name for have in element.properties if have.count_type] if element else []
    named = [name for name in _INDEX_NAMES if name in lists] or lists[: len(lists) == 1]
    if named and len(face[named[0]].lengths):
        return face[named[0]]
    vertices = head.element("vertex")
    has = "it has no faces"
    if head.element("tristrips"):
        has = "its faces are stored as strips"
    elif vertices and vertices.count:
        has = f"it has {vertices.count:,} points but no faces"
    raise FileProblem(path, "", has, _AS_POLYGONS)


def _refuse_odd_indices(path: Path, corners: Column, count: int) -> None:
    values = corners.values
    is_odd = (values < 0) | (values >= count) | (values != np.floor(values))
    if not is_odd.any():
        return
    first = int(np.argmax(is_odd))
    face = int(np.searchsorted(np.cumsum(corners.lengths), first, side="right"))
    value = float(values[first])
    shown = f"{int(value):,}" if value.is_integer() else f"{value:g}"
    cause = f"face uses vertex {shown} but only 0 to {count - 1:,} are defined"
    raise FileProblem(path, f"face {face + 1:,}", cause, "export the mesh again")


def _materials(head: Header, face: Columns, is_kept: BoolArray) -> tuple[IntArray, tuple[str, ...]]:
    """Return the textures as materials where the faces say which texture they have."""
    if "texnumber" not in face or len(face["texnumber"].values) != len(is_kept):
        return np.zeros(int(is_kept.sum()), np.int32), ("",)
    numbers = face["texnumber"].values[is_kept].astype(np.int64)
    used, of_face = np.unique(numbers, return_inverse=True)
    files = head.texture_files
    names = tuple(files[k] if 0 <= k < len(files) else f"texture {k}" for k in used.tolist())
    return of_face.astype(np.int32), names


def _face_uv_set(
    face: Columns, corners: Column, is_kept: BoolArray, caveats: Caveats
) -> Iterator[UvSet]:
    """Two numbers for each corner, in a list of each face."""
    texcoord = face.get("texcoord")
    if texcoord is None or not texcoord.lengths.any():
        return
    has_uv = texcoord.lengths == 2 * corners.lengths
    odd = int((is_kept & ~has_uv & (texcoord.lengths > 0)).sum())
    caveats.count("Faces whose texture coordinates do not match their corners have none", odd)
    is_used = is_kept & has_uv
    uv = texcoord.values[np.repeat(is_used, texcoord.lengths)].astype(np.float64).reshape(-1, 2)
    corner_uv = np.full(int(corners.lengths[is_kept].sum()), -1, np.int32)
    corner_uv[np.repeat(has_uv[is_kept], corners.lengths[is_kept])] = np.arange(len(uv))
    yield UvSet("texcoord", frozen(uv), frozen(corner_uv))


def _vertex_uv_sets(vertex: Columns, corner_position: IntArray) -> Iterator[UvSet]:
    """Two numbers for each vertex, under one of the pairs of names in use."""
    for pair in _PAIRS:
        uv = _joined(vertex, pair)
        if uv is not None:
            yield UvSet(" ".join(pair), frozen(uv), corner_position)
