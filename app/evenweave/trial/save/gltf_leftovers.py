"""Buffers' files that a copy brought, once another copy takes its place.

A copy gets buffers under names that no file has yet, so that it is whole or not there at all.
Each is marked in the copy with what was in it: only a file that is marked, has the copy's name,
is unchanged and is named by nothing else beside it may be taken away with the copy.
"""

from __future__ import annotations

import hashlib
import re
import struct
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote, unquote

from evenweave.errors import FileProblem
from evenweave.mesh.gltf.container import opened
from evenweave.mesh.gltf.fields import JsonObject
from evenweave.mesh.place import Place

MARK = "evenweave_sha256"
_MAGIC = b"glTF"


def mark(buffer: JsonObject, data: bytes) -> None:
    """Note in a buffer's description what the file written for it holds."""
    extras = buffer.get("extras", {})
    if isinstance(extras, dict):
        buffer["extras"] = {**extras, MARK: hashlib.sha256(data).hexdigest()}


def leftovers(target: Path, document: JsonObject) -> tuple[Path, ...]:
    """Return the files that go with the copy at `target` when `document` takes its place."""
    if not target.is_file():
        return ()
    try:
        before = opened(target.read_bytes(), Place(target)).document
    except (OSError, FileProblem):
        return ()
    kept = {buffer.get("uri") for buffer in document.get("buffers", [])}
    return tuple(
        path
        for path in _own(target, before)
        if quote(path.name) not in kept and not _is_named_elsewhere(path, target)
    )


def _own(target: Path, document: JsonObject) -> Iterator[Path]:
    """Yield the files that were written with a copy and have not been touched since."""
    name = re.compile(re.escape(target.stem) + r"(-\d+)?\.bin")
    buffers = document.get("buffers", [])
    for buffer in buffers if isinstance(buffers, list) else []:
        if not isinstance(buffer, dict) or not isinstance(buffer.get("extras"), dict):
            continue
        uri, digest = buffer.get("uri"), buffer["extras"].get(MARK)
        if not isinstance(uri, str) or not name.fullmatch(unquote(uri)):
            continue
        path = target.with_name(unquote(uri))
        if path.is_file() and not path.is_symlink() and _digest(path) == digest:
            yield path


def _digest(path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


def _is_named_elsewhere(path: Path, target: Path) -> bool:
    """Tell whether another glTF file in the folder may need the file; yes if one is unreadable."""
    names = (path.name.encode(), quote(path.name).encode())
    for other in path.parent.iterdir():
        if other.suffix.lower() not in (".gltf", ".glb") or other.name == target.name:
            continue
        try:
            text = _json_of(other)
        except OSError:
            return True
        if any(name in text for name in names):
            return True
    return False


def _json_of(path: Path) -> bytes:
    """Return the text of a glTF file; of a GLB file its first chunk."""
    with path.open("rb") as file:
        head = file.read(20)
        if head[:4] == _MAGIC and len(head) == 20:
            return file.read(struct.unpack_from("<I", head, 12)[0])
        return head + file.read()
