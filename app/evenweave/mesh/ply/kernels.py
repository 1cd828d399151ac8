"""Walks over the body of a PLY file: rows whose lists differ in length."""

# mypy: disable-error-code="return-value"
# (numpy scalars stand for plain numbers inside kernels)

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def _whole_number(data: np.ndarray, place: int, width: int, is_big: bool) -> int:
    """Return the signed or unsigned whole number of |width| bytes; signed if width < 0."""
    size = abs(width)
    number = np.uint64(0)
    for k in range(size):
        byte = data[place + k] if is_big else data[place + size - 1 - k]
        number = (number << np.uint64(8)) | np.uint64(byte)
    value = np.int64(number)
    if width < 0 and size < 8 and value >= np.int64(1) << (8 * size - 1):
        value -= np.int64(1) << (8 * size)
    return value


@njit(cache=True, nogil=True)
def measure(
    data: np.ndarray,
    start: int,
    widths: np.ndarray,
    lengths: np.ndarray,
    is_big: bool,
) -> tuple[int, int]:
    """Walk the rows of one element and note the length of every value.

    widths : (properties, 2) int64, bytes of a value, and bytes of the list's count (negative
        if signed, 0 for a scalar)
    lengths : (rows, properties) int32 to fill: 1 for a scalar
    Returns the place behind the last row and -1, or a place and the row that does not fit.
    """
    i = start
    for row in range(lengths.shape[0]):
        for column in range(lengths.shape[1]):
            length = np.int64(1)
            counted = abs(widths[column, 1])
            if counted > 0:
                if len(data) - i < counted:
                    return i, row
                length = _whole_number(data, i, widths[column, 1], is_big)
                i += counted
            room = (len(data) - i) // widths[column, 0]
            if length < 0 or length > min(room, 1 << 30):
                return i, row
            lengths[row, column] = length
            i += length * widths[column, 0]
    return i, -1


@njit(cache=True, nogil=True)
def collect(
    data: np.ndarray,
    start: int,
    widths: np.ndarray,
    lengths: np.ndarray,
    column: int,
    out: np.ndarray,
) -> None:
    """Copy the bytes of one property's values, row after row, into `out`."""
    i = start
    done = 0
    for row in range(lengths.shape[0]):
        for k in range(lengths.shape[1]):
            i += abs(widths[k, 1])
            size = lengths[row, k] * widths[k, 0]
            if k == column:
                for byte in range(size):
                    out[done + byte] = data[i + byte]
                done += size
            i += size
