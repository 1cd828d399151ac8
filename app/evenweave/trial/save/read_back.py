"""Read a copy with our own reader and compare it with what was meant to be written."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import FloatArray, IntArray
from evenweave.errors import FileProblem
from evenweave.mesh.asset import Asset
from evenweave.mesh.read import read
from evenweave.progress import Progress, silent
from evenweave.trial.uvs.asset_uvs import corner_values

TOLERANCE = 1e-6


def compare(path: Path, wanted: Asset, progress: Progress = silent) -> float:
    """Return the largest difference of a coordinate, in tiles; refuse a copy that is not right.

    Coordinates may differ by 1e-6, relative to their size where that is above 1; all else must
    be equal, corner by corner. The unit is not compared: it may have been given by hand.
    Raises FileProblem.
    """
    found = read(path, progress)
    difference = _first_difference(found, wanted)
    if difference:
        cause = f"the copy read back differs in {difference}, so it was not kept"
        raise FileProblem(wanted.path, "", cause, "report it together with this file")
    worst = 0.0
    for one, other in zip(found.uv_sets, wanted.uv_sets, strict=True):
        worst = max(worst, _worst(corner_values(one), corner_values(other), wanted.path))
    return worst


def _first_difference(asset: Asset, wanted: Asset) -> str:
    """Return in what the two differ, "" if in nothing."""
    words: tuple[tuple[str, object, object], ...] = (
        ("its format", asset.format, wanted.format),
        ("its up axis", asset.up_axis, wanted.up_axis),
        ("its parts", _parts_agree(asset, wanted), True),
        ("its materials", asset.material_names, wanted.material_names),
        ("its UV sets", _set_names(asset), _set_names(wanted)),
    )
    for what, told, meant in words:
        if told != meant:
            return what
    for what, pick in _ARRAYS:
        one, other = pick(asset), pick(wanted)
        if not np.array_equal(one, other, equal_nan=one.dtype.kind == "f"):
            return what
    for mine, theirs in zip(asset.uv_sets, wanted.uv_sets, strict=True):
        if not np.array_equal(mine.corner_uv < 0, theirs.corner_uv < 0):
            return "which corners have coordinates"
    return ""


def _set_names(asset: Asset) -> list[str]:
    return [one.name for one in asset.uv_sets]


def _parts_agree(asset: Asset, wanted: Asset) -> bool:
    """Compare parts by name, face by face; those without one are called like their file."""
    if len(asset.face_part) != len(wanted.face_part):
        return False
    pairs = np.unique(np.stack([asset.face_part, wanted.face_part], axis=1), axis=0)
    names = [(asset.part_names[a], wanted.part_names[b]) for a, b in pairs.tolist()]
    stems = asset.path.stem, wanted.path.stem
    return all(one == other or (one, other) == stems for one, other in names)


def _values(rows: FloatArray, corner: IntArray) -> FloatArray:
    """Return (C, 3) values of the corners, NaN where they have none."""
    value: FloatArray = np.vstack([rows, [[np.nan] * 3]])[corner]
    return value


_ARRAYS: tuple[tuple[str, Callable[[Asset], NDArray[Any]]], ...] = (
    ("its faces", lambda asset: asset.face_start),
    ("the materials of faces", lambda asset: asset.face_material),
    ("its smoothing groups", lambda asset: asset.face_smoothing),
    ("its positions", lambda asset: _values(asset.position, asset.corner_position)),
    ("its normals", lambda asset: _values(asset.normal, asset.corner_normal)),
)


def _worst(values: FloatArray, wanted: FloatArray, path: Path) -> float:
    """Return the largest difference; refuse one beyond what is tolerated."""
    is_same = (values == wanted) | (np.isnan(values) & np.isnan(wanted))
    with np.errstate(invalid="ignore"):
        difference = np.where(is_same, 0.0, np.abs(values - wanted))
        beyond = ~is_same & ~(difference <= TOLERANCE * np.maximum(1.0, np.abs(wanted)))
    if beyond.any():
        cause = "texture coordinates of the copy read back differ, so it was not kept"
        raise FileProblem(path, "", cause, "report it together with this file")
    return float(difference.max(initial=0.0))
