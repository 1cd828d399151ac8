"""The bytes of a changed glTF: patched buffers, appended data, and the document again.

Source: Khronos, glTF 2.0 specification, "GLB File Format Specification", "Accessors".
"""

from __future__ import annotations

import base64
import copy
import json
import os
import re
import struct
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

import numpy as np
from numpy.typing import NDArray

from evenweave.errors import FileProblem
from evenweave.mesh.gltf.fields import JsonObject
from evenweave.trial.save.copy import Copy
from evenweave.trial.save.gltf_leftovers import leftovers, mark
from evenweave.trial.save.gltf_source import Source

_ARRAY_BUFFER, _ELEMENT_ARRAY_BUFFER = 34962, 34963
_JSON_CHUNK, _BINARY_CHUNK = 0x4E4F534A, 0x004E4942
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:")
_COMPONENT = {"u1": 5121, "u2": 5123, "u4": 5125, "f4": 5126}


class Draft:
    """A glTF file in the making: a copy of its document, and buffers as they are to be.

    Nothing is copied that stays as it is.
    """

    def __init__(self, source: Source, data: bytes) -> None:
        self.document: JsonObject = copy.deepcopy(source.document)
        self._source = source
        self._data = data
        self._patched: dict[int, bytearray] = {}
        self._appended = bytearray()

    def patch(self, index: int, rows: NDArray[np.int64], values: NDArray[np.float32]) -> None:
        """Write (n, 2) values over elements of an accessor of tight or interleaved floats."""
        accessor = self.document["accessors"][index]
        view = self.document["bufferViews"][accessor["bufferView"]]
        number = view["buffer"]
        if number not in self._patched:
            self._patched[number] = bytearray(self._source.buffers[number].tobytes())
        begin = view.get("byteOffset", 0) + accessor.get("byteOffset", 0)
        element = np.ndarray(
            (accessor["count"], 2),
            "<f4",
            buffer=self._patched[number],
            offset=begin,
            strides=(view.get("byteStride") or 8, 4),
        )
        element[rows] = values
        if "min" in accessor or "max" in accessor:
            self._restate_bounds(accessor, np.array(element))

    def _restate_bounds(self, accessor: JsonObject, values: NDArray[Any]) -> None:
        finite = values[np.isfinite(values).all(axis=1)]
        for key, bound in (("min", np.min), ("max", np.max)):
            if key in accessor and len(finite):
                accessor[key] = [float(x) for x in bound(finite, axis=0)]

    def uv_accessor(self, values: NDArray[np.float32], old: JsonObject) -> int:
        """Add an accessor of (N, 2) floats that takes the place of an old one."""
        kept: JsonObject = {key: old[key] for key in ("name", "extras") if key in old}
        described: JsonObject = {
            "componentType": 5126,
            "count": len(values),
            "type": "VEC2",
            **kept,
        }
        if "min" in old or "max" in old:
            described |= {"min": [0.0, 0.0], "max": [0.0, 0.0]}
            self._restate_bounds(described, values)
        return self._add_accessor(values.astype("<f4"), described, _ARRAY_BUFFER)

    def longer_accessor(self, index: int, twin: NDArray[Any], count: int) -> int:
        """Add an accessor of an old one's first elements and some of them once more."""
        values = self._source.accessors.stored(index, self._source.place)
        values = np.concatenate([values[:count], values[twin]])
        old = self.document["accessors"][index]
        dropped = ("bufferView", "byteOffset", "sparse")
        described: JsonObject = {key: value for key, value in old.items() if key not in dropped}
        described["count"] = len(values)
        return self._add_accessor(values, described, _ARRAY_BUFFER)

    def index_accessor(self, vertex: NDArray[Any], old: JsonObject) -> int:
        """Add an accessor of vertex numbers, no narrower than an old one."""
        least = {5121: 1, 5123: 2, 5125: 4}.get(old.get("componentType", 5121), 4)
        largest = int(vertex.max(initial=0))
        width = max(least, 1 if largest < 0xFF else 2 if largest < 0xFFFF else 4)
        kept: JsonObject = {key: old[key] for key in ("name", "extras") if key in old}
        values = vertex.astype(f"<u{width}")[:, None]
        described: JsonObject = {
            "componentType": _COMPONENT[f"u{width}"],
            "count": len(values),
            "type": "SCALAR",
            **kept,
        }
        if "min" in old or "max" in old:
            described |= {"min": [int(vertex.min())], "max": [largest]}
        return self._add_accessor(values, described, _ELEMENT_ARRAY_BUFFER)

    def _add_accessor(self, values: NDArray[Any], described: JsonObject, target: int) -> int:
        size = values.shape[1] * values.itemsize
        stride = size if target == _ELEMENT_ARRAY_BUFFER else -(-size // 4) * 4
        rows = np.zeros((len(values), stride), np.uint8)
        rows[:, :size] = np.ascontiguousarray(values).view(np.uint8).reshape(len(values), size)
        self._appended += b"\0" * (-len(self._appended) % 4)
        view = {
            "buffer": None,  # known once all is appended
            "byteOffset": len(self._appended),
            "byteLength": rows.nbytes,
            "target": target,
        }
        if target == _ARRAY_BUFFER:
            view["byteStride"] = stride
        self._appended += rows.tobytes()
        self.document.setdefault("bufferViews", []).append(view)
        self.document["accessors"].append(
            {"bufferView": len(self.document["bufferViews"]) - 1, **described}
        )
        return len(self.document["accessors"]) - 1

    def finished(self, target: Path, caveats: tuple[str, ...]) -> Copy:
        """Return the bytes of the copy that is to lie at `target`."""
        beside: list[tuple[str, bytes]] = []
        binary = self._place_appended(target, beside)
        for number, data in self._patched.items():
            buffer = self.document["buffers"][number]
            if "uri" not in buffer:
                binary = bytes(data) + binary[len(data) :]
            elif buffer["uri"][:5].lower() == "data:":
                buffer["uri"] = _data_uri(bytes(data), buffer["uri"])
            else:
                name = _free_name(target, {name for name, _ in beside})
                beside.append((name, bytes(data)))
                buffer["uri"] = quote(name)
                mark(buffer, bytes(data))
        self._repoint(target, {quote(name) for name, _ in beside})
        is_glb = self._source.container.format == "glb"
        whole = self._chunked(binary) if is_glb else self._json(self._data)
        return Copy(whole, tuple(beside), caveats, leftovers(target, self.document))

    def _place_appended(self, target: Path, beside: list[tuple[str, bytes]]) -> bytes:
        """Put what was appended behind the binary chunk or into a buffer of its own."""
        chunk = self._source.container.binary
        binary = b"" if chunk is None else bytes(chunk)
        if not self._appended:
            return binary
        buffers = self.document.setdefault("buffers", [])
        at = 0
        if chunk is not None and "uri" not in buffers[0]:
            head = binary[: buffers[0]["byteLength"]]
            head += b"\0" * (-len(head) % 4)
            number, at = 0, len(head)
            binary = head + bytes(self._appended)
            buffers[0]["byteLength"] = len(binary)
        else:
            number = len(buffers)
            is_embedded = any(b.get("uri", "")[:5].lower() == "data:" for b in buffers)
            data = bytes(self._appended)
            buffer = {"byteLength": len(data), "uri": _data_uri(data, "")}
            if not is_embedded:
                name = _free_name(target, set())
                beside.append((name, data))
                buffer["uri"] = quote(name)
                mark(buffer, data)
            buffers.append(buffer)
        for view in self.document["bufferViews"]:
            if view["buffer"] is None:
                view["buffer"] = number
                view["byteOffset"] += at
        return binary

    def _repoint(self, target: Path, new: set[str]) -> None:
        """Let relative names of files hold from another folder."""
        here, there = (
            Path(os.path.realpath(path.parent)) for path in (self._source.place.path, target)
        )
        if here == there:
            return
        for holder in (*self.document.get("buffers", []), *self.document.get("images", [])):
            uri = holder.get("uri")
            if isinstance(uri, str) and uri not in new and not _SCHEME.match(uri):
                try:
                    relative = os.path.relpath(here / unquote(uri), there)
                except ValueError:
                    cause = "it names files beside it, which cannot be reached from another drive"
                    remedy = "save the copy in the folder of the original"
                    raise FileProblem(target, "", cause, remedy) from None
                holder["uri"] = quote(Path(relative).as_posix())

    def _json(self, old: bytes) -> bytes:
        """Return the document as text: the old one where nothing in it has changed."""
        if self.document == self._source.document:
            return old
        is_laid_out = b"\n" in old.strip()
        text = json.dumps(
            self.document,
            ensure_ascii=False,
            indent=2 if is_laid_out else None,
            separators=None if is_laid_out else (",", ":"),
        )
        return text.encode("utf-8", "surrogatepass") + (b"\n" if is_laid_out else b"")

    def _chunked(self, binary: bytes) -> bytes:
        """Return the GLB file with the new document and binary chunk, others as they are."""
        (length,) = struct.unpack_from("<I", self._data, 8)
        pieces, offset, is_first = [], 12, {_JSON_CHUNK: True, _BINARY_CHUNK: True}
        while offset + 8 <= length:
            size, kind = struct.unpack_from("<II", self._data, offset)
            body = self._data[offset + 8 : offset + 8 + size]
            if is_first.pop(kind, False):
                body = self._json(body) if kind == _JSON_CHUNK else binary
                body += (b" " if kind == _JSON_CHUNK else b"\0") * (-len(body) % 4)
            pieces.append(struct.pack("<II", len(body), kind) + body)
            offset += 8 + size
        rest = self._data[offset:length]
        whole = b"".join((*pieces, rest))
        return self._data[:8] + struct.pack("<I", 12 + len(whole)) + whole + self._data[length:]


def _data_uri(data: bytes, old: str) -> str:
    """Return a data URI of the media type that an old one has."""
    head = old[5:].partition(",")[0].split(";")[0] or "application/octet-stream"
    return f"data:{head};base64,{base64.b64encode(data).decode('ascii')}"


def _free_name(target: Path, taken: set[str]) -> str:
    """Return a name for a buffer's file beside the copy that no file has yet."""
    number = 1
    while True:
        name = f"{target.stem}.bin" if number == 1 else f"{target.stem}-{number}.bin"
        if name not in taken and not os.path.lexists(target.parent / name):
            return name
        number += 1
