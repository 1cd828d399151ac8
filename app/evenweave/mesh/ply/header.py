"""The header of a PLY file: which elements follow, how many, of which properties.

Follows Greg Turk's description, "The PLY Polygon File Format" (1994), with the type names
that came later (int8 ... float64). The header is checked against the file's size, so that a
claim of more than the file can hold is refused before anything is set aside for it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from evenweave.errors import FileProblem
from evenweave.mesh.names import cleaned

_TYPES = {
    "char": "i1", "uchar": "u1", "short": "i2", "ushort": "u2", "int": "i4", "uint": "u4",
    "float": "f4", "double": "f8", "int8": "i1", "uint8": "u1", "int16": "i2", "uint16": "u2",
    "int32": "i4", "uint32": "u4", "float32": "f4", "float64": "f8", "int64": "i8",
    "uint64": "u8",
}  # fmt: skip
_ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
_LONGEST = 1 << 20  # bytes of a header
_LINE_END = re.compile(rb"\r\n|\n|\r")
_AGAIN = "export the mesh again"


@dataclass(frozen=True)
class Property:
    """One property; types are numpy's without byte order; `count_type` is "" for a scalar."""

    name: str
    type: str
    count_type: str

    @property
    def least_bytes(self) -> int:
        """The least a value takes in a binary file: an empty list is its count alone."""
        return int((self.count_type or self.type)[1:])


@dataclass(frozen=True)
class Element:
    """So many rows of the same properties."""

    name: str
    count: int
    properties: tuple[Property, ...]


@dataclass(frozen=True)
class Header:
    """byte_order : "<", ">" or "" for text; start : the body's first byte."""

    byte_order: str
    elements: tuple[Element, ...]
    texture_files: tuple[str, ...]
    start: int

    def element(self, name: str) -> Element | None:
        """Return the element of that name."""
        return next((element for element in self.elements if element.name == name), None)


def header(path: Path, data: bytes) -> Header:
    """Read the header; raises `FileProblem` if it is none or claims more than the file holds."""
    lines, start = _lines(path, data)
    order = ""
    elements: list[tuple[str, int, list[Property]]] = []
    textures = []
    for number, line in enumerate(lines, 1):
        words = line.split()
        place = f"line {number}"
        if not words or words[0] in ("ply", "obj_info"):
            continue
        if words[0] == "comment":
            if words[1:2] and words[1].lower() == "texturefile":
                textures.append(cleaned(" ".join(words[2:])))
        elif words[0] == "format" and len(words) > 1 and words[1] in _ORDERS:
            order = _ORDERS[words[1]]
        elif words[0] == "element" and len(words) == 3 and words[2].isdecimal():
            elements.append((words[1], int(words[2]), []))
        elif words[0] == "property" and elements:
            elements[-1][2].append(_property(path, place, words))
        else:
            cause = f"the header line “{cleaned(line[:40])}” means nothing"
            raise FileProblem(path, place, cause, _AGAIN)
    found = tuple(Element(name, count, tuple(have)) for name, count, have in elements)
    _refuse_empty_claims(path, found, (order, len(data) - start))
    return Header(order, found, tuple(textures), start)


def _lines(path: Path, data: bytes) -> tuple[list[str], int]:
    """Return the header's lines and where the body begins; the first line shows how lines end."""
    end = _LINE_END.search(data, 0, _LONGEST)
    ending = end.group() if end else b"\n"
    place = data.find(b"end_header", 0, _LONGEST)
    if not data.startswith(b"ply") or place < 0:
        raise FileProblem(path, "", "its PLY header has no end", _AGAIN)
    start = data.find(ending, place)
    text = data[:place].decode("latin-1")
    return text.split(ending.decode()), start + len(ending) if start >= 0 else len(data)


def _property(path: Path, place: str, words: list[str]) -> Property:
    types = [_TYPES.get(word) for word in words[1:-1] if word != "list"]
    is_list = words[1:2] == ["list"]
    if None in types or len(types) != 1 + is_list or len(words) != 3 + 2 * is_list:
        cause = f"the property “{cleaned(' '.join(words[1:]))[:40]}” is of no known type"
        raise FileProblem(path, place, cause, _AGAIN)
    known = [str(name) for name in types]
    if is_list and known[0].startswith("f"):
        cause = f"the list “{cleaned(words[-1])[:40]}” is counted in fractions"
        raise FileProblem(path, place, cause, _AGAIN)
    return Property(words[-1], known[-1], known[0] if is_list else "")


def _refuse_empty_claims(path: Path, elements: tuple[Element, ...], body: tuple[str, int]) -> None:
    """Refuse a header that promises more rows than fit in the rest of the file."""
    order, left = body
    for element in elements:
        # A value in text is a digit and a blank at least; the last blank may be missing.
        sizes = (have.least_bytes if order else 2 for have in element.properties)
        row = sum(sizes)
        if (row == 0 and element.count > 0) or row * element.count > left + 1:
            cause = (
                f"its header promises {element.count:,} rows of “{cleaned(element.name)[:40]}”,"
                " more than the file can hold"
            )
            raise FileProblem(path, "", cause, _AGAIN)
        left -= row * element.count
