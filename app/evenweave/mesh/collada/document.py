"""The XML of a COLLADA file: elements without namespaces, references, numbers, sources."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.mesh.place import Place
from evenweave.mesh.tokens.number_list import NotANumber, numbers


@dataclass(frozen=True, eq=False)
class Document:
    """A parsed file; `elements` by their id, the first of an id counts."""

    root: Element
    elements: dict[str, Element]
    place: Place

    def referred(self, url: str | None) -> Element | None:
        """Return the element that "#id" names; other files are never opened."""
        return self.elements.get(url[1:]) if url and url.startswith("#") else None


def document(path: Path, data: bytes) -> Document:
    """Parse the file; raises `FileProblem` where it is no well-formed COLLADA document.

    The parser opens no other file and expands no entity without bound.
    """
    place = Place(path)
    try:
        root = ElementTree.fromstring(data)
    except ElementTree.ParseError as problem:
        line, _ = problem.position
        reason = str(problem).split(":", 1)[0]
        raise place.at(f"line {line}").problem(f"it is not well-formed XML ({reason})") from None
    except (ValueError, LookupError):
        raise place.problem("its text encoding is not known") from None
    elements: dict[str, Element] = {}
    for element in root.iter():
        element.tag = element.tag.rpartition("}")[2]
        name = element.get("id")
        if name:
            elements.setdefault(name, element)
    if root.tag != "COLLADA":
        raise place.problem("it is an XML file but no COLLADA document", "choose a mesh file")
    return Document(root, elements, place)


def floats_of(element: Element | None, place: Place) -> FloatArray:
    """Return the numbers in an element's text, NaN for those that are not finite."""
    text = "" if element is None else element.text or ""
    try:
        return numbers(text.encode())
    except NotANumber as odd:
        raise place.problem(f"“{odd.word}” is not a number") from None


def whole_numbers_of(element: Element | None, place: Place) -> IntArray:
    """Return the whole numbers in an element's text."""
    values = floats_of(element, place)
    is_whole = (np.abs(values) < 2**31) & (values == np.floor(values))
    if not is_whole.all():
        raise place.problem(f"{values[~is_whole][0]} is not an index")
    return values.astype(np.int32)


def source_rows(source: Element, width: int, place: Place) -> FloatArray:
    """Return a source's (N, width) numbers through its accessor.

    An accessor's parameters without a name are to be skipped; where too few have one, the
    first numbers of each row count.
    """
    place = place.at(f"source '{source.get('id', '')}'")
    values = floats_of(source.find("float_array"), place)
    accessor = source.find("technique_common/accessor")
    stride, offset, columns = width, 0, list(range(width))
    if accessor is not None:
        stride = max(_whole(accessor, "stride", width, place), 1)
        offset = max(_whole(accessor, "offset", 0, place), 0)
        named = [k for k, have in enumerate(accessor.findall("param")) if have.get("name")]
        columns = named[:width] if len(named) >= width else columns
    if max(columns) >= stride:
        raise place.problem(f"it has {stride} numbers a row and needs {width}")
    rows = max(len(values) - offset, 0) // stride
    table = values[offset : offset + rows * stride].reshape(rows, stride)
    return np.ascontiguousarray(table[:, columns])


def _whole(element: Element, name: str, default: int, place: Place) -> int:
    text = element.get(name)
    if text is None:
        return default
    try:
        return int(text)
    except ValueError:
        raise place.problem(f"its {name} “{text[:40]}” is not a number") from None
