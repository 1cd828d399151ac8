"""numba without the parts that no kernel here uses and that take longest to load.

At its first kernel numba looks for scipy's BLAS, for products of matrices, and for cffi, for
functions of C libraries. That costs a fifth of a second in every process.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module

UNUSED = {"numba.core.typing.cffi_utils": "cffi", "numba.np.arraymath": "scipy.linalg"}
"""The module of numba that looks for it, and what it looks for."""


def load() -> None:
    """Load numba, if it is not yet loaded.

    Must run before other threads do: meanwhile the two packages seem missing to them as well.
    """
    for module, wanted in UNUSED.items():
        with _missing(wanted):
            import_module(module)


@contextmanager
def _missing(name: str) -> Iterator[None]:
    """Let a package that is not yet loaded seem not to be installed."""
    if name in sys.modules:
        yield
        return
    sys.modules[name] = None  # type: ignore[assignment]
    try:
        yield
    finally:
        del sys.modules[name]
