"""What the materials of an OBJ file show, from the material library (MTL) it names.

The statements and their options are those of the MTL format as published with OBJ; that -s
multiplies and -o adds to the coordinates is common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

from evenweave.mesh.images import image_beside
from evenweave.mesh.obj.asset import name_of
from evenweave.mesh.texturing import Slot, Textured, UvTransform, slot_words

_SLOTS = {
    "map_kd": "diffuse",
    "map_ka": "ambient",
    "map_ks": "specular",
    "map_ke": "emissive",
    "map_ns": "shininess",
    "map_d": "opacity",
    "map_pr": "roughness",
    "map_pm": "metallic",
    "map_bump": "bump",
    "bump": "bump",
    "norm": "normal",
    "map_norm": "normal",
    "disp": "displacement",
    "map_disp": "displacement",
    "decal": "decal",
}
_VALUES = {  # how many values an option takes; those of -s, -o and -t are numbers, 1 to 3
    "-blendu": 1,
    "-blendv": 1,
    "-bm": 1,
    "-boost": 1,
    "-cc": 1,
    "-clamp": 1,
    "-imfchan": 1,
    "-mm": 2,
    "-texres": 1,
    "-type": 1,
}
_MOST_BYTES = 64 << 20
_MOST_LIBRARIES = 64
_LONGEST_LINE = 4096


def libraries(path: Path, text: bytes) -> list[Path]:
    """Return the material libraries an OBJ file names, missing ones too, in their order.

    Absolute paths belong to another machine: the library is then looked for beside the mesh.
    """
    found: list[Path] = []
    place = text.find(b"mtllib")
    while place >= 0 and len(found) < _MOST_LIBRARIES:
        line_start = max(text.rfind(b"\n", 0, place), text.rfind(b"\r", 0, place)) + 1
        name = text[place + 6 : place + _LONGEST_LINE].split(b"\n", 1)[0]
        if not text[line_start:place].strip() and name[:1].isspace():
            plain = name_of(name).replace("\\", "/")
            is_absolute = plain.startswith("/") or plain[1:2] == ":"
            file = path.parent / (plain.rsplit("/", 1)[-1] if is_absolute else plain)
            if file not in found and _may_be_library(file):
                found.append(file)
        place = text.find(b"mtllib", place + 6)
    return found


def _may_be_library(file: Path) -> bool:
    """Whether it is a regular file, or not there: a pipe or a device might never end."""
    try:
        return file.is_file() or not file.exists()
    except (OSError, ValueError):
        return False


def textured_by(mesh: Path, files: list[Path]) -> tuple[Textured, ...]:
    """Return what the materials of some libraries show; missing libraries say nothing.

    A material that stands in several is taken from the first. Where a library was read, faces
    without material are known to show no texture.
    """
    found: dict[str, list[Slot]] = {}
    for file in files:
        lines = _lines(file)
        if lines:
            _read(mesh, file, lines, found)
    if not found:
        return ()
    found.setdefault("", [])
    return tuple(Textured(name, tuple(slots)) for name, slots in found.items())


def _lines(file: Path) -> list[bytes]:
    try:
        if not file.is_file() or file.stat().st_size > _MOST_BYTES:
            return []
        return file.read_bytes().replace(b"\\\n", b" ").splitlines()
    except (OSError, ValueError):
        return []


def _read(mesh: Path, library: Path, lines: list[bytes], slots: dict[str, list[Slot]]) -> None:
    current: list[Slot] | None = None
    for line in lines:
        word, rest = [*line.split(None, 1), b"", b""][:2]
        key = word.lower().decode("latin-1")
        if key == "newmtl":
            name = name_of(rest)
            current = None if name in slots else slots.setdefault(name, [])
        elif key in _SLOTS and current is not None:
            slot = _slot(_SLOTS[key], name_of(rest), library)
            if slot is not None:
                current.append(slot)


def _slot(kind: str, statement: str, library: Path) -> Slot | None:
    """Read "-o 0.5 0 -s 2 2 file name.png"; None where no file is named."""
    words = statement.split(" ")
    scale, offset = (1.0, 1.0), (0.0, 0.0)
    at = 0
    while at < len(words) and words[at].startswith("-"):
        option = words[at].lower()
        at += 1
        if option not in ("-s", "-o", "-t"):
            at += _VALUES.get(option, 0)
            continue
        values: list[float] = []
        while at < len(words) and len(values) < 3 and _is_number(words[at]):
            values.append(float(words[at]))
            at += 1
        if option == "-s" and values:
            scale = (values[0], values[1] if len(values) > 1 else 1.0)
        elif option == "-o" and values:
            offset = (values[0], values[1] if len(values) > 1 else 0.0)
    name = " ".join(words[at:])
    if not name:
        return None
    is_moved = scale != (1.0, 1.0) or offset != (0.0, 0.0)
    transform = UvTransform.of(scale, 0.0, offset) if is_moved else None
    return Slot(slot_words(kind), image_beside(library, name), "uv", transform)


def _is_number(word: str) -> bool:
    try:
        return float(word) - float(word) == 0.0
    except ValueError:
        return False
