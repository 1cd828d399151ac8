"""The bytes a glTF document's buffers stand for: binary chunk, data URI or file beside it.

Source: Khronos, glTF 2.0 specification, "Buffers and Buffer Views".
"""

from __future__ import annotations

import binascii
import re
from pathlib import Path
from urllib.parse import unquote, unquote_to_bytes

import numpy as np
from numpy.typing import NDArray

from evenweave.mesh.gltf.fields import JsonObject, entry, integer, shown
from evenweave.mesh.place import Place

Bytes = NDArray[np.uint8]

_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:")


class Buffers:
    """Buffers by number, each loaded when first asked for.

    files : those beside the document that were read, in this order
    """

    def __init__(self, document: JsonObject, binary: memoryview | None, path: Path) -> None:
        self._document = document
        self._binary = binary
        self._place = Place(path)
        self._loaded: dict[int, Bytes] = {}
        self.files: list[Path] = []

    def __getitem__(self, index: int) -> Bytes:
        """Return a buffer's bytes: at most as many as it claims, fewer if it is cut short."""
        if index not in self._loaded:
            self._loaded[index] = self._load(index)
        return self._loaded[index]

    def has_data(self, index: int) -> bool:
        """Return whether a buffer names any data at all."""
        buffers = self._document.get("buffers")
        buffer = buffers[index] if isinstance(buffers, list) and index < len(buffers) else None
        has_uri = isinstance(buffer, dict) and "uri" in buffer
        return has_uri or (index == 0 and self._binary is not None)

    def _load(self, index: int) -> Bytes:
        buffer = entry(self._document, "buffers", index, self._place)
        place = self._place.at(f"buffer {index}")
        length = integer(buffer, "byteLength", place)
        uri = buffer.get("uri")
        if uri is None:
            if index != 0 or self._binary is None:
                raise place.problem("it names no data")
            data: bytes | memoryview = self._binary
        elif not isinstance(uri, str):
            raise place.problem(f"'uri' should be a text, not {shown(uri)}")
        elif uri[:5].lower() == "data:":
            data = _decoded(uri, place)
        else:
            file, data = _file_bytes(uri, length, place)
            self.files += [file] if file not in self.files else []
        return np.frombuffer(data, np.uint8)[:length]


def _decoded(uri: str, place: Place) -> bytes:
    """Return the bytes inside a data URI (RFC 2397), base64 or percent-encoded."""
    header, comma, body = uri[5:].partition(",")
    if not comma:
        raise place.problem("its data URI has no data")
    if not header.lower().endswith(";base64"):
        return unquote_to_bytes(body)
    encoded = unquote(body) if "%" in body else body
    try:
        return binascii.a2b_base64(encoded + "=" * (-len(encoded) % 4))
    except (binascii.Error, ValueError):
        raise place.problem("its data URI is not valid base64") from None


def _file_bytes(uri: str, length: int, place: Place) -> tuple[Path, bytes]:
    """Return a file named relative to the document's folder, and up to `length` bytes of it."""
    if _SCHEME.match(uri):
        raise place.problem(
            f"it lies at {shown(uri)}, and only files beside this one are read",
            "export it with its data embedded or beside it",
        )
    name = unquote(uri)
    if name.startswith(("/", "\\")):
        raise place.problem(
            f"it names the absolute path {shown(name)}, which belongs to another machine",
            "export it with relative paths",
        )
    for candidate in (name, uri):
        try:
            file = place.path.parent / candidate
            # Only regular files: a pipe or a device might never end.
            if file.is_file():
                with file.open("rb") as stream:
                    return file, stream.read(length)
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or "its name is not usable"
            raise place.problem(
                f"the file {shown(name)} cannot be read ({reason})", "check that file"
            ) from None
    raise place.problem(
        f"the file {shown(name)} is not there", "put it beside this file, or export it again"
    )
