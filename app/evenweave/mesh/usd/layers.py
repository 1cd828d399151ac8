"""The files a USD stage is composed of, and those it names but does not find."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

_MISSING = re.compile(r"Could not (?:open asset|load sublayer) @(.+?)@.*?@(.+?)@", re.DOTALL)
"""The layer that is missing and the one that names it, in the library's own words."""


def layer_files(stage: Any) -> tuple[Path, ...]:
    """Return the files of all layers in use: for those in a package, the package."""
    return tuple(
        dict.fromkeys(
            file
            for layer in stage.GetUsedLayers()
            if layer.realPath and (file := _file(layer.realPath)).is_file()
        )
    )


def missing_files(stage: Any) -> tuple[Path, ...]:
    """Return the files that would be layers of the stage if they were there."""
    found = (_MISSING.search(str(error)) for error in stage.GetCompositionErrors())
    return tuple(_file(match[2]).parent / _file(match[1]) for match in found if match)


def _file(path: str) -> Path:
    """Return the file itself of a path that may lead into a package."""
    from pxr import Ar

    return Path(Ar.SplitPackageRelativePathOuter(path)[0])
