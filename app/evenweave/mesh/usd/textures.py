"""What the textures of a USD material read: UsdUVTexture through UsdTransform2d to a primvar.

Sources: OpenUSD, UsdPreviewSurface specification (UsdUVTexture, UsdPrimvarReader, UsdTransform2d:
in · scale · rotate + translation, degrees counter-clockwise); MaterialX specification (image,
tiledimage, geompropvalue, texcoord).
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from evenweave.mesh.images import image_beside
from evenweave.mesh.names import cleaned
from evenweave.mesh.texturing import Slot, TextureImage, UvTransform, slot_words
from evenweave.mesh.usd.values import earliest

_PREVIEW = "UsdPreviewSurface"
_DEEPEST = 32
_COORDINATES = ("st", "texcoord")


def material_slots(material: Any) -> tuple[Slot, ...] | None:
    """Return the slots of a UsdShade.Material; None where its shading is of an unknown kind."""
    surface = _surface(material)
    if surface is None:
        return None
    found: list[Slot] = []
    for given in surface.GetInputs():
        name = str(given.GetBaseName())
        for texture in _upstream(given, 0):
            if not _is_texture(texture):
                continue
            uv_set, transform = _reading(texture)
            found.append(Slot(slot_words(name), _image(texture), uv_set, transform))
    if not found and str(surface.GetShaderId()) != _PREVIEW:
        return None
    distinct = dict.fromkeys(found)
    return tuple(sorted(distinct, key=lambda slot: slot.name != "base colour"))


def _surface(material: Any) -> Any:
    """Return the surface shader where its kind is known, the plain context's before others."""
    for context in ("", "mtlx"):
        shader = material.ComputeSurfaceSource(context)[0]
        kind = str(shader.GetShaderId() or "") if shader else ""
        if kind == _PREVIEW or kind.startswith("ND_"):
            return shader
    return None


def _is_texture(shader: Any) -> bool:
    kind = str(shader.GetShaderId() or "")
    return kind == "UsdUVTexture" or kind.startswith(("ND_image_", "ND_tiledimage_", "ND_UsdUV"))


def _sources(given: Any) -> Iterator[Any]:
    """Yield the shaders an input is connected to, through the ports of node graphs."""
    from pxr import UsdShade

    for attribute in given.GetValueProducingAttributes():
        if UsdShade.Utils.GetType(attribute.GetName()) == UsdShade.AttributeType.Output:
            shader = UsdShade.Shader(attribute.GetPrim())
            if shader:
                yield shader


def _upstream(given: Any, depth: int) -> Iterator[Any]:
    """Yield all shaders above an input, nearest first, not beyond a texture."""
    if depth > _DEEPEST:
        return
    for shader in _sources(given):
        yield shader
        if not _is_texture(shader):
            for further in shader.GetInputs():
                yield from _upstream(further, depth + 1)


def _value(shader: Any, name: str) -> Any:
    """Return the value of an input, wherever its connections lead; None without one."""
    given = shader.GetInput(name)
    if not given:
        return None
    for attribute in given.GetValueProducingAttributes():
        return earliest(attribute)
    return None


def _reading(texture: Any) -> tuple[str, UvTransform | None]:
    """Follow the coordinates of a texture to the primvar it reads."""
    transform = None
    shader = texture
    for _ in range(_DEEPEST):
        kind = str(shader.GetShaderId() or "")
        if kind.startswith("UsdPrimvarReader") or kind.startswith("ND_UsdPrimvarReader"):
            return _name(_value(shader, "varname")), transform
        if kind.startswith("ND_geompropvalue"):
            return _name(_value(shader, "geomprop")), transform
        if kind.startswith("UsdTransform2d"):
            transform = _after(transform, _transform(shader))
        names = ("in",) if shader is not texture else _COORDINATES
        inputs = [given for name in names if (given := shader.GetInput(name))]
        shader = next((one for given in inputs for one in _sources(given)), None)
        if shader is None:
            break
    return "", transform


def _name(value: Any) -> str:
    return cleaned(str(value)) if value else ""


def _transform(shader: Any) -> UvTransform:
    scale = _value(shader, "scale")
    moved = _value(shader, "translation")
    turn = _value(shader, "rotation")
    return UvTransform.of(
        (1.0, 1.0) if scale is None else (float(scale[0]), float(scale[1])),
        0.0 if turn is None else float(turn),
        (0.0, 0.0) if moved is None else (float(moved[0]), float(moved[1])),
    )


def _after(later: UvTransform | None, first: UvTransform) -> UvTransform | None:
    """Return the transform that does `first` and then `later`; None where nothing is moved."""
    if later is None:
        return None if first == UvTransform() else first
    a, b, c, d = later.matrix
    e, f, g, h = first.matrix
    x, y = first.offset
    return UvTransform(
        (a * e + b * g, a * f + b * h, c * e + d * g, c * f + d * h),
        (a * x + b * y + later.offset[0], c * x + d * y + later.offset[1]),
    )


def _image(texture: Any) -> TextureImage:
    """Return the image of a texture, looked for beside the layer that names it."""
    given = texture.GetInput("file")
    if not given:
        return TextureImage("unnamed image")
    for attribute in given.GetValueProducingAttributes():
        value = earliest(attribute)
        name = str(getattr(value, "path", value) or "")
        stack = attribute.GetPropertyStack()
        layer = stack[0].layer.realPath if stack else ""
        if name and layer:
            return image_beside(Path(layer), name)
        return TextureImage(cleaned(name) or "unnamed image")
    return TextureImage("unnamed image")
