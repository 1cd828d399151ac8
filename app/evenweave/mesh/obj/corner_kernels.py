"""The corners of OBJ faces: v, v/vt, v//vn and v/vt/vn."""

# mypy: disable-error-code="arg-type,no-any-return,return-value"
# (numpy scalars stand for plain numbers inside kernels)

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.mesh.tokens.word_kernels import is_word_end

_ABSENT = -(1 << 62)
MALFORMED_CORNER = _ABSENT + 1


@njit(cache=True, nogil=True, inline="always")
def read_corner(data: np.ndarray, i: int, end: int) -> tuple[int, int, int, int]:
    """Read v, v/vt, v//vn or v/vt/vn as written; the first is MALFORMED_CORNER if it is none."""
    uv = normal = np.int64(_ABSENT)
    point, i = _read_index(data, i, end)
    if i < end and data[i] == 47:
        uv, i = _read_index(data, i + 1, end)
        if i < end and data[i] == 47:
            normal, i = _read_index(data, i + 1, end)
    if point == _ABSENT or not is_word_end(data, i, end):
        point = np.int64(MALFORMED_CORNER)
    return point, uv, normal, i


@njit(cache=True, nogil=True, inline="always")
def _read_index(data: np.ndarray, i: int, end: int) -> tuple[int, int]:
    """Read a whole number, _ABSENT if no digit stands here; a lone sign is not passed over."""
    start = i
    negative = i < end and data[i] == 45
    if i < end and (data[i] == 43 or data[i] == 45):
        i += 1
    first = i
    value = np.int64(0)
    while i < end and 48 <= data[i] <= 57:
        value = min(value * 10 + np.int64(data[i]) - 48, 1 << 50)
        i += 1
    if i == first:
        return np.int64(_ABSENT), start
    return -value if negative else value, i


@njit(cache=True, nogil=True)
def resolved(index: int, defined: int, total: int) -> int:
    """Return the index counted from 0, -1 if absent, -2 if nothing stands there."""
    if index == _ABSENT:
        return -1
    if 0 < index <= total:
        return index - 1
    if index < 0 and defined + index >= 0:
        return defined + index
    return -2
