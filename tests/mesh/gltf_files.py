"""Small glTF and GLB files for tests, built from numpy arrays."""

from __future__ import annotations

import base64
import json
import struct
from pathlib import Path
from typing import Any
from urllib.parse import quote

import numpy as np
from numpy.typing import NDArray

from evenweave.mesh.asset import Asset

QUAD = np.array([[0, 0, 0], [2, 0, 0], [2, 1, 0], [0, 1, 0]], "<f4")
# The quad's texture with v down, as glTF stores it: the first corner is the lower left one.
QUAD_UV = np.array([[0, 1], [1, 1], [1, 0.5], [0, 0.5]], "<f4")
QUAD_INDICES = np.array([0, 1, 2, 0, 2, 3], "<u2")

_COMPONENT = {"i1": 5120, "u1": 5121, "i2": 5122, "u2": 5123, "u4": 5125, "f4": 5126}
_TYPE = {1: "SCALAR", 2: "VEC2", 3: "VEC3", 4: "VEC4", 16: "MAT4"}


class GltfFile:
    """A glTF document and its one buffer."""

    def __init__(self) -> None:
        self.data = bytearray()
        self.document: dict[str, Any] = {
            "asset": {"version": "2.0"},
            "buffers": [{}],
            "bufferViews": [],
            "accessors": [],
            "meshes": [],
            "nodes": [],
            "scenes": [{"nodes": []}],
            "scene": 0,
        }

    def add(self, collection: str, thing: dict[str, Any]) -> int:
        """Put a thing into one of the document's lists and return its number."""
        self.document.setdefault(collection, []).append(thing)
        return len(self.document[collection]) - 1

    def view(self, data: bytes, **more: Any) -> int:
        """Put bytes into the buffer, at a multiple of four, as a buffer view."""
        self.data += b"\0" * (-len(self.data) % 4)
        offset = len(self.data)
        self.data += data
        return self.add(
            "bufferViews", {"buffer": 0, "byteOffset": offset, "byteLength": len(data), **more}
        )

    def accessor(self, array: NDArray[Any], **more: Any) -> int:
        """Put an (N,) or (N, width) array into the buffer as a tight accessor."""
        return self.add(
            "accessors", {"bufferView": self.view(array.tobytes()), **described(array), **more}
        )

    def quad(self, **more: Any) -> dict[str, Any]:
        """Return the primitive of a quad with texture coordinates; `more` goes on top."""
        attributes = {"POSITION": self.accessor(QUAD), "TEXCOORD_0": self.accessor(QUAD_UV)}
        return {"attributes": attributes, "indices": self.accessor(QUAD_INDICES), **more}

    def show(self, *primitives: dict[str, Any], mesh: str = "", **node: Any) -> int:
        """Put a mesh of the primitives under a new root node of the scene."""
        named = {"name": mesh} if mesh else {}
        number = self.add("meshes", {"primitives": list(primitives), **named})
        return self.root(mesh=number, **node)

    def root(self, **node: Any) -> int:
        """Put a node into the scene."""
        number = self.add("nodes", node)
        self.document["scenes"][0]["nodes"].append(number)
        return number

    def glb(self, path: Path) -> Path:
        """Write a GLB file."""
        self.document["buffers"][0].setdefault("byteLength", len(self.data))
        text = json.dumps(self.document).encode()
        text += b" " * (-len(text) % 4)
        data = bytes(self.data) + b"\0" * (-len(self.data) % 4)
        chunks = struct.pack("<II", len(text), 0x4E4F534A) + text
        chunks += struct.pack("<II", len(data), 0x004E4942) + data
        path.write_bytes(b"glTF" + struct.pack("<II", 2, 12 + len(chunks)) + chunks)
        return path

    def gltf(self, path: Path, uri: str) -> Path:
        """Write a .gltf file whose buffer is "base64", "percent" or lies at the URI."""
        data = bytes(self.data)
        if uri == "base64":
            uri = "data:application/octet-stream;base64," + base64.b64encode(data).decode()
        elif uri == "percent":
            uri = "data:application/gltf-buffer," + quote(data)
        self.document["buffers"][0] = {"byteLength": len(data), "uri": uri}
        path.write_text(json.dumps(self.document), encoding="utf-8")
        return path


def described(array: NDArray[Any]) -> dict[str, Any]:
    """Return an accessor's description of an array."""
    width = 1 if array.ndim == 1 else array.shape[1]
    return {
        "componentType": _COMPONENT[array.dtype.str[1:]],
        "count": len(array),
        "type": _TYPE[width],
    }


def face_positions(asset: Asset) -> NDArray[np.float64]:
    """Return (F, 3, 3) positions of an asset of triangles."""
    return asset.position[asset.corner_position].reshape(-1, 3, 3)


def face_uvs(asset: Asset, uv_set: int = 0) -> NDArray[np.float64]:
    """Return (F, 3, 2) UVs of an asset of triangles."""
    found = asset.uv_sets[uv_set]
    return found.uv[found.corner_uv].reshape(-1, 3, 2)


def face_normals(asset: Asset) -> NDArray[np.float64]:
    """Return (F, 3) unit normals by the winding of an asset's triangles."""
    a, b, c = np.moveaxis(face_positions(asset), 1, 0)
    cross = np.cross(b - a, c - a)
    return cross / np.linalg.norm(cross, axis=1, keepdims=True)
