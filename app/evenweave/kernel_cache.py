"""Where an installed Evenweave keeps its compiled kernels: in the user's cache.

numba notices that a kernel's own file has changed, but not a kernel it calls in another file.
So the folder's name carries a digest of all kernel files, and no upgrade meets stale code.
In a checkout kernels stay beside their sources, so that an edit compiles one file anew, not all.
"""

from __future__ import annotations

import hashlib
import os
import shutil
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_VARIABLE = "NUMBA_CACHE_DIR"


def _digest() -> str:
    """Name the state of all kernel files by their sizes and times; reading them would cost more."""
    found = hashlib.sha256()
    for path in sorted(_PACKAGE.rglob("*kernels.py")):
        told = path.stat()
        found.update(f"{path}|{told.st_size}|{told.st_mtime_ns}\n".encode())
    return found.hexdigest()[:16]


def _root() -> Path:
    """The user's cache folder; without platformdirs, whose import costs more than it gives here."""
    if os.name == "nt":
        base = Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local"))
    elif (Path.home() / "Library" / "Caches").is_dir():
        base = Path.home() / "Library" / "Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return base / "evenweave" / "kernels"


def choose() -> None:
    """Tell numba where to keep kernels, unless the environment says so already.

    Must run before numba is imported.
    """
    if not (_PACKAGE / "resources").is_dir():
        return  # a checkout
    try:
        os.environ.setdefault(_VARIABLE, str(_root() / _digest()))
    except (OSError, RuntimeError):
        return  # no home folder: numba keeps kernels where it can


def forget_others() -> None:
    """Remove the kernels of other states of the source."""
    root = _root()
    kept = Path(os.environ.get(_VARIABLE, ""))
    if kept.parent != root or not root.is_dir():
        return
    for folder in root.iterdir():
        if folder != kept:
            shutil.rmtree(folder, ignore_errors=True)
