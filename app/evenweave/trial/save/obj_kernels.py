"""Where the bytes of an OBJ file speak of texture coordinates, word by word as it is read."""

# mypy: disable-error-code="arg-type,no-any-return,return-value"
# (numpy scalars stand for plain numbers inside kernels)

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.mesh.obj.corner_kernels import read_corner, resolved
from evenweave.mesh.tokens.word_kernels import (
    at_word,
    next_line,
    packed,
    packed_word,
    skip_blanks,
    word_end,
)

LINE, FIRST, FIRST_END, SECOND, SECOND_END, NEXT_LINE, DECIMALS = range(7)
VT_COLUMNS, USE_COLUMNS = 7, 4
BEGIN, END, ROW, FACE = range(4)

_VT, _F, _FO, _L = (packed(word) for word in ("vt", "f", "fo", "l"))
_MANY = 1 << 40


@njit(cache=True, nogil=True)
def find_uvs(data: np.ndarray, vt: np.ndarray, use: np.ndarray) -> tuple[int, int]:
    """Find every `vt` line and every corner of faces and lines; return how many there are.

    vt : (U, 7) int64 byte where the line begins, where its first and second number begin and
    end (-1 if there is no second), where the next line begins, and the most decimals of the two
    use : (C, 4) int64 where the field of the texture coordinate begins and ends (-1 if the
    corner has none), the row it names, and the face's number (-1 in `l` lines)
    What there is no room for is only counted.
    """
    i, end = 0, len(data)
    rows = uses = faces = 0
    while i < end:
        line = i
        i = skip_blanks(data, i, end)
        key = np.int64(0)
        if at_word(data, i, end):
            stop = word_end(data, i, end)
            key = packed_word(data, i, stop)
            i = stop
        if key == _VT:
            if rows < len(vt):
                _find_numbers(data, i, vt[rows])
                vt[rows, LINE] = line
                vt[rows, NEXT_LINE] = _behind_line_end(data, i)
            rows += 1
        elif key in (_F, _FO, _L):
            face = -1 if key == _L else faces
            uses = _find_corners(data, i, (rows, face), use, uses)
            faces += key != _L
        i = next_line(data, i, end)
    return rows, uses


@njit(cache=True, nogil=True)
def _find_numbers(data: np.ndarray, i: int, place: np.ndarray) -> None:
    end = len(data)
    place[:] = -1
    for begin, behind in ((FIRST, FIRST_END), (SECOND, SECOND_END)):
        i = skip_blanks(data, i, end)
        if at_word(data, i, end):
            place[begin] = i
            i = word_end(data, i, end)
            place[behind] = i
            place[DECIMALS] = max(place[DECIMALS], _decimals(data, place[begin], i))


@njit(cache=True, nogil=True)
def _decimals(data: np.ndarray, i: int, end: int) -> int:
    """Count the digits behind the point of a word."""
    while i < end and data[i] != 46:
        i += 1
    first = i + 1
    i = first
    while i < end and 48 <= data[i] <= 57:
        i += 1
    return max(i - first, 0)


@njit(cache=True, nogil=True)
def _find_corners(
    data: np.ndarray, i: int, before: tuple[int, int], use: np.ndarray, uses: int
) -> int:
    """Find the fields of one line. before : texture coordinates before it, the face's number."""
    end = len(data)
    i = skip_blanks(data, i, end)
    while at_word(data, i, end):
        stop = word_end(data, i, end)
        if uses < len(use):
            use[uses, BEGIN] = use[uses, END] = use[uses, ROW] = -1
            use[uses, FACE] = before[1]
            _point, uv, _normal, _behind = read_corner(data, i, end)
            row = resolved(uv, before[0], _MANY)
            if row >= 0:
                while data[i] != 47:
                    i += 1
                i += 1
                use[uses, BEGIN] = i
                while i < stop and data[i] != 47:
                    i += 1
                use[uses, END] = i
                use[uses, ROW] = row
        uses += 1
        i = skip_blanks(data, stop, end)
    return uses


@njit(cache=True, nogil=True)
def _behind_line_end(data: np.ndarray, i: int) -> int:
    behind = next_line(data, i, len(data))
    if 0 < behind < len(data) and data[behind - 1] == 13 and data[behind] == 10:
        return behind + 1
    return behind
