"""Signs that a file at rest is only half of what its writer means to write.

Most formats tell by themselves that something is missing: GLB, PLY and binary USD count their
bytes or rows, JSON, XML and USD text close what they open, and a reader refuses the rest. An OBJ
cut between two lines is a sound file with fewer faces, and its writer may pause for longer than
anybody wants to wait after every export. Three signs, each sufficient, except where a file was
moved to its place when it was whole, as careful writers do:

* a process holds the file open for writing; sure, but told by Linux alone, for one's own processes;
* fewer faces than in the pass before: edits of a layout take no faces away, a cut always does;
* no end of the last line where the pass before had one: writers hand on blocks, not lines.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

from evenweave.mesh.asset import Asset

_PROCESSES = "/proc"


def is_open_for_writing(path: Path) -> bool:
    """Tell whether a process is known to hold a file open for writing; elsewhere, no."""
    name = os.path.realpath(path)
    return any(target == name and _writes(handle) for handle, target in _open_files())


def _open_files() -> Iterator[tuple[str, str]]:
    """Yield `/proc/<process>/fd/<number>` and what it leads to, as far as one may look."""
    for process in _listed(_PROCESSES):
        if process.isdigit():
            folder = f"{_PROCESSES}/{process}/fd"
            for number in _listed(folder):
                try:
                    yield f"{folder}/{number}", os.readlink(f"{folder}/{number}")
                except OSError:
                    continue


def _listed(folder: str) -> list[str]:
    try:
        return os.listdir(folder)
    except OSError:
        return []


def _writes(handle: str) -> bool:
    """Tell whether a handle may be written to, which the link's own permissions say."""
    try:
        return bool(os.lstat(handle).st_mode & stat.S_IWUSR)
    except OSError:
        return False


def was_moved_in(path: Path) -> bool:
    """Tell whether a file is known to have been renamed after its last byte was written.

    Renaming changes the time of its status alone, writing that of its contents with it. Windows
    keeps the time of its making there instead.
    """
    try:
        status = path.stat()
    except OSError:
        return False
    return os.name == "posix" and status.st_ctime_ns > status.st_mtime_ns


def ends_in_a_line(path: Path) -> bool:
    """Tell whether the last line of a text has an end."""
    try:
        with path.open("rb") as file:
            file.seek(-1, os.SEEK_END)
            return file.read(1) in b"\r\n"
    except OSError:
        return False


def is_less(before: Asset, after: Asset) -> bool:
    """Tell whether there is less in a pass than in the one before."""
    return after.face_count < before.face_count
