"""`Asset`: one corner model for every file format, exactly as the file says it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from evenweave.arrays import FloatArray, IntArray
from evenweave.mesh.texturing import Textured


@dataclass(frozen=True, eq=False)
class UvSet:
    """One set of texture coordinates.

    name : as in the file ("st", "TEXCOORD_1"); "uv" where the format has no name for it
    uv : (N, 2) float64, v runs up, in tile units (the tile 0-1 is 1 x 1)
    corner_uv : (C,) int32 index into `uv`; -1 where the corner has no coordinates
    """

    name: str
    uv: FloatArray
    corner_uv: IntArray


@dataclass(frozen=True)
class Unit:
    """Length of one file unit. `is_stated` tells whether the file says so or we assume it."""

    metres: float = 1.0
    is_stated: bool = False


@dataclass(frozen=True)
class Companion:
    """A file read along with the one that was opened: a buffer beside it, a layer it names.

    digest : SHA-256 of the file's bytes, in hexadecimal; "" where it is missing
    """

    path: Path
    digest: str = ""


@dataclass(frozen=True, eq=False)
class Asset:
    """A file's meshes: polygons stay polygons, parts without UVs stay parts.

    format : "obj", "gltf", "glb", "usd", "ply", "collada"
    position : (V, 3) float64, file units, node transforms applied
    face_start : (F + 1,) int32; face f has corners face_start[f] to face_start[f + 1], >= 3 each
    corner_position : (C,) int32 index into `position`
    corner_normal : (C,) int32 index into `normal`; -1 where absent
    normal : (N, 3) float64
    face_part, face_material : (F,) int32 index into the names
    face_smoothing : (F,) int32 smoothing group as the file numbers it; 0 off, -1 not stated
    uv_sets : may be empty
    up_axis : "y" or "z"
    caveats : sentences on what the reader met and could not carry over
    digest : SHA-256 of the opened file's bytes, in hexadecimal; companions have their own
    companions : other files that what is here comes from, those named but missing too
    textured : the materials whose textures the file states, by name; of others nothing is known

    A face without a material belongs to the material named "" (shown as "no material").
    Every array is read-only and every index is in range: readers guarantee it.
    """

    path: Path
    format: str
    unit: Unit
    up_axis: str
    position: FloatArray
    face_start: IntArray
    corner_position: IntArray
    normal: FloatArray
    corner_normal: IntArray
    face_part: IntArray
    part_names: tuple[str, ...]
    face_material: IntArray
    material_names: tuple[str, ...]
    face_smoothing: IntArray
    uv_sets: tuple[UvSet, ...]
    caveats: tuple[str, ...]
    digest: str
    companions: tuple[Companion, ...] = ()
    textured: tuple[Textured, ...] = ()

    @property
    def face_count(self) -> int:
        """Number of polygons."""
        return len(self.face_start) - 1
