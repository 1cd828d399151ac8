"""glTF accessors as numpy arrays: interleaved, sparse, normalised, bounds checked.

Source: Khronos, glTF 2.0 specification, "Accessors".
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import FloatArray
from evenweave.mesh.gltf.buffers import Buffers, Bytes
from evenweave.mesh.gltf.fields import JsonObject, entry, extension, inner, integer, shown
from evenweave.mesh.place import Place

_COMPONENT = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
_WIDTH = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT4": 16}
_COMPRESSIONS = ("EXT_meshopt_compression", "KHR_meshopt_compression")
# No bytes of the file vouch for the count of an accessor that is zero where not sparse.
_MOST_UNBACKED = 1 << 22


class Accessors:
    """The document's accessors by number."""

    def __init__(self, document: JsonObject, buffers: Buffers) -> None:
        self._document = document
        self._buffers = buffers

    def floats(self, index: int, width: int, place: Place) -> FloatArray:
        """Return (N, width) float64; normalised integers become -1 to 1 or 0 to 1."""
        place = place.at(f"accessor {index}")
        accessor = entry(self._document, "accessors", index, place)
        raw = self._raw(accessor, place)
        if raw.shape[1] != width:
            raise place.problem(
                f"it is of type {shown(accessor.get('type'))}, which has no use here"
            )
        with np.errstate(invalid="ignore"):  # a signalling NaN is for the front door to judge
            values = raw.astype(np.float64)
        if accessor.get("normalized") is True and raw.dtype.kind in "iu":
            values /= np.iinfo(raw.dtype).max
            if raw.dtype.kind == "i":
                np.maximum(values, -1.0, out=values)
        return values

    def indices(self, index: int, place: Place) -> NDArray[Any]:
        """Return (N,) whole numbers of the file's own unsigned type."""
        place = place.at(f"accessor {index}")
        accessor = entry(self._document, "accessors", index, place)
        raw = self._raw(accessor, place)
        if raw.shape[1] != 1 or raw.dtype.kind != "u":
            raise place.problem("indices should be single unsigned whole numbers")
        return raw[:, 0]

    def stored(self, index: int, place: Place) -> NDArray[Any]:
        """Return (N, width) in the file's own type, neither decoded nor copied."""
        place = place.at(f"accessor {index}")
        return self._raw(entry(self._document, "accessors", index, place), place)

    def count(self, index: int, place: Place) -> int:
        """Return the number of elements an accessor claims."""
        place = place.at(f"accessor {index}")
        return int(integer(entry(self._document, "accessors", index, place), "count", place))

    def is_integer(self, index: int, place: Place) -> bool:
        """Return whether an accessor stores whole numbers."""
        accessor = entry(self._document, "accessors", index, place.at(f"accessor {index}"))
        return accessor.get("componentType") != 5126

    def has_own_data(self, index: int, place: Place) -> bool:
        """Return whether an accessor names bytes of the file."""
        accessor = entry(self._document, "accessors", index, place.at(f"accessor {index}"))
        return "bufferView" in accessor or "sparse" in accessor

    def _raw(self, accessor: JsonObject, place: Place) -> NDArray[Any]:
        """Return (N, width) in the file's own type, a view of its bytes where possible."""
        dtype = _component(accessor, place)
        kind = accessor.get("type")
        if not isinstance(kind, str) or kind not in _WIDTH:
            raise place.problem(f"'type' should be one such as 'VEC3', not {shown(kind)}")
        count = integer(accessor, "count", place)
        shape = (count, _WIDTH[kind])
        if "bufferView" in accessor:
            values = self._viewed(accessor, shape, dtype, place=place)
        elif count <= _MOST_UNBACKED:
            values = np.zeros(shape, dtype)
        else:
            raise place.problem(f"it claims {count} elements, and the file has no bytes for them")
        if "sparse" in accessor:
            values = self._replaced(inner(accessor, "sparse", place), values, place.at("sparse"))
        return values

    def _viewed(
        self, holder: JsonObject, shape: tuple[int, int], dtype: np.dtype[Any], *, place: Place
    ) -> NDArray[Any]:
        """Return the (N, width) elements that a holder of 'bufferView' and 'byteOffset' names."""
        view, stride, data = self._buffer_view(integer(holder, "bufferView", place), place)
        count, width = shape
        size = width * dtype.itemsize
        stride = stride or size
        offset = integer(holder, "byteOffset", place, default=0)
        if stride < size:
            raise place.problem(f"its elements of {size} bytes overlap at a stride of {stride}")
        needed = offset + stride * (count - 1) + size if count else 0
        if needed > view:
            raise place.problem(
                f"its {count} elements need {needed} bytes, but its buffer view has {view}"
            )
        if needed > len(data):
            raise place.problem(
                f"its {count} elements need {needed} bytes, but the data ends after {len(data)}"
            )
        if not count:
            return np.empty(shape, dtype)
        return np.ndarray(
            shape, dtype, buffer=data, offset=offset, strides=(stride, dtype.itemsize)
        )

    def _buffer_view(self, index: int, place: Place) -> tuple[int, int, Bytes]:
        """Return a view's length as claimed, its stride (0: tight), and the bytes there are."""
        place = place.at(f"buffer view {index}")
        view = entry(self._document, "bufferViews", index, place)
        buffer = integer(view, "buffer", place)
        for name in _COMPRESSIONS:
            if extension(view, name) is not None and not self._buffers.has_data(buffer):
                raise place.problem(
                    f"its vertices are compressed with {name}, which is not read",
                    "export it without compression",
                )
        length = integer(view, "byteLength", place)
        offset = integer(view, "byteOffset", place, default=0)
        stride = integer(view, "byteStride", place, default=0)
        return length, stride, self._buffers[buffer][offset : offset + length]

    def _replaced(self, sparse: JsonObject, base: NDArray[Any], place: Place) -> NDArray[Any]:
        """Return a copy of the base with the sparse elements put in."""
        count = integer(sparse, "count", place)
        where = inner(sparse, "indices", place)
        dtype = _component(where, place)
        if dtype.kind != "u":
            raise place.problem("its indices should be unsigned whole numbers")
        index = self._viewed(where, (count, 1), dtype, place=place.at("indices"))[:, 0]
        if count and int(index.max()) >= len(base):
            raise place.problem(f"index {int(index.max())} is beyond its {len(base)} elements")
        values = inner(sparse, "values", place)
        new = self._viewed(values, (count, base.shape[1]), base.dtype, place=place.at("values"))
        replaced = base.copy()
        replaced[index] = new
        return replaced


def _component(holder: JsonObject, place: Place) -> np.dtype[Any]:
    code = integer(holder, "componentType", place)
    if code not in _COMPONENT:
        raise place.problem(f"'componentType' {shown(code)} is none of glTF's")
    return np.dtype(_COMPONENT[code])
