"""Array types and the letters used for their axes.

F faces, C corners (a face's use of a point), P points (welded positions), U uv points,
T triangles, E edges, I islands. Names are ``<first axis>_<quantity>[_<unit>]``:
``face_island``, ``triangle_area_m2``, ``island_density_px_per_m``.
"""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]
BoolArray = NDArray[np.bool_]
ByteArray = NDArray[np.uint8]

_Scalar = TypeVar("_Scalar", bound=np.generic)


def frozen(array: NDArray[_Scalar]) -> NDArray[_Scalar]:
    """Return the array itself, C-contiguous and read-only, so that results can be shared."""
    array = np.ascontiguousarray(array)
    array.flags.writeable = False
    return array


def read_only(array: NDArray[_Scalar]) -> NDArray[_Scalar]:
    """Return a view of an array through which it cannot be changed, as grouped kernels take it."""
    view = array.view()
    view.flags.writeable = False
    return view


def floats(values: Any) -> FloatArray:
    """Return a read-only C-contiguous float64 array of the values."""
    return frozen(np.array(values, dtype=np.float64))


def ints(values: Any) -> IntArray:
    """Return a read-only C-contiguous int32 array of the values."""
    return frozen(np.array(values, dtype=np.int32))
