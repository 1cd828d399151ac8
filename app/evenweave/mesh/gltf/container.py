"""A .gltf or .glb file's two contents: the JSON document and the binary chunk.

Source: Khronos, glTF 2.0 specification, "GLB File Format Specification".
"""

from __future__ import annotations

import json
import struct
from dataclasses import dataclass
from typing import Any

from evenweave.mesh.gltf.fields import JsonObject, inner, mapping, shown
from evenweave.mesh.place import Place

_MAGIC = b"glTF"
_JSON_CHUNK = 0x4E4F534A
_BINARY_CHUNK = 0x004E4942


@dataclass(frozen=True, eq=False)
class Container:
    """What a file holds: its format ("gltf" or "glb"), document and binary chunk."""

    format: str
    document: JsonObject
    binary: memoryview | None


def opened(data: bytes, place: Place) -> Container:
    """Return the contents of a file's bytes, or raise the problem that is in the way."""
    if data[:4] == _MAGIC:
        chunks = _chunks(memoryview(data), place)
        container = Container(
            "glb", _document(chunks[_JSON_CHUNK], place), chunks.get(_BINARY_CHUNK)
        )
    else:
        container = Container("gltf", _document(memoryview(data), place), None)
    _check_version(container.document, place)
    return container


def _chunks(data: memoryview, place: Place) -> dict[int, memoryview]:
    """Return the first chunk of each type. Chunks of unknown type are allowed and unused."""
    if len(data) < 12:
        raise place.problem("the file ends inside the GLB header")
    version, length = struct.unpack_from("<II", data, 4)
    if version != 2:
        raise place.problem(f"it is GLB version {version}", "export it as glTF 2.0")
    if length > len(data) or length < 12:
        raise place.problem(f"its header claims {length} bytes, but the file has {len(data)}")
    chunks: dict[int, memoryview] = {}
    offset = 12
    number = 0
    while offset + 8 <= length:
        size, kind = struct.unpack_from("<II", data, offset)
        offset += 8
        if offset + size > length:
            raise place.at(f"chunk {number}").problem(
                f"it claims {size} bytes, but {length - offset} are left"
            )
        if number == 0 and kind != _JSON_CHUNK:
            raise place.at("chunk 0").problem("the first chunk is not the JSON document")
        chunks.setdefault(kind, data[offset : offset + size])
        offset += size
        number += 1
    if _JSON_CHUNK not in chunks:
        raise place.problem("it has no JSON chunk")
    return chunks


def _document(data: memoryview, place: Place) -> JsonObject:
    try:
        # A byte order mark is not allowed, but RFC 8259 lets readers look past it.
        text = bytes(data).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise place.problem(f"its JSON is not UTF-8 at byte {error.start}") from None
    if not text.strip("\0 \t\r\n"):
        raise place.problem("its JSON document is empty")
    try:
        document = json.loads(text, parse_constant=_refused)
    except json.JSONDecodeError as error:
        at = place.at(f"line {error.lineno}, column {error.colno}")
        raise at.problem(f"it is not valid JSON ({error.msg})") from None
    except RecursionError:
        raise place.problem("its JSON is nested too deeply") from None
    except ValueError as error:
        raise place.problem(f"it is not valid JSON ({error})") from None
    return mapping(document, place)


def _refused(name: str) -> Any:
    raise ValueError(f"{name} is not a JSON number")


def _check_version(document: JsonObject, place: Place) -> None:
    version = inner(document, "asset", place).get("version")
    if version is None and "meshes" not in document and "asset" not in document:
        raise place.problem("it is JSON but not glTF", "open a mesh file")
    if version is not None and not str(version).startswith("2."):
        raise place.problem(f"it is glTF version {shown(version)}", "export it as glTF 2.0")
