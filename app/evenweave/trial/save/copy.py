"""What a format's writer hands back: the bytes of a copy, before any of it is on disk."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, eq=False)
class Copy:
    """data : the file itself; beside : further files it names, by name, in the same folder.

    caveats : sentences on what else the artist should know of the copy
    leftovers : files of an earlier copy of that name, of no use once this one is in its place
    """

    data: bytes
    beside: tuple[tuple[str, bytes], ...] = ()
    caveats: tuple[str, ...] = ()
    leftovers: tuple[Path, ...] = ()
