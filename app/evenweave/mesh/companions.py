"""What files held when they were read, told by digests, so that a change of any is noticed."""

from __future__ import annotations

import hashlib
from pathlib import Path

from evenweave.mesh.asset import Asset


def digest_of(path: Path) -> str:
    """Return the SHA-256 of a file's bytes, in hexadecimal; "" where it cannot be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def files_of(asset: Asset) -> tuple[Path, ...]:
    """Return the file that was opened and then its companions."""
    return (asset.path, *(one.path for one in asset.companions))


def is_as_read(asset: Asset) -> bool:
    """Tell whether all files an asset was read from still hold what they held then."""
    digests = (asset.digest, *(one.digest for one in asset.companions))
    pairs = zip(files_of(asset), digests, strict=True)
    return all(digest_of(path) == digest for path, digest in pairs)
