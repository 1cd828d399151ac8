# mypy: allow-untyped-defs
"""Small array kernels, compiled once: the general forms take long to compile wherever used."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def resized(array, n, size):
    """Return the first n of (N,) values in a new array of a size."""
    result = np.empty(size, dtype=array.dtype)
    for k in range(n):
        result[k] = array[k]
    return result


@njit(cache=True, nogil=True)
def resized_rows(array, n, size):
    """Return the first n of (N, M) rows in a new array of a size."""
    result = np.empty((size, array.shape[1]), dtype=array.dtype)
    for k in range(n):
        for j in range(array.shape[1]):
            result[k, j] = array[k, j]
    return result


@njit(cache=True, nogil=True)
def ascending(n):
    """Return (n,) int32 0, 1, 2, ..."""
    result = np.empty(n, dtype=np.int32)
    for k in range(n):
        result[k] = k
    return result


@njit(cache=True, nogil=True)
def unset(n):
    """Return (n,) int32 filled with -1."""
    result = np.empty(n, dtype=np.int32)
    for k in range(n):
        result[k] = -1
    return result
