"""A look at the table of contents of a binary USD file before the library opens it.

The library believes a damaged table and asks for gigabytes; a glance at its numbers spares
that. Layout from OpenUSD's own reader: "PXR-USDC", 8 bytes of version, the table's offset;
the table is a count and, per section, 16 bytes of name, its start and its size.
"""

from __future__ import annotations

import os
import struct
from pathlib import Path

from evenweave.mesh.place import Place

_IDENT = b"PXR-USDC"
_BOOTSTRAP_BYTES = 88
_SECTION = struct.Struct("<16sqq")
_MOST_SECTIONS = 64


def check_crate(path: Path, place: Place) -> None:
    """Refuse a binary USD file whose table of contents points outside the file."""
    try:
        with path.open("rb") as file:
            bootstrap = file.read(_BOOTSTRAP_BYTES)
            if not bootstrap.startswith(_IDENT):
                return
            length = os.fstat(file.fileno()).st_size
            offset = _offset(bootstrap, length, place)
            file.seek(offset)
            table = file.read(8 + _MOST_SECTIONS * _SECTION.size)
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise place.problem(f"it cannot be read ({reason})", "check the file") from None
    (count,) = struct.unpack_from("<Q", table)
    if count > _MOST_SECTIONS or len(table) < 8 + count * _SECTION.size:
        raise place.problem("its table of contents is damaged")
    for number in range(count):
        name, start, size = _SECTION.unpack_from(table, 8 + number * _SECTION.size)
        if not (0 <= start <= length and 0 <= size <= length - start):
            section = name.rstrip(b"\0").decode("ascii", "replace")
            raise place.at(f"section '{section}'").problem("it lies outside the file")


def _offset(bootstrap: bytes, length: int, place: Place) -> int:
    if len(bootstrap) < _BOOTSTRAP_BYTES:
        raise place.problem("it ends inside its header")
    offset: int = struct.unpack_from("<q", bootstrap, 16)[0]
    if not _BOOTSTRAP_BYTES <= offset <= length - 8:
        raise place.problem("its table of contents is missing: the file was cut short")
    return offset
