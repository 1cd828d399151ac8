"""The two passes over the bytes of an OBJ file: count, then fill.

A file may be cut at line ends into spans; each span is counted and filled on its own, into
its own slices.

Words follow the format's description, "Object Files (.obj)", appendix B1, as its text is
commonly handed down: a backslash joins lines, negative indices count back from the line, `vt`
may lack its second number.
"""

# mypy: disable-error-code="arg-type,no-any-return,return-value"
# (numpy scalars stand for plain numbers inside kernels)

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from evenweave.arrays import ByteArray, FloatArray, IntArray
from evenweave.mesh.obj.corner_kernels import MALFORMED_CORNER, read_corner, resolved
from evenweave.mesh.tokens.number_kernels import MALFORMED, NOT_FINITE, UNSURE, read_real
from evenweave.mesh.tokens.word_kernels import (
    at_word,
    next_line,
    packed,
    packed_word,
    skip_blanks,
    word_end,
)

# Slots of the array of counts.
POSITIONS, UVS, NORMALS, FACES, CORNERS, EVENTS, UNSURE_NUMBERS = range(7)
LINES, POINTS, CURVES, UNKNOWN, FIRST_UNKNOWN = range(7, 12)
COUNTS = 12

# Kinds of events: what the faces that follow belong to.
OBJECT, GROUP, MATERIAL, SMOOTHING = range(4)

# What can be wrong: code in problem[0], byte offset in problem[1], a number in problem[2].
SOUND, BAD_NUMBER, POSITION_NOT_FINITE, BAD_CORNER = range(4)
BAD_POSITION_INDEX, BAD_UV_INDEX, BAD_NORMAL_INDEX = range(4, 7)
TOO_FEW_NUMBERS = 7  # + POSITIONS, UVS or NORMALS

_V, _VT, _VN, _F, _FO = (packed(word) for word in ("v", "vt", "vn", "f", "fo"))
_O, _G, _USEMTL, _S = (packed(word) for word in ("o", "g", "usemtl", "s"))
_L, _P, _CURV, _CURV2, _SURF = (packed(word) for word in ("l", "p", "curv", "curv2", "surf"))
# Statements of curves, surfaces, display and materials: nothing of theirs is needed.
# fmt: off
_SKIPPED = tuple(packed(word) for word in (
    "mtllib", "maplib", "usemap", "mg", "vp", "cstype", "deg", "bmat", "step", "parm", "trim",
    "hole", "scrv", "sp", "end", "con", "bevel", "lod", "ctech", "stech",
))
# fmt: on


class Slices(NamedTuple):
    """Where one span of the file is filled in; lengths as counted.

    position, normal : (., 3) float64; uv : (., 2) float64
    face_size : int32; corner_position, corner_uv, corner_normal : int32, -1 absent
    event_face : int32, faces of this span before the event; event_kind : uint8
    event_text : (., 2) int64, first and last byte of the name
    unsure : (., 4) int64: block (POSITIONS, UVS or NORMALS), place in it, first byte, end
    """

    position: FloatArray
    uv: FloatArray
    normal: FloatArray
    face_size: IntArray
    corner_position: IntArray
    corner_uv: IntArray
    corner_normal: IntArray
    event_face: IntArray
    event_kind: ByteArray
    event_text: np.ndarray
    unsure: np.ndarray


@njit(cache=True, nogil=True, inline="always")
def _keyword(data: np.ndarray, i: int, end: int) -> tuple[int, int]:
    """Return the word that a line begins with, packed (0 if there is none), and its end."""
    i = skip_blanks(data, i, end)
    if not at_word(data, i, end):
        return np.int64(0), i
    stop = word_end(data, i, end)
    return packed_word(data, i, stop), stop


@njit(cache=True, nogil=True)
def _event_kind(key: int) -> int:
    if key == _USEMTL:
        return MATERIAL
    if key == _G:
        return GROUP
    if key == _O:
        return OBJECT
    return SMOOTHING if key == _S else -1


@njit(cache=True, nogil=True)
def count(data: np.ndarray, span: tuple[int, int], counts: np.ndarray) -> None:
    """First pass: add up what the lines of `data[span[0]:span[1]]` hold, into `counts`."""
    i, end = span
    event_face = np.full(4, -1, np.int64)
    while i < end:
        line = i
        key, i = _keyword(data, i, end)
        if key == _V:
            counts[POSITIONS] += 1
        elif key in (_F, _FO):
            counts[FACES] += 1
            i = skip_blanks(data, i, end)
            while at_word(data, i, end):
                counts[CORNERS] += 1
                i = skip_blanks(data, word_end(data, i, end), end)
        elif key == _VT:
            counts[UVS] += 1
        elif key == _VN:
            counts[NORMALS] += 1
        elif key != 0:
            kind = _event_kind(key)
            if kind < 0:
                _count_other(counts, key, line)
            elif event_face[kind] != counts[FACES]:
                event_face[kind] = counts[FACES]
                counts[EVENTS] += 1
        i = next_line(data, i, end)


@njit(cache=True, nogil=True)
def _count_other(counts: np.ndarray, key: int, line: int) -> None:
    if key == _L:
        counts[LINES] += 1
    elif key == _P:
        counts[POINTS] += 1
    elif key in (_CURV, _CURV2, _SURF):
        counts[CURVES] += 1
    else:
        for known in _SKIPPED:
            if key == known:
                return
        if counts[UNKNOWN] == 0:
            counts[FIRST_UNKNOWN] = line
        counts[UNKNOWN] += 1


@njit(cache=True, nogil=True)
def fill(
    data: np.ndarray,
    span: tuple[int, int],
    before: np.ndarray,
    total: np.ndarray,
    out: Slices,
    problem: np.ndarray,
) -> int:
    """Second pass: read the lines of one span into `out`; stop at the first problem.

    before, total : counts of the spans before this one, and of the whole file.
    Returns how many numbers `float()` must decide; beyond the room in `out.unsure` they are
    only counted.
    """
    i, end = span
    done = np.zeros(COUNTS, np.int64)
    event_face = np.full(4, -1, np.int64)
    event_slot = np.zeros(4, np.int64)
    while i < end and problem[0] == SOUND:
        key, i = _keyword(data, i, end)
        if key == _V:
            i = _fill_rows(data, (i, end), (key, POSITIONS, 3), out.position, out, done, problem)
        elif key in (_F, _FO):
            i = _fill_faces(data, (i, end), key, before, total, out, done, problem)
        elif key == _VT:
            i = _fill_rows(data, (i, end), (key, UVS, 1), out.uv, out, done, problem)
        elif key == _VN:
            i = _fill_rows(data, (i, end), (key, NORMALS, 3), out.normal, out, done, problem)
        else:
            kind = _event_kind(key)
            begin = i
            i = next_line(data, i, end)
            if kind < 0:
                continue
            if event_face[kind] != done[FACES]:
                event_face[kind] = done[FACES]
                event_slot[kind] = done[EVENTS]
                done[EVENTS] += 1
            slot = event_slot[kind]
            out.event_face[slot] = done[FACES]
            out.event_kind[slot] = kind
            out.event_text[slot, 0] = begin
            out.event_text[slot, 1] = i
    return done[UNSURE_NUMBERS]


@njit(cache=True, nogil=True)
def _fill_rows(
    data: np.ndarray,
    span: tuple[int, int],
    what: tuple[int, int, int],
    rows: np.ndarray,
    out: Slices,
    written: np.ndarray,
    problem: np.ndarray,
) -> int:
    """Read v, vt or vn lines as long as they follow one another; `span` begins in the first.

    what : their keyword, their slot of the counts, how many numbers each needs.
    """
    i, end = span
    key, block, needed = what
    found = key
    while found == key and problem[0] == SOUND:
        row = written[block]
        written[block] += 1
        for column in range(rows.shape[1]):
            i = skip_blanks(data, i, end)
            if not at_word(data, i, end):
                rows[row, column] = 0.0
                if column < needed:
                    _tell(problem, TOO_FEW_NUMBERS + block, i, column)
                continue
            start = i
            value, kind, i = read_real(data, i, end)
            rows[row, column] = value
            if kind == MALFORMED:
                _tell(problem, BAD_NUMBER, start, 0)
            elif kind == NOT_FINITE and block == POSITIONS:
                _tell(problem, POSITION_NOT_FINITE, start, 0)
            elif kind == UNSURE:
                if written[UNSURE_NUMBERS] < len(out.unsure):
                    out.unsure[written[UNSURE_NUMBERS], 0] = block
                    out.unsure[written[UNSURE_NUMBERS], 1] = row * rows.shape[1] + column
                    out.unsure[written[UNSURE_NUMBERS], 2] = start
                    out.unsure[written[UNSURE_NUMBERS], 3] = i
                written[UNSURE_NUMBERS] += 1
        line = next_line(data, i, end)
        found, i = _keyword(data, line, end)
    return line


@njit(cache=True, nogil=True)
def _fill_faces(
    data: np.ndarray,
    span: tuple[int, int],
    key: int,
    before: np.ndarray,
    total: np.ndarray,
    out: Slices,
    written: np.ndarray,
    problem: np.ndarray,
) -> int:
    """Read f lines as long as they follow one another; `span` begins in the first."""
    i, end = span
    positions, uvs, normals = before[POSITIONS], before[UVS], before[NORMALS]
    positions, uvs = positions + written[POSITIONS], uvs + written[UVS]
    normals += written[NORMALS]
    corner = written[CORNERS]
    found = key
    while found == key and problem[0] == SOUND:
        first = corner
        i = skip_blanks(data, i, end)
        while at_word(data, i, end):
            start = i
            point, uv, normal, i = read_corner(data, start, end)
            if point == MALFORMED_CORNER:
                _tell(problem, BAD_CORNER, start, 0)
                return end
            position_index = resolved(point, positions, total[POSITIONS])
            uv_index = resolved(uv, uvs, total[UVS])
            normal_index = resolved(normal, normals, total[NORMALS])
            if position_index < 0:
                _tell(problem, BAD_POSITION_INDEX, start, point)
            if uv_index < -1:
                _tell(problem, BAD_UV_INDEX, start, uv)
            if normal_index < -1:
                _tell(problem, BAD_NORMAL_INDEX, start, normal)
            out.corner_position[corner] = position_index
            out.corner_uv[corner] = uv_index
            out.corner_normal[corner] = normal_index
            corner += 1
            i = skip_blanks(data, i, end)
        out.face_size[written[FACES]] = corner - first
        written[FACES] += 1
        line = next_line(data, i, end)
        found, i = _keyword(data, line, end)
    written[CORNERS] = corner
    return line


@njit(cache=True, nogil=True)
def _tell(problem: np.ndarray, code: int, offset: int, value: int) -> None:
    if problem[0] == SOUND:
        problem[0] = code
        problem[1] = offset
        problem[2] = value
