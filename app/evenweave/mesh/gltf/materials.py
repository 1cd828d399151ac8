"""glTF materials: distinct names, and how their textures move the UVs.

Sources: Khronos, glTF 2.0 specification, "Materials"; KHR_texture_transform.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from evenweave.arrays import FloatArray
from evenweave.mesh.gltf.fields import (
    JsonObject,
    entry,
    extension,
    integer,
    items,
    mapping,
    numbers,
    text,
)
from evenweave.mesh.names import Distinct
from evenweave.mesh.place import Place
from evenweave.mesh.remarks import Remarks


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

    def words(self) -> str:
        """Return the transform's numbers for a sentence."""
        scale = f"scale {self.scale[0]:g} × {self.scale[1]:g}"
        offset = f"offset {self.offset[0]:g}, {self.offset[1]:g}"
        turn = f"rotation {math.degrees(self.rotation):g}°"
        return ", ".join((scale, offset, turn))


class Materials:
    """The document's materials by number; a primitive without one has the name ""."""

    def __init__(self, document: JsonObject, place: Place, remarks: Remarks) -> None:
        self._document = document
        self._place = place
        self._remarks = remarks
        distinct = Distinct()
        # "" means that there is no material, so an unnamed one is called by its number.
        self._names = [
            distinct(
                (text(material, "name") if isinstance(material, dict) else "") or f"material {n}"
            )
            for n, material in enumerate(items(document, "materials", place))
        ]
        used = items(document, "extensionsUsed", place)
        self._is_quantised = "KHR_mesh_quantization" in used
        self._transforms: dict[int, dict[int, set[TextureTransform]]] = {}

    def name(self, primitive: JsonObject, place: Place) -> str:
        """Return the name of a primitive's material."""
        number = self._number(primitive, place)
        return "" if number is None else self._names[number]

    def _number(self, primitive: JsonObject, place: Place) -> int | None:
        if "material" not in primitive:
            return None
        number = int(integer(primitive, "material", place))
        entry(self._document, "materials", number, place)
        return number

    def decoding(
        self, primitive: JsonObject, uv_set: int, place: Place, *, is_integer: bool
    ) -> TextureTransform | None:
        """Return the transform that turns a primitive's stored UVs into the artist's, if any.

        KHR_mesh_quantization stores UVs as whole numbers and leaves it to the texture
        transform to bring them back: there it belongs to the layout. Everywhere else the
        transform is a way of showing a texture, and the layout is what is stored; a remark
        tells that there is one.
        """
        number = self._number(primitive, place)
        if number is None:
            return None
        name = self._names[number]
        found = self._textures(number).get(uv_set, set())
        moving = found - {TextureTransform()}
        if not moving:
            return None
        if len(found) > 1:
            self._remarks.say(
                f"Material '{name}' moves its textures differently (KHR_texture_transform): "
                f"TEXCOORD_{uv_set} is judged as stored."
            )
            return None
        (transform,) = moving
        if is_integer and self._is_quantised:
            self._remarks.say(
                f"Material '{name}': TEXCOORD_{uv_set} is quantised and was brought back by its "
                f"KHR_texture_transform ({transform.words()})."
            )
            return transform
        self._remarks.say(
            f"Material '{name}' shows its textures through a KHR_texture_transform "
            f"({transform.words()}): TEXCOORD_{uv_set} is judged as stored, without it."
        )
        return None

    def _textures(self, number: int) -> dict[int, set[TextureTransform]]:
        """Return, per UV set, the transforms of the textures a material draws through it."""
        if number not in self._transforms:
            material = entry(self._document, "materials", number, self._place)
            place = self._place.at(f"material '{self._names[number]}'")
            found: dict[int, set[TextureTransform]] = {}
            for texture in _texture_infos(material):
                uv_set, transform = _transform(texture, place)
                found.setdefault(uv_set, set()).add(transform)
            self._transforms[number] = found
        return self._transforms[number]


def _texture_infos(material: JsonObject) -> list[JsonObject]:
    """Return every texture reference of a material, those of its extensions included."""
    found: list[JsonObject] = []
    waiting: list[Any] = [material]
    while waiting:
        holder = waiting.pop()
        for key, value in holder.items():
            if isinstance(value, dict):
                waiting.append(value)
                if key.endswith("Texture") and "index" in value:
                    found.append(value)
    return found


def _transform(texture: JsonObject, place: Place) -> tuple[int, TextureTransform]:
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
