"""`Assembly`: faces gathered piece by piece and joined into one `Asset`.

Letters: F faces, C corners of a piece; V, N, U rows of positions, normals, uv points.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.mesh.asset import Asset, Unit, UvSet
from evenweave.mesh.place import Place

_FREE_BYTES = 1 << 30
_BYTES_PER_FILE_BYTE = 32


@dataclass(frozen=True, eq=False)
class Faces:
    """Faces of one part.

    materials : the names of the materials in use
    face_material : (F,) int32 index into `materials`; None where all have the first
    face_size : (F,) int32 corners of each face, all >= 3; None where all are triangles
    corner_position : (C,) int32 row of the assembly's positions
    corner_normal : (C,) int32 row of the assembly's normals, -1 absent; None without normals
    corner_uv : per UV set (C,) int32 row of the assembly's uv points of that set, -1 absent
    """

    part: str
    materials: tuple[str, ...]
    face_material: IntArray | None
    face_size: IntArray | None
    corner_position: IntArray
    corner_normal: IntArray | None
    corner_uv: dict[str, IntArray]

    @property
    def face_count(self) -> int:
        """Number of faces."""
        return len(self.corner_position) // 3 if self.face_size is None else len(self.face_size)


@dataclass
class _Pool:
    """Rows of one kind, gathered array by array."""

    width: int
    rows: int = 0
    arrays: list[FloatArray] = field(default_factory=list)

    def joined(self) -> FloatArray:
        if len(self.arrays) == 1:
            return frozen(self.arrays[0])
        return frozen(np.concatenate([np.empty((0, self.width)), *self.arrays]))


class Assembly:
    """What a reader has gathered of a file.

    A small file can name the same data very often. What is gathered is held to a
    multiple of the file's size, beyond a free gigabyte, so that memory stays bounded.
    """

    def __init__(self, path: Path, file_bytes: int) -> None:
        self._place = Place(path)
        self._bytes_left = _FREE_BYTES + _BYTES_PER_FILE_BYTE * file_bytes
        self._position = _Pool(3)
        self._normal = _Pool(3)
        self._uv: dict[str, _Pool] = {}
        self._faces: list[Faces] = []

    def add_position(self, position: FloatArray) -> int:
        """Take (V, 3) positions in file units; return the row the first of them gets."""
        return self._pooled(self._position, position)

    def add_normal(self, normal: FloatArray) -> int:
        """Take (N, 3) normals; return the row the first of them gets."""
        return self._pooled(self._normal, normal)

    def add_uv(self, uv_set: str, uv: FloatArray) -> int:
        """Take (U, 2) uv points of a set, v up; return the row the first of them gets."""
        return self._pooled(self._uv.setdefault(uv_set, _Pool(2)), uv)

    def add_faces(self, faces: Faces) -> None:
        """Take faces whose corners name rows handed out before."""
        if faces.face_count:
            self._reserve(faces.corner_position.nbytes * (2 + len(faces.corner_uv)))
            self._faces.append(faces)

    @property
    def has_faces(self) -> bool:
        """Whether any face has been taken."""
        return bool(self._faces)

    def _reserve(self, byte_count: int) -> None:
        if byte_count > self._bytes_left:
            self._refuse()
        self._bytes_left -= byte_count

    def _refuse(self) -> None:
        raise self._place.problem(
            "its instances repeat the same data until it no longer fits in memory",
            "export fewer instances, or split the file",
        )

    def _pooled(self, pool: _Pool, array: FloatArray) -> int:
        self._reserve(array.nbytes)
        start = pool.rows
        pool.arrays.append(array)
        pool.rows += len(array)
        if pool.rows > np.iinfo(np.int32).max:
            self._refuse()
        return start

    def finish(
        self,
        *,
        format: str,
        unit: Unit,
        up_axis: str,
        uv_sets: tuple[str, ...],
        caveats: tuple[str, ...],
    ) -> Asset:
        """Return all that was gathered; `uv_sets` gives the order of the sets.

        The digest is left to the front door, which has the file's bytes.
        """
        counts = [faces.face_count for faces in self._faces]
        part_names, part_of_piece = _numbered([faces.part for faces in self._faces])
        material_names, face_material = self._materials()
        return Asset(
            path=self._place.path,
            format=format,
            unit=unit,
            up_axis=up_axis,
            position=self._position.joined(),
            face_start=self._face_start(),
            corner_position=self._joined([faces.corner_position for faces in self._faces]),
            normal=self._normal.joined(),
            corner_normal=self._joined([_or_absent(f.corner_normal, f) for f in self._faces]),
            face_part=frozen(np.repeat(part_of_piece, counts)),
            part_names=part_names,
            face_material=face_material,
            material_names=material_names,
            face_smoothing=frozen(np.full(sum(counts), -1, np.int32)),
            uv_sets=tuple(self._uv_set(name) for name in uv_sets if name in self._uv),
            caveats=caveats,
            digest="",
        )

    def _uv_set(self, name: str) -> UvSet:
        corners = [_or_absent(faces.corner_uv.get(name), faces) for faces in self._faces]
        return UvSet(name=name, uv=self._uv[name].joined(), corner_uv=self._joined(corners))

    def _materials(self) -> tuple[tuple[str, ...], IntArray]:
        """Return the materials in order of first mention, and each face's index into them."""
        mentions = [name for faces in self._faces for name in faces.materials]
        names, number_of_mention = _numbered(mentions)
        numbers = []
        mentioned = 0
        for faces in self._faces:
            of_piece = number_of_mention[mentioned : mentioned + len(faces.materials)]
            mentioned += len(faces.materials)
            if faces.face_material is None:
                numbers.append(np.full(faces.face_count, of_piece[0], np.int32))
            else:
                numbers.append(of_piece[faces.face_material])
        return names, self._joined(numbers)

    def _face_start(self) -> IntArray:
        if all(faces.face_size is None for faces in self._faces):
            corner_count = sum(len(faces.corner_position) for faces in self._faces)
            return frozen(np.arange(0, corner_count + 1, 3, dtype=np.int32))
        sizes = [
            np.full(f.face_count, 3, np.int32) if f.face_size is None else f.face_size
            for f in self._faces
        ]
        start = np.zeros(sum(map(len, sizes)) + 1, np.int32)
        np.cumsum(np.concatenate(sizes), out=start[1:])
        return frozen(start)

    @staticmethod
    def _joined(arrays: list[IntArray]) -> IntArray:
        if len(arrays) == 1:
            return frozen(arrays[0])
        return frozen(np.concatenate([np.empty(0, np.int32), *arrays]))


def _numbered(labels: list[str]) -> tuple[tuple[str, ...], IntArray]:
    """Return the distinct labels in order of first mention, and each label's number."""
    number = {label: index for index, label in enumerate(dict.fromkeys(labels))}
    return tuple(number), np.array([number[label] for label in labels], np.int32)


def _or_absent(corners: IntArray | None, faces: Faces) -> IntArray:
    return np.full(len(faces.corner_position), -1, np.int32) if corners is None else corners


def reversing(face_start: IntArray) -> NDArray[Any]:
    """Return the order of corners that turns every face over, its first corner kept.

    face_start : (F + 1,) starts of the faces' corners
    """
    size = np.diff(face_start)
    corner = np.arange(face_start[-1])
    first = np.repeat(face_start[:-1], size)
    within = corner - first
    return first + np.where(within == 0, 0, np.repeat(size, size) - within)


def carried(points: FloatArray, matrix: FloatArray) -> FloatArray:
    """Return (V, 3) points carried by a (4, 4) matrix that acts on columns."""
    if np.array_equal(matrix, np.eye(4)):
        return points
    with np.errstate(all="ignore"):
        return np.asarray(points @ matrix[:3, :3].T + matrix[:3, 3])


def carried_normals(normals: FloatArray, matrix: FloatArray) -> FloatArray:
    """Return (N, 3) normals carried by the inverse transpose of a (4, 4) matrix, unit length.

    The cofactors stand in for the inverse, so that a flattening matrix does no harm.
    Under the identity the normals stay as the file has them.
    """
    if np.array_equal(matrix[:3, :3], np.eye(3)):
        return normals
    a, b, c = matrix[:3, :3]
    with np.errstate(all="ignore"):
        cofactors = np.array([np.cross(b, c), np.cross(c, a), np.cross(a, b)])
        turned = normals @ (cofactors.T * (-1.0 if is_mirroring(matrix) else 1.0))
        length = np.linalg.norm(turned, axis=1, keepdims=True)
        return np.asarray(turned / np.where(length > 0, length, 1.0))


def is_mirroring(matrix: FloatArray) -> bool:
    """Return whether a (4, 4) matrix turns left into right."""
    with np.errstate(all="ignore"):
        return bool(np.linalg.det(matrix[:3, :3]) < 0)
