"""The rows of a PLY file as columns, for text and for both byte orders.

A text body is turned into float64 words first; each word then stands for one value of eight
bytes, so that text and binary are walked alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.errors import FileProblem
from evenweave.mesh.ply.header import Element, Header
from evenweave.mesh.ply.kernels import collect, measure
from evenweave.mesh.tokens.number_list import NotANumber, numbers

_AGAIN = "export the mesh again"


@dataclass(frozen=True, eq=False)
class Column:
    """One property: all values one after the other, and how many each row has."""

    values: NDArray[Any]
    lengths: IntArray


Rows = dict[str, dict[str, Column]]


def rows(path: Path, data: bytes, header: Header) -> Rows:
    """Return element -> property -> `Column`; raises `FileProblem` where the body breaks off."""
    if header.byte_order:
        body = counts = np.frombuffer(data, np.uint8, offset=header.start)
    else:
        words = _words(path, data, header.start)
        body = frozen(words.view(np.uint8))
        with np.errstate(invalid="ignore"):
            whole = np.where(np.abs(words) < 2**31, words, -1.0).astype(np.int64)
        counts = frozen(whole.view(np.uint8))
    found: Rows = {}
    place = 0
    for element in header.elements:
        widths = _widths(element, is_text=not header.byte_order)
        lengths = np.empty((element.count, len(element.properties)), np.int32)
        behind, broken = measure(counts, place, widths, lengths, header.byte_order == ">")
        if broken >= 0:
            cause = (
                f"the file ends, or a list is too long, in row {broken + 1:,} of {element.count:,}"
            )
            raise FileProblem(path, f"“{element.name}”", cause, _AGAIN)
        found[element.name] = {}
        for k, have in enumerate(element.properties):
            out = np.empty(int(lengths[:, k].sum(dtype=np.int64)) * int(widths[k, 0]), np.uint8)
            collect(body, place, widths, lengths, k, out)
            stored = f"{header.byte_order}{have.type}" if header.byte_order else "=f8"
            found[element.name][have.name] = Column(out.view(stored), lengths[:, k])
        place = behind
    return found


def _widths(element: Element, *, is_text: bool) -> NDArray[np.int64]:
    widths = np.zeros((len(element.properties), 2), np.int64)
    for k, have in enumerate(element.properties):
        widths[k, 0] = 8 if is_text else int(have.type[1:])
        if have.count_type:
            sign = -1 if is_text or have.count_type.startswith("i") else 1
            widths[k, 1] = sign * (8 if is_text else int(have.count_type[1:]))
    return widths


def _words(path: Path, data: bytes, start: int) -> FloatArray:
    """Return the numbers of a text body."""
    try:
        return numbers(data[start:])
    except NotANumber as odd:
        line = 1 + data[: start + odd.offset].count(b"\n")
        cause = f"“{odd.word}” is not a number"
        raise FileProblem(path, f"line {line}", cause, _AGAIN) from None
