"""Which image and UV set each texture of a material reads, as the file says it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from evenweave.arrays import FloatArray

_WORDS = {
    "basecolor": "base colour",
    "diffusecolor": "base colour",
    "diffuse": "base colour",
    "metallicroughness": "metallic and roughness",
    "emissive": "emission",
    "emissivecolor": "emission",
}
_STAND_IN_TEXELS = 8
_UDIM_NUMBER = re.compile(r"(?<!\d)1\d{3}(?!\d)(?=\.[A-Za-z0-9]+$)")


@dataclass(frozen=True)
class TextureImage:
    """An image that a material names.

    name : as the file has it, or the number it has there; equal names are one image
    path : where it should lie beside the mesh; None where it is inside the file
    width, height : in texels; 0 where it is missing or unreadable
    """

    name: str
    path: Path | None = None
    width: int = 0
    height: int = 0

    @property
    def stands_in(self) -> bool:
        """Whether it is of a few texels, a plain colour in the place of a texture."""
        return 0 < max(self.width, self.height) <= _STAND_IN_TEXELS

    @property
    def is_udim(self) -> bool:
        """Whether its name stands for a set of tiles: <UDIM>, or 1001 and up before the ending."""
        number = _UDIM_NUMBER.search(self.name)
        return "<UDIM>" in self.name or (number is not None and int(number[0]) >= 1001)


@dataclass(frozen=True)
class UvTransform:
    """How a texture is laid on its UVs: (u, v) becomes matrix · (u, v) + offset, v up.

    matrix : its rows one after the other
    """

    matrix: tuple[float, float, float, float] = (1.0, 0.0, 0.0, 1.0)
    offset: tuple[float, float] = (0.0, 0.0)

    @staticmethod
    def of(scale: tuple[float, float], degrees: float, offset: tuple[float, float]) -> UvTransform:
        """Return the transform that scales, then turns counter-clockwise, then moves."""
        turn = math.radians(degrees)
        cosine, sine = math.cos(turn), math.sin(turn)
        return UvTransform(
            (cosine * scale[0], -sine * scale[1], sine * scale[0], cosine * scale[1]), offset
        )

    @property
    def growth(self) -> float:
        """How often the texture repeats where it was once, by area."""
        a, b, c, d = self.matrix
        return abs(a * d - b * c)

    def applied(self, uv: FloatArray) -> FloatArray:
        """Return (U, 2) coordinates as the texture is read at."""
        with np.errstate(all="ignore"):
            return np.asarray(uv @ np.reshape(self.matrix, (2, 2)).T + self.offset)

    def undone(self, uv: FloatArray) -> FloatArray:
        """Return (U, 2) coordinates as the file stores them. The growth must not be 0."""
        inverse = np.linalg.inv(np.reshape(self.matrix, (2, 2)))
        return np.asarray((uv - self.offset) @ inverse.T)

    def words(self) -> str:
        """Say what it does, scale before rotation before offset."""
        a, b, c, d = self.matrix
        across = math.copysign(math.hypot(b, d), a * d - b * c)
        turn = math.degrees(math.atan2(c, a)) + 0.0
        along = math.hypot(a, c)
        is_scaled = max(abs(along - 1), abs(across - 1)) > 1e-9
        parts = [f"scaled by {along:.4g} × {across:.4g}"] if is_scaled else []
        parts += [f"turned by {turn:.4g}°"] if abs(turn) > 1e-9 else []
        parts += ["moved by {:.4g}, {:.4g}".format(*self.offset)] if any(self.offset) else []
        return ", ".join(parts)


@dataclass(frozen=True)
class Slot:
    """One texture of a material.

    name : what the texture is for ("base colour", "normal")
    uv_set : name of the set it reads; "" where the file leaves it to the reader
    transform : laid between the set and the image; None where there is none
    """

    name: str
    image: TextureImage
    uv_set: str = ""
    transform: UvTransform | None = None


@dataclass(frozen=True)
class Textured:
    """A material of which the file says what it shows; without slots it shows no texture."""

    material: str
    slots: tuple[Slot, ...] = ()


def slot_words(name: str) -> str:
    """Return what a texture is for in words.

    >>> slot_words("baseColorTexture"), slot_words("clearcoatRoughness"), slot_words("normal")
    ('base colour', 'clearcoat roughness', 'normal')
    """
    name = name.removesuffix("Texture")
    if name.lower() in _WORDS:
        return _WORDS[name.lower()]
    words = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", " ", name).lower()
    return re.sub(r"\bcolor\b", "colour", words)
