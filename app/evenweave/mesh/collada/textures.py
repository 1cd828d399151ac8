"""What the textures of a COLLADA material read.

Source: COLLADA 1.4.1, "texture" (its texcoord is a name that bind_vertex_input ties to an input
of the geometry), "sampler2D", "surface", "init_from"; 1.5 has instance_image instead. A name
that nothing binds reads the geometry's first set: common practice, no source.
"""

from __future__ import annotations

import re
from urllib.parse import unquote
from xml.etree.ElementTree import Element

from evenweave.mesh.collada.document import Document
from evenweave.mesh.images import image_beside
from evenweave.mesh.texturing import Slot, TextureImage, slot_words

_SET_IN_NAME = re.compile(r"TEXCOORD_?([0-9]{1,3})", re.IGNORECASE)


def material_slots(
    document: Document, material: Element, bound: Element
) -> tuple[Slot, ...] | None:
    """Return the slots of a material as an instance_material binds it; None if it has no effect."""
    reference = material.find("instance_effect")
    effect = None if reference is None else document.referred(reference.get("url"))
    if effect is None:
        return None
    inputs = {
        one.get("semantic", ""): one.get("input_set") or "0"
        for one in bound.findall("bind_vertex_input")
        if one.get("input_semantic", "TEXCOORD") == "TEXCOORD"
    }
    parameters = {one.get("sid", ""): one for one in effect.iter("newparam")}
    found = []
    for holder in effect.iter():
        for texture in holder.findall("texture"):
            image = _image(document, texture.get("texture", ""), parameters)
            uv_set = _uv_set(texture.get("texcoord", ""), inputs)
            found.append(Slot(slot_words(holder.tag), image, uv_set))
    return tuple(sorted(found, key=lambda slot: slot.name != "base colour"))


def _uv_set(name: str, inputs: dict[str, str]) -> str:
    number = inputs.get(name, "")
    named = _SET_IN_NAME.fullmatch(name)
    if not number and named:
        number = named[1]
    return f"TEXCOORD{int(number)}" if number.isascii() and number.isdigit() else ""


def _image(document: Document, sampler: str, parameters: dict[str, Element]) -> TextureImage:
    """Follow a sampler to its image; a texture may also name an image itself."""
    name = sampler
    for _ in range(3):
        parameter = parameters.get(name)
        if parameter is None:
            break
        instance = parameter.find("*/instance_image")
        source = parameter.findtext("*/source") or parameter.findtext("*/init_from")
        name = instance.get("url", "")[1:] if instance is not None else (source or "").strip()
    image = document.elements.get(name)
    if image is None or image.tag != "image":
        return TextureImage(name or "unnamed image")
    start = image.find("init_from")
    file = "" if start is None else (start.findtext("ref") or start.text or "").strip()
    return image_beside(document.place.path, unquote(file)) if file else TextureImage(name)
