"""Do the textures' images fit the tile and one another: texture-size."""

from __future__ import annotations

from evenweave.check.finding import Severity
from evenweave.check.subject import Check, Hit, Subject
from evenweave.mesh.texturing import Slot


def _texture_size(subject: Subject) -> list[Hit]:
    """Images of other shapes or sizes; where the tile was given, also images unlike the tile."""
    known = [slot for slot in subject.layout.slots if slot.image.width]
    tile = (subject.measures.tile.width, subject.measures.tile.height)
    if not known:
        return []
    odd = next((slot for slot in known if _shape(slot) != _ratio(*tile)), None)
    if odd is not None:
        return [_hit(subject, odd, tile, "shape")]
    unlike = next((slot for slot in known if _size(slot) != tile), None)
    if unlike is None:
        return []
    is_own = any(_size(slot) == tile for slot in known)
    return [_hit(subject, unlike, tile, "slots" if is_own else "")]


def _size(slot: Slot) -> tuple[int, int]:
    return slot.image.width, slot.image.height


def _shape(slot: Slot) -> float:
    return _ratio(*_size(slot))


def _ratio(width: int, height: int) -> float:
    return round(width / height, 3)


def _hit(subject: Subject, slot: Slot, tile: tuple[int, int], variant: str) -> Hit:
    width, height = _size(slot)
    severity = Severity.NOTE if variant == "slots" else None
    return Hit(
        value=float(width),
        limit=float(tile[0]),
        variant=variant,
        severity=severity,
        words={
            "slot": slot.name,
            "image": slot.image.name,
            "size": f"{width} × {height}",
            "tile": f"{tile[0]} × {tile[1]}",
            "layout": subject.layout.name or "no material",
        },
    )


TEXTURE_SIZE = Check("texture-size", Severity.WARNING, "texels", _texture_size, of_lightmaps=False)
