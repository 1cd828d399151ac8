"""How many things are computed side by side: as many as the machine has cores for this process.

Kernels let go of the interpreter's lock. Work is always cut in the same pieces and put together
in the same order, so that results do not depend on the number.
"""

from __future__ import annotations

import os


def cores() -> int:
    """Return how many cores this process may use, at least 1."""
    if hasattr(os, "sched_getaffinity"):
        return max(len(os.sched_getaffinity(0)), 1)
    return os.cpu_count() or 1
