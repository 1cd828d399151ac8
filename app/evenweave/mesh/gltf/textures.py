"""What the textures of a glTF material read: image, UV set and transform of each slot.

Sources: Khronos, glTF 2.0 specification, "Textures" and textureInfo (texCoord is 0 unless
stated); KHR_texture_transform (its texCoord overrides; offset · rotation · scale, v down).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import numpy as np

from evenweave.arrays import FloatArray
from evenweave.errors import FileProblem
from evenweave.mesh.gltf.buffers import Buffers
from evenweave.mesh.gltf.fields import (
    JsonObject,
    entry,
    extension,
    integer,
    mapping,
    numbers,
    text,
)
from evenweave.mesh.images import image_beside, image_inside
from evenweave.mesh.place import Place
from evenweave.mesh.texturing import Slot, TextureImage, UvTransform, slot_words

_FIRST = ("base colour", "metallic and roughness", "normal", "occlusion", "emission")
_OTHER_SOURCES = ("KHR_texture_basisu", "EXT_texture_webp", "MSFT_texture_dds")


@dataclass(frozen=True)
class TextureTransform:
    """KHR_texture_transform in file coordinates (v down): offset + rotation * scale * uv."""

    offset: tuple[float, float] = (0.0, 0.0)
    rotation: float = 0.0
    scale: tuple[float, float] = (1.0, 1.0)

    def applied(self, uv: FloatArray) -> FloatArray:
        """Return (U, 2) transformed coordinates."""
        sine, cosine = math.sin(self.rotation), math.cos(self.rotation)
        turn = np.array([[cosine, sine], [-sine, cosine]])
        with np.errstate(all="ignore"):
            return np.asarray((uv * self.scale) @ turn.T + self.offset)

    def upwards(self) -> UvTransform | None:
        """Return the same with v up; None where nothing is moved."""
        if self == TextureTransform():
            return None
        sine, cosine = math.sin(self.rotation), math.cos(self.rotation)
        (across, down), (right, below) = self.scale, self.offset
        return UvTransform(
            (cosine * across, -sine * down, sine * across, cosine * down),
            (right + sine * down, 1.0 - cosine * down - below),
        )

    def words(self) -> str:
        """Return the transform's numbers for a sentence."""
        scale = f"scale {self.scale[0]:g} × {self.scale[1]:g}"
        offset = f"offset {self.offset[0]:g}, {self.offset[1]:g}"
        turn = f"rotation {math.degrees(self.rotation):g}°"
        return ", ".join((scale, offset, turn))


def texture_infos(material: JsonObject) -> list[tuple[str, JsonObject]]:
    """Return every texture reference of a material with its key, its extensions' included."""
    found: list[tuple[str, JsonObject]] = []
    waiting: list[Any] = [material]
    while waiting:
        holder = waiting.pop()
        for key, value in holder.items():
            if isinstance(value, dict):
                waiting.append(value)
                if key.endswith("Texture") and "index" in value:
                    found.append((key, value))
    return found


def texture_reading(texture: JsonObject, place: Place) -> tuple[int, TextureTransform]:
    """Return the UV set a texture is drawn through and how it moves the UVs."""
    uv_set = integer(texture, "texCoord", place, default=0)
    moved = extension(texture, "KHR_texture_transform")
    if moved is None:
        return uv_set, TextureTransform()
    moved = mapping(moved, place)
    (rotation,) = numbers(
        {"rotation": [moved.get("rotation", 0.0)]}, "rotation", place, default=(0.0,)
    )
    return integer(moved, "texCoord", place, default=uv_set), TextureTransform(
        offset=numbers(moved, "offset", place, default=(0.0, 0.0)),
        rotation=rotation,
        scale=numbers(moved, "scale", place, default=(1.0, 1.0)),
    )


class Images:
    """The document's images by number, each looked at once."""

    def __init__(self, document: JsonObject, buffers: Buffers, path: Path) -> None:
        self._document = document
        self._buffers = buffers
        self._path = path
        self._known: dict[int, TextureImage] = {}

    def of_texture(self, number: int, place: Place) -> TextureImage:
        """Return the image of a texture; one that is not there still has a name."""
        try:
            texture = entry(self._document, "textures", number, place)
            source = _source(texture, place)
        except FileProblem:
            source = None
        if source is None:
            return TextureImage(f"texture {number}")
        if source not in self._known:
            self._known[source] = self._image(source, place)
        return self._known[source]

    def _image(self, number: int, place: Place) -> TextureImage:
        fallback = f"image {number}"
        try:
            image = entry(self._document, "images", number, place)
            uri = image.get("uri")
            if isinstance(uri, str) and uri[:5].lower() != "data:":
                return image_beside(self._path, unquote(uri))
            named = text(image, "name")
            fallback = f"{named} (image {number})" if named else fallback
            return image_inside(fallback, self._bytes(image, place))
        except FileProblem:
            return TextureImage(fallback)

    def _bytes(self, image: JsonObject, place: Place) -> bytes:
        if "bufferView" not in image:
            return b""
        view = entry(self._document, "bufferViews", integer(image, "bufferView", place), place)
        start = integer(view, "byteOffset", place, default=0)
        length = integer(view, "byteLength", place)
        return self._buffers[integer(view, "buffer", place)][start : start + length].tobytes()


def _source(texture: JsonObject, place: Place) -> int | None:
    for name in _OTHER_SOURCES:
        other = extension(texture, name)
        if other is not None and "source" in other and "source" not in texture:
            return int(integer(other, "source", place))
    return int(integer(texture, "source", place)) if "source" in texture else None


def material_slots(
    material: JsonObject,
    images: Images,
    place: Place,
    *,
    decoded: frozenset[int],
) -> tuple[Slot, ...]:
    """Return the slots of a material, the base colour first.

    decoded : sets to whose stored numbers the transform has already been applied
    """
    found = []
    for key, info in texture_infos(material):
        uv_set, transform = texture_reading(info, place)
        image = images.of_texture(int(integer(info, "index", place)), place)
        moved = None if uv_set in decoded else transform.upwards()
        found.append(Slot(slot_words(key), image, f"TEXCOORD_{uv_set}", moved))
    rank = {name: number for number, name in enumerate(_FIRST)}
    return tuple(sorted(found, key=lambda slot: (rank.get(slot.name, len(rank)), slot.name)))
