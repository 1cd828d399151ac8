"""Save a copy: the front door. A new file in which nothing but the texture coordinates differs.

A copy is made of the original file's bytes, written beside its place under another name, read
back and compared, and only then put in its place.
"""

from __future__ import annotations

import hashlib
import os
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

from evenweave.errors import FileProblem
from evenweave.mesh.asset import Asset
from evenweave.mesh.companions import digest_of, files_of
from evenweave.progress import Progress, silent, within
from evenweave.trial.save.copy import Copy
from evenweave.trial.save.read_back import compare
from evenweave.writing import refuse_place, write_whole

Writer = Callable[[Asset, Asset, bytes, Path], Copy]

_WRITERS = {
    "obj": ("evenweave.trial.save.obj", (".obj",)),
    "gltf": ("evenweave.trial.save.gltf", (".gltf",)),
    "glb": ("evenweave.trial.save.gltf", (".glb",)),
    "usd": ("evenweave.trial.save.usd", (".usd", ".usda", ".usdc")),
}
_REPEAT = "open it again and repeat the trial"
_REFUSED = {"ply": "PLY", "collada": "COLLADA"}


@dataclass(frozen=True)
class Saved:
    """What was written: the copy first, then files it needs beside it.

    worst_difference : of a coordinate read back from what the trial has, in tiles
    caveats : sentences on what else is to be known
    """

    files: tuple[Path, ...]
    worst_difference: float
    caveats: tuple[str, ...]


def suffixes(original: Asset) -> tuple[str, ...]:
    """Return what the name of a copy may end in, the source's own first; empty if none can be."""
    _, known = _WRITERS.get(original.format, ("", ()))
    own = original.path.suffix.lower()
    return tuple(sorted(known, key=lambda one: one != own))


def save_copy(
    original: Asset,
    changed: Asset,
    target: Path,
    *,
    replace: bool = False,
    progress: Progress = silent,
) -> Saved:
    """Write the coordinates of `changed` into a copy of the file that `original` was read from.

    changed : made of `original` by `asset_uvs.with_changes`
    replace : an existing file of that name may be replaced; never the source
    Raises FileProblem in one sentence wherever it cannot be done rightly; nothing is then left.
    """
    refuse_target(original, target, replace=replace)
    data = _unchanged_bytes(original)
    progress(0.1, "making the copy")
    writer = import_module(_WRITERS[original.format][0]).copied
    copy: Copy = writer(original, changed, data, target)
    with _kept_only_on_success() as written:
        for name, more in copy.beside:
            write_whole(target.parent / name, more, replace=False)
            written.append(target.parent / name)
        progress(0.5, "reading the copy back")
        with _draft(target, copy.data) as draft:
            worst = compare(draft, changed, within(progress, 0.5, 0.95))
        write_whole(target, copy.data, replace=replace)
    for path in copy.leftovers:
        with suppress(OSError):
            path.unlink(missing_ok=True)
    progress(1.0, "saved")
    return Saved((target, *written), worst, copy.caveats)


def refuse_target(original: Asset, target: Path, *, replace: bool = False) -> None:
    """Raise FileProblem where a copy of that name cannot be saved, before any work is done."""
    _refuse_format(original, target)
    _refuse_source(original, target, replace=replace)
    refuse_place(target)


def _refuse_format(original: Asset, target: Path) -> None:
    if original.format in _REFUSED:
        cause = f"copies of {_REFUSED[original.format]} files cannot be saved"
        remedy = "export it as OBJ, glTF, GLB or USD and try it on that"
        raise FileProblem(original.path, "", cause, remedy)
    if target.suffix.lower() not in suffixes(original):
        allowed = " or ".join(suffixes(original))
        cause = f"a copy of {original.path.name} has to stay in its format"
        raise FileProblem(target, "", cause, f"let its name end in {allowed}")


def _refuse_source(original: Asset, target: Path, *, replace: bool) -> None:
    """Refuse to write over the source, by whatever name or link it is reached."""
    for own in files_of(original):
        if target.exists() and own.exists() and os.path.samefile(target, own):
            cause = "it is the mesh that was opened, and meshes are never changed"
            if own != original.path:
                cause = "the mesh that was opened is composed of it"
            raise FileProblem(target, "", cause, "choose another name for the copy")
    if target.is_dir():
        raise FileProblem(target, "", "it is a folder", "give the name of a file")
    if os.path.lexists(target) and not replace:
        raise FileProblem(target, "", "it exists already", "choose another name or remove it first")
    if os.path.lexists(target) and not target.is_file():
        raise FileProblem(target, "", "it is no regular file", "choose another name for the copy")


def _unchanged_bytes(original: Asset) -> bytes:
    """Return the source's bytes; refuse if they are no longer those that were read."""
    try:
        data = original.path.read_bytes()
    except OSError as error:
        cause = f"it can no longer be read, {(error.strerror or str(error)).lower()}"
        raise FileProblem(original.path, "", cause, "open the mesh again") from None
    if hashlib.sha256(data).hexdigest() != original.digest:
        cause = "it has changed since it was opened"
        raise FileProblem(original.path, "", cause, _REPEAT)
    for one in original.companions:
        if digest_of(one.path) != one.digest:
            cause = f"its part {one.path.name} has changed since it was opened"
            raise FileProblem(original.path, "", cause, _REPEAT)
    return data


@contextmanager
def _draft(target: Path, data: bytes) -> Iterator[Path]:
    """Write the copy under a passing name in its own folder, where what it names is found."""
    draft = target.with_name(f".evenweave-{secrets.token_hex(8)}{target.suffix}")
    try:
        try:
            write_whole(draft, data, replace=False)
        except FileProblem as error:
            raise FileProblem(target, "", error.cause, error.remedy) from None
        yield draft
    finally:
        draft.unlink(missing_ok=True)


@contextmanager
def _kept_only_on_success() -> Iterator[list[Path]]:
    """Take the files named in the list away again if anything goes wrong."""
    written: list[Path] = []
    try:
        yield written
    except BaseException:
        for path in written:
            path.unlink(missing_ok=True)
        raise
