"""Which meshes a command means: names, patterns that the shell left alone, folders."""

from __future__ import annotations

import glob
import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from evenweave.mesh.formats import SUFFIXES


def mesh_paths(named: Sequence[Path]) -> list[Path]:
    """Return the files meant, each once, in the order named; those of a folder sorted.

    A folder stands for the meshes in and below it. A pattern (`*`, `?`, `[a-z]`, `**` for any
    depth) stands for the files it fits; unless it ends in a suffix, only for meshes. What fits
    nothing is returned as it was named, so that it can be complained of.
    """
    found: dict[Path, None] = {}
    for path in named:
        found |= dict.fromkeys(_meant(path))
    return list(found)


def _meant(path: Path) -> list[Path]:
    if path.is_dir():
        return sorted(_walked(path)) or [path]
    if os.path.lexists(path) or not glob.has_magic(str(path)):
        return [path]
    fitting = (Path(name) for name in glob.iglob(str(path), recursive=True))
    wants_any = bool(path.suffix) and not glob.has_magic(path.suffix)
    meshes = [one for one in fitting if one.is_file() and (wants_any or _is_mesh(one))]
    return sorted(meshes) or [path]


def _walked(folder: Path) -> Iterator[Path]:
    for place, folders, files in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        yield from (
            Path(place, name) for name in files if not name.startswith(".") and _is_mesh(Path(name))
        )


def _is_mesh(path: Path) -> bool:
    return path.suffix.lower() in SUFFIXES
