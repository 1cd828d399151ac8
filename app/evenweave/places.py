"""Where the files that travel with the program are: texts, schema, sample assets."""

from __future__ import annotations

from functools import cache
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


@cache
def _folder(name: str) -> Path:
    """Inside the installed package, else at the top of the checkout."""
    installed = _PACKAGE / name
    return installed if installed.is_dir() else _PACKAGE.parents[1] / name


def resource(name: str) -> Path:
    """Return the path of a file in `resources`."""
    return _folder("resources") / name


def sample_assets() -> Path:
    """Return the folder of the bundled sample assets."""
    return _folder("sample_assets")
