"""Which bytes of a glTF file belong to one accessor alone, so that they can be written over."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from evenweave.mesh.gltf.fields import JsonObject

_FLOAT = 5126
_SIZE = {5120: 1, 5121: 1, 5122: 2, 5123: 2, 5125: 4, 5126: 4}
_WIDTH = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT2": 4, "MAT3": 9, "MAT4": 16}
_SINGLE = ("indices", "inverseBindMatrices", "input", "output")


def accessor_uses(document: JsonObject) -> Counter[int]:
    """Count how often each accessor is named, by primitives, skins, animations and nodes."""
    found: Counter[int] = Counter()
    waiting: list[Any] = [document.get(key) for key in ("meshes", "skins", "animations", "nodes")]
    while waiting:
        holder = waiting.pop()
        if isinstance(holder, list):
            waiting += holder
        elif isinstance(holder, dict):
            for key, value in holder.items():
                if key in _SINGLE and isinstance(value, int):
                    found[value] += 1
                elif key == "attributes" and isinstance(value, dict):
                    found.update(v for v in value.values() if isinstance(v, int))
                elif key == "targets" and isinstance(value, list):
                    found.update(v for one in value if isinstance(one, dict) for v in one.values())
                else:
                    waiting.append(value)
    return found


def can_be_patched(document: JsonObject, index: int, uses: Counter[int]) -> bool:
    """Tell whether an accessor's elements are floats over bytes that no other one in use has."""
    accessors = document["accessors"]
    own = accessors[index]
    if own["componentType"] != _FLOAT or "sparse" in own or "bufferView" not in own:
        return False
    mine = _span(document, own)
    return not any(
        mine.shares_bytes_with(_span(document, other))
        for number, other in enumerate(accessors)
        if number != index and uses[number] and "bufferView" in other
    )


@dataclass(frozen=True)
class _Span:
    """Elements of `size` bytes, `stride` apart, from byte `begin` to byte `end` of a buffer."""

    buffer: int | None
    begin: int
    end: int
    stride: int
    size: int

    def shares_bytes_with(self, other: _Span) -> bool:
        if self.buffer != other.buffer or self.begin >= other.end or other.begin >= self.end:
            return False
        if self.stride != other.stride:
            return True
        shift = (other.begin - self.begin) % self.stride
        return shift < self.size or shift + other.size > self.stride


def _span(document: JsonObject, accessor: JsonObject) -> _Span:
    view = document["bufferViews"][accessor["bufferView"]]
    size = _SIZE.get(accessor["componentType"], 4) * _WIDTH.get(accessor["type"], 16)
    stride = view.get("byteStride") or size
    begin = view.get("byteOffset", 0) + accessor.get("byteOffset", 0)
    end = begin + stride * (accessor["count"] - 1) + size
    return _Span(view["buffer"], begin, end, stride, size)
