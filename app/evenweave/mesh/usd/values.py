"""Values of USD attributes as numpy arrays, at the earliest time."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.mesh.place import Place


def earliest(attribute: Any) -> Any:
    """Return an attribute's first time sample, else its default value, else None."""
    from pxr import Usd

    return attribute.Get(Usd.TimeCode.EarliestTime())


def floats(attribute: Any, width: int, place: Place) -> FloatArray | None:
    """Return (N, width) float64, or None where the attribute has no value."""
    value = earliest(attribute)
    return None if value is None else as_floats(value, width, place)


def as_floats(value: Any, width: int, place: Place) -> FloatArray:
    """Return a vector array of the library as (N, width) float64.

    It is a copy: the library's own arrays may lie in the mapped file.
    """
    try:
        with np.errstate(invalid="ignore"):  # a signalling NaN is for the front door to judge
            array = np.array(value, dtype=np.float64)
    except (TypeError, ValueError):
        raise place.problem("numbers were expected") from None
    if array.size == 0:
        return np.empty((0, width))
    if array.ndim != 2 or array.shape[1] < width:
        raise place.problem(f"groups of {width} numbers were expected")
    return np.ascontiguousarray(array[:, :width])


def whole_numbers(attribute: Any, place: Place) -> IntArray | None:
    """Return (N,) int32, or None where the attribute has no value."""
    value = earliest(attribute)
    if value is None:
        return None
    array = np.array(value)
    if array.size == 0:
        return np.empty(0, np.int32)
    if array.ndim != 1 or array.dtype.kind not in "iu":
        raise place.problem("whole numbers were expected")
    return array.astype(np.int32, copy=False)
