"""Files are written whole or not at all."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from evenweave.errors import FileProblem


def write_whole(path: Path, data: bytes, *, replace: bool = True) -> None:
    """Write a file by way of a temporary one beside it, so that no half of it is ever seen.

    Where `replace` is false an existing file is left alone. What is no regular file (a pipe, a
    terminal) is written to directly. Raises FileProblem.
    """
    refuse_place(path)
    if not replace and os.path.lexists(path):
        raise FileProblem(path, "", "it exists already", "choose another name or remove it first")
    try:
        if path.exists() and not path.is_file():
            path.write_bytes(data)
        else:
            _swap_in(Path(os.path.realpath(path)), data)
    except OSError as error:
        cause = f"it cannot be written, {(error.strerror or str(error)).lower()}"
        raise FileProblem(path, "", cause, "choose another place or free some space") from None


def refuse_place(path: Path) -> None:
    """Raise FileProblem where no file can be written: before long work rather than after it."""
    if path.is_dir():
        raise FileProblem(path, "", "it is a folder", "give the name of a file")
    folder = Path(os.path.realpath(path)).parent
    if not folder.is_dir():
        cause = f"there is no folder {path.parent}"
        raise FileProblem(path, "", cause, "make it first, or choose another")
    if not path.exists() and not os.access(folder, os.W_OK):
        cause = f"nothing may be written in the folder {path.parent}"
        raise FileProblem(path, "", cause, "choose another")


def _swap_in(path: Path, data: bytes) -> None:
    temporary = path.with_name(f".evenweave-{secrets.token_hex(8)}")
    try:
        handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            os.chmod(temporary, path.stat().st_mode & 0o7777)
        os.replace(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)
