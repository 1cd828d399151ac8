"""Memory of large arrays goes back to the system as soon as they are no longer needed.

glibc keeps blocks of up to 32 MB for later, for each thread apart: a sixth of what a mesh of a
million triangles takes. Elsewhere nothing is changed.
"""

from __future__ import annotations

import ctypes
import sys

LARGE_BYTES = 1 << 20
_MMAP_THRESHOLD, _ARENA_MAX = -3, -8  # M_MMAP_THRESHOLD and M_ARENA_MAX of malloc.h


def give_back() -> bool:
    """Let freed arrays of `LARGE_BYTES` and more go back at once; tell whether that is possible."""
    if not sys.platform.startswith("linux"):
        return False
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (OSError, AttributeError):
        return False
    return bool(mallopt(_MMAP_THRESHOLD, LARGE_BYTES)) and bool(mallopt(_ARENA_MAX, 2))
