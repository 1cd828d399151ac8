"""Which format a file is in: from its first bytes, and from its suffix where they are silent."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

from evenweave.errors import FileProblem

SUFFIXES = {
    ".obj": "obj",
    ".gltf": "gltf",
    ".glb": "gltf",
    ".usd": "usd",
    ".usda": "usd",
    ".usdc": "usd",
    ".usdz": "usd",
    ".ply": "ply",
    ".dae": "collada",
}

_HEAD = 1 << 16
_OBJ_LINE = re.compile(rb"^[ \t]*(?:v|vt|vn|f)[ \t]+-?[0-9.]|^[ \t]*mtllib[ \t]", re.MULTILINE)


def format_of(path: Path) -> str:
    """Return "obj", "gltf", "usd", "ply" or "collada"; raises `FileProblem` for other files."""
    with path.open("rb") as file:
        head = file.read(_HEAD)
    by_suffix = SUFFIXES.get(path.suffix.lower())
    found = _by_content(head)
    if found is None and head.startswith(b"PK\x03\x04") and zipfile.is_zipfile(path):
        found = _in_archive(path)
    if found is not None:
        return found
    if by_suffix == "obj" and b"\0" in head and not head.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise FileProblem(path, "", "it is not text, as OBJ files are", _REMEDY)
    if by_suffix is None:
        raise FileProblem(path, "", "it is no mesh file of a known format", _REMEDY)
    return by_suffix


_REMEDY = "choose an OBJ, glTF, GLB, USD, PLY or COLLADA file"


def _by_content(head: bytes) -> str | None:
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if head.startswith(b"glTF"):
        return "gltf"
    if head.startswith((b"PXR-USDC", b"#usda")):
        return "usd"
    if re.match(rb"ply\s", head):
        return "ply"
    if text.startswith(b"<") and b"<COLLADA" in text:
        return "collada"
    if text.startswith(b"{") and b'"asset"' in text:
        return "gltf"
    return "obj" if b"\0" not in head and _OBJ_LINE.search(text) else None


def _in_archive(path: Path) -> str | None:
    """A USDZ package is a zip archive whose first member is a USD file."""
    with zipfile.ZipFile(path) as archive:
        names = archive.namelist()
    return "usd" if names and names[0].lower().endswith((".usd", ".usda", ".usdc")) else None
