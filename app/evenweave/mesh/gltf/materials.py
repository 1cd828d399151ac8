"""glTF materials: distinct names, and how their textures move the UVs.

Sources: Khronos, glTF 2.0 specification, "Materials"; KHR_texture_transform.
"""

from __future__ import annotations

from evenweave.errors import FileProblem
from evenweave.mesh.caveats import Caveats
from evenweave.mesh.gltf.fields import JsonObject, entry, integer, items, text
from evenweave.mesh.gltf.textures import (
    Images,
    TextureTransform,
    material_slots,
    texture_infos,
    texture_reading,
)
from evenweave.mesh.names import Distinct
from evenweave.mesh.place import Place
from evenweave.mesh.texturing import Textured


class Materials:
    """The document's materials by number; a primitive without one has the name ""."""

    def __init__(self, document: JsonObject, place: Place, caveats: Caveats) -> None:
        self._document = document
        self._place = place
        self._caveats = caveats
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
        self._decoded: set[tuple[int, int]] = set()

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
        transform to bring them back: there it belongs to the stored numbers. Everywhere else
        the set is what is stored, and the slot keeps the transform.
        """
        number = self._number(primitive, place)
        if number is None or not (is_integer and self._is_quantised):
            return None
        name = self._names[number]
        found = self._textures(number).get(uv_set, set())
        moving = found - {TextureTransform()}
        if len(found) != 1 or not moving:
            return None
        (transform,) = moving
        self._decoded.add((number, uv_set))
        self._caveats.say(
            f"Material '{name}': TEXCOORD_{uv_set} is quantised and was brought back by its "
            f"KHR_texture_transform ({transform.words()})."
        )
        return transform

    def textured(self, images: Images) -> tuple[Textured, ...]:
        """Return what each material's textures read; damaged materials are left out.

        The material of a primitive that names none shows no texture.
        """
        found = [Textured("")]
        for number, name in enumerate(self._names):
            try:
                material = entry(self._document, "materials", number, self._place)
                slots = material_slots(
                    material,
                    images,
                    self._place.at(f"material '{name}'"),
                    decoded=frozenset(uv_set for one, uv_set in self._decoded if one == number),
                )
            except FileProblem:
                continue
            found.append(Textured(name, slots))
        return tuple(found)

    def _textures(self, number: int) -> dict[int, set[TextureTransform]]:
        """Return, per UV set, the transforms of the textures a material draws through it."""
        if number not in self._transforms:
            material = entry(self._document, "materials", number, self._place)
            place = self._place.at(f"material '{self._names[number]}'")
            found: dict[int, set[TextureTransform]] = {}
            for _, texture in texture_infos(material):
                uv_set, transform = texture_reading(texture, place)
                found.setdefault(uv_set, set()).add(transform)
            self._transforms[number] = found
        return self._transforms[number]
