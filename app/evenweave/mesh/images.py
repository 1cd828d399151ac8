"""Images that materials name: found beside the mesh, and their size read from their header."""

from __future__ import annotations

import io
import struct
import threading
from pathlib import Path

from PIL import Image

from evenweave.mesh.names import cleaned
from evenweave.mesh.texturing import TextureImage

_FIRST_TILE = "1001"
_OPENING = threading.Lock()


def image_beside(mesh: Path, name: str) -> TextureImage:
    """Return an image that a mesh file names relative to its own folder.

    Of a set of tiles (<UDIM>) the first stands for all. Absolute paths belong to another
    machine: the image is then looked for beside the mesh.
    """
    plain = name.replace("\\", "/").replace("<UDIM>", _FIRST_TILE)
    plain = plain.removeprefix("file://").removeprefix("./")
    is_absolute = plain.startswith("/") or plain[1:2] == ":"
    path = mesh.parent / (plain.rsplit("/", 1)[-1] if is_absolute else plain)
    width, height = _size(path)
    return TextureImage(cleaned(name), path, width, height)


def image_inside(name: str, data: bytes) -> TextureImage:
    """Return an image whose bytes lie in the mesh file."""
    width, height = _size(io.BytesIO(data))
    return TextureImage(cleaned(name), None, width, height)


def _size(source: Path | io.BytesIO) -> tuple[int, int]:
    """Return width and height in texels; 0, 0 where there is no image that can be read.

    Only the header is read, so the library's bound on what may be decoded has no meaning here.
    """
    if isinstance(source, Path) and not _is_file(source):
        return 0, 0
    with _OPENING:
        bound, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None
        try:
            with Image.open(source) as image:
                return image.size
        except (OSError, ValueError, SyntaxError, EOFError, struct.error):
            return 0, 0
        finally:
            Image.MAX_IMAGE_PIXELS = bound


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False
