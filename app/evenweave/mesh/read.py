"""The front door: one file of any format to an `Asset`, or one clear sentence.

The reader is chosen by what the file holds; its suffix decides only where the content is
silent. Readers are imported when a file asks for them.
"""

from __future__ import annotations

import stat
import textwrap
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from importlib import import_module
from pathlib import Path

from evenweave.errors import EvenweaveError, FileProblem
from evenweave.mesh.asset import Asset, Companion
from evenweave.mesh.companions import digest_of
from evenweave.mesh.formats import format_of
from evenweave.mesh.names import cleaned
from evenweave.mesh.validation import validated
from evenweave.progress import Progress, silent, within

_ACCESS = "check that you may read it"
_LIBRARIES = frozenset({"pxr", "Boost"})
_READERS = {
    "obj": "evenweave.mesh.obj.reader",
    "gltf": "evenweave.mesh.gltf.reader",
    "usd": "evenweave.mesh.usd.reader",
    "ply": "evenweave.mesh.ply.reader",
    "collada": "evenweave.mesh.collada.reader",
}


def read(path: Path, progress: Progress = silent) -> Asset:
    """Read a mesh file.

    Raises `FileProblem` on anything that cannot be used and lets `Cancelled` pass.
    The file is opened for reading only.
    """
    path = Path(path)
    _refuse_unreadable(path)
    reader = _reader(format_of(path))
    with ThreadPoolExecutor(1) as pool:
        digest = pool.submit(digest_of, path)
        found = _read_safely(reader, path, within(progress, 0.0, 0.95))
        digests = pool.map(digest_of, [one.path for one in found.companions])
        asset = validated(found)
        pairs = zip(found.companions, digests, strict=True)
        companions = tuple(Companion(one.path, known) for one, known in pairs)
        asset = replace(asset, digest=digest.result(), companions=companions)
    if not asset.digest:
        raise FileProblem(path, "", "it went away while it was read", "check its name and place")
    progress(1.0, "Reading")
    return asset


def _refuse_unreadable(path: Path) -> None:
    """Say what stands in the way of reading the file at all."""
    try:
        status = path.stat()
    except FileNotFoundError:
        raise FileProblem(path, "", "there is no such file", "check its name and place") from None
    except (OSError, ValueError) as problem:
        raise FileProblem(path, "", f"it cannot be reached ({_reason(problem)})", _ACCESS) from None
    if stat.S_ISDIR(status.st_mode):
        raise FileProblem(path, "", "it is a folder", "choose a mesh file inside it")
    if not stat.S_ISREG(status.st_mode):
        raise FileProblem(path, "", "it is a device or pipe, not a file", "choose a mesh file")
    if status.st_size == 0:
        raise FileProblem(path, "", "the file is empty (0 bytes)", "export the mesh again")
    try:
        with path.open("rb"):
            pass
    except OSError as problem:
        raise FileProblem(path, "", f"it cannot be opened ({_reason(problem)})", _ACCESS) from None


def _reason(problem: Exception) -> str:
    """Return an exception's words, short and in one line."""
    words = getattr(problem, "strerror", None) or str(problem) or type(problem).__name__
    return textwrap.shorten(cleaned(words), 120, placeholder=" …").rstrip(".").lower()


def _reader(name: str) -> Callable[[Path, Progress], Asset]:
    reader: Callable[[Path, Progress], Asset] = import_module(_READERS[name]).read
    return reader


def _read_safely(
    reader: Callable[[Path, Progress], Asset], path: Path, progress: Progress
) -> Asset:
    """Turn what goes wrong around a reader into sentences; its own bugs keep their traceback."""
    try:
        return reader(path, progress)
    except EvenweaveError:
        raise
    except MemoryError:
        cause = "reading it needs more memory than there is"
        raise FileProblem(path, "", cause, "export it in smaller pieces") from None
    except RecursionError:
        cause = "it is nested too deeply"
        raise FileProblem(path, "", cause, "export the mesh again without the hierarchy") from None
    except OSError as problem:
        cause = f"reading failed ({_reason(problem)})"
        raise FileProblem(path, "", cause, "check the disk and try again") from None
    except Exception as problem:
        if type(problem).__module__.partition(".")[0] not in _LIBRARIES:
            raise
        cause = f"it could not be read ({_reason(problem)})"
        raise FileProblem(path, "", cause, "export the mesh again") from None
