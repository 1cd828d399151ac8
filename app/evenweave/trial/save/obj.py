"""A copy of an OBJ file with other texture coordinates, worked out on its bytes.

Only the numbers of `vt` lines that change differ, byte for byte; comments, spacing, third
numbers and line ends stay. Where corners part, `vt` lines are added behind those that stand
before the faces concerned, and only the texture field of faces is rewritten.
"""

from __future__ import annotations

import codecs
from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import FloatArray
from evenweave.errors import FileProblem
from evenweave.mesh.asset import Asset
from evenweave.mesh.obj import kernels as obj_kernels
from evenweave.trial.save.copy import Copy
from evenweave.trial.save.obj_kernels import (
    BEGIN,
    DECIMALS,
    END,
    FACE,
    FIRST,
    FIRST_END,
    LINE,
    NEXT_LINE,
    ROW,
    SECOND,
    SECOND_END,
    USE_COLUMNS,
    VT_COLUMNS,
    find_uvs,
)

LEAST_DECIMALS, MOST_DECIMALS = 6, 12

Edit = tuple[int, int, bytes]
Places = NDArray[np.int64]


def copied(original: Asset, changed: Asset, text: bytes, target: Path) -> Copy:
    """Return the file's bytes with the coordinates of `changed`, which has its rows and more."""
    if not original.uv_sets:
        return Copy(text)
    if text.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        cause = "it is written in UTF-16, of which no copy can be made"
        raise FileProblem(original.path, "", cause, "export it again as plain text")
    head = len(codecs.BOM_UTF8) if text.startswith(codecs.BOM_UTF8) else 0
    body = text[head:]
    old, new = original.uv_sets[0].uv, changed.uv_sets[0].uv
    data = np.frombuffer(body, np.uint8)
    rows, uses = find_uvs(data, *_room(0, 0))
    vt, use = _room(rows, uses)
    find_uvs(data, vt, use)
    is_same = (old == new[:rows]) | (np.isnan(old) & np.isnan(new[:rows]))
    moved = np.flatnonzero(~is_same.all(axis=1))
    final_row = _final_rows(original, changed, use)
    added = _Added(vt, use, final_row)
    decimals = _decimals(vt[np.append(moved, added.former)])
    edits = list(_moves(vt, moved, new, decimals))
    if len(added.row):
        _refuse_curves(original, data)
        edits += added.lines(body, new, decimals)
        edits += added.fields(body)
    return Copy(text[:head] + _edited(body, edits))


def _final_rows(original: Asset, changed: Asset, use: Places) -> NDArray[np.int64]:
    """Return the row of the changed coordinates that each use is to name, -1 for none."""
    final = use[:, ROW].copy()
    in_face = np.flatnonzero(use[:, FACE] >= 0)
    size = np.bincount(use[in_face, FACE])
    kept = in_face[size[use[in_face, FACE]] >= 3]
    if not np.array_equal(final[kept], original.uv_sets[0].corner_uv):
        raise RuntimeError("the file's corners were found otherwise than they were read")
    final[kept] = changed.uv_sets[0].corner_uv
    return final


class _Added:
    """New `vt` lines: where they stand, and what numbers all lines get by them.

    row : (A,) numbers of the new rows, as the changed asset has them
    former : (A,) the rows they part from; behind : (A,) the `vt` line each is put behind
    """

    def __init__(self, vt: Places, use: Places, final_row: Places) -> None:
        self._vt, self._use, self._final_row = vt, use, final_row
        taker = np.flatnonzero(final_row >= len(vt))
        self.row, first = np.unique(final_row[taker], return_index=True)
        self.former = use[taker[first], ROW]
        before = np.searchsorted(vt[:, LINE], use[taker[first], BEGIN])
        self.behind = np.where(before > 0, before - 1, self.former)

    def number_of_row(self) -> Places:
        """Return the number in the new file of each of the changed asset's rows, from 1."""
        count = len(self._vt)
        at = np.append(np.arange(count), self.behind)
        order = np.lexsort((np.arange(len(at)), at))
        number = np.empty(len(at), np.int64)
        number[order] = np.arange(1, len(at) + 1)
        return number

    def lines(self, body: bytes, uv: FloatArray, decimals: int) -> Iterator[Edit]:
        """Yield the new lines, in the form of the lines they part from."""
        line_end = _line_end(body, self._vt)
        for at, place, (u, v) in zip(
            self._vt[self.behind, NEXT_LINE].tolist(),
            self._vt[self.former].tolist(),
            uv[self.row].tolist(),
            strict=True,
        ):
            line = _line_like(body, place, _written(u, decimals), _written(v, decimals))
            is_open = at > 0 and body[at - 1] not in b"\r\n"
            yield at, at, line_end + line if is_open else line + line_end

    def fields(self, body: bytes) -> Iterator[Edit]:
        """Yield the fields of faces and lines that name another number than before.

        Negative ones count back from where they stand and become absolute.
        """
        has = self._use[:, BEGIN] >= 0
        number = self.number_of_row()[self._final_row]
        is_negative = np.zeros(len(has), bool)
        data = np.frombuffer(body, np.uint8)
        is_negative[has] = data[self._use[has, BEGIN]] == ord("-")
        wanted = has & (is_negative | (number != self._use[:, ROW] + 1))
        for (begin, end), new in zip(
            self._use[wanted, BEGIN : END + 1].tolist(), number[wanted].tolist(), strict=True
        ):
            yield begin, end, b"%d" % new


def _moves(vt: Places, moved: Places, uv: FloatArray, decimals: int) -> Iterator[Edit]:
    """Yield the numbers of lines that only move."""
    for place, (u, v) in zip(vt[moved].tolist(), uv[moved].tolist(), strict=True):
        first, second = _written(u, decimals), _written(v, decimals)
        if place[SECOND] < 0:
            yield place[FIRST], place[FIRST_END], first + b" " + second
        else:
            yield place[FIRST], place[FIRST_END], first
            yield place[SECOND], place[SECOND_END], second


def _line_like(body: bytes, place: list[int], first: bytes, second: bytes) -> bytes:
    """Return a line of two numbers in the form of another, without its comment and its end."""
    line, behind = place[LINE], place[NEXT_LINE]
    if place[SECOND] < 0 or b"\\" in body[line:behind]:
        return b"vt " + first + b" " + second
    third = body[place[SECOND_END] : behind].split(b"#")[0].rstrip()
    gap = body[place[FIRST_END] : place[SECOND]]
    return body[line : place[FIRST]] + first + gap + second + third


def _line_end(body: bytes, vt: Places) -> bytes:
    """Return what ends the first `vt` line."""
    at = int(vt[0, NEXT_LINE])
    for one in (b"\r\n", b"\n", b"\r"):
        if body[:at].endswith(one):
            return one
    return b"\n"


def _decimals(vt: Places) -> int:
    """Return how many decimals to write: the most that any of the lines has, at least six.

    One number for all lines: equal coordinates must stay equal, or islands would fall apart.
    """
    most = int(vt[:, DECIMALS].max(initial=LEAST_DECIMALS))
    return min(max(most, LEAST_DECIMALS), MOST_DECIMALS)


def _room(rows: int, uses: int) -> tuple[Places, Places]:
    return np.empty((rows, VT_COLUMNS), np.int64), np.empty((uses, USE_COLUMNS), np.int64)


def _written(value: float, decimals: int) -> bytes:
    text = b"%.*f" % (decimals, value)
    return text[1:] if text.startswith(b"-") and not text.strip(b"-0.") else text


def _refuse_curves(original: Asset, data: NDArray[np.uint8]) -> None:
    counts = np.zeros(obj_kernels.COUNTS, np.int64)
    obj_kernels.count(data, (0, len(data)), counts)
    if counts[obj_kernels.CURVES]:
        cause = "new seams renumber its coordinates, and it has curved surfaces that name them"
        raise FileProblem(original.path, "", cause, "export the polygons without them")


def _edited(body: bytes, edits: Iterable[Edit]) -> bytes:
    """Return the bytes with all edits made; edits at one place keep their order."""
    pieces: list[bytes] = []
    at = 0
    for begin, end, new in sorted(edits, key=lambda edit: edit[0]):
        pieces += (body[at:begin], new)
        at = end
    return b"".join((*pieces, body[at:]))
