"""Words on pictures, in the bundled typeface, so that pictures look alike everywhere."""

from __future__ import annotations

from functools import cache
from typing import Literal

from PIL import Image, ImageDraw, ImageFont

from evenweave.places import resource
from evenweave.raster.colour.colours import Colour

Weight = Literal["plain", "bold"]
Align = Literal["left", "middle", "right"]
_FILES: dict[Weight, str] = {"plain": "fonts/DejaVuSans.ttf", "bold": "fonts/DejaVuSans-Bold.ttf"}


@cache
def font(size_px: int, weight: Weight = "plain") -> ImageFont.FreeTypeFont:
    """Return the typeface at a size in pixels."""
    # The simple layout engine is the same in every build of the library.
    return ImageFont.truetype(
        str(resource(_FILES[weight])), size_px, layout_engine=ImageFont.Layout.BASIC
    )


def width(text: str, size_px: int, weight: Weight = "plain") -> float:
    """Return how wide a line of text is, in pixels."""
    return font(size_px, weight).getlength(text)


def shortened(text: str, room_px: float, size_px: int, weight: Weight = "plain") -> str:
    """Return the text, its end replaced by an ellipsis where it is too wide."""
    if width(text, size_px, weight) <= room_px:
        return text
    while text and width(text + "…", size_px, weight) > room_px:
        text = text[:-1]
    return text.rstrip(" .,;:") + "…" if text else ""


def wrapped(text: str, room_px: float, size_px: int, *, lines: int) -> list[str]:
    """Return the text in at most so many lines, the last one shortened where it must be."""
    out: list[str] = []
    rest = text.split()
    while rest and len(out) < lines - 1:
        line = rest.pop(0)
        while rest and width(f"{line} {rest[0]}", size_px) <= room_px:
            line = f"{line} {rest.pop(0)}"
        out.append(shortened(line, room_px, size_px))
    if rest:
        out.append(shortened(" ".join(rest), room_px, size_px))
    return out


class Page:
    """A picture that is written and drawn upon."""

    def __init__(self, width_px: int, height_px: int, ground: Colour) -> None:
        self.image = Image.new("RGB", (width_px, height_px), ground)
        self._draw = ImageDraw.Draw(self.image)

    def write(
        self,
        place: tuple[float, float],
        text: str,
        size_px: int,
        *,
        colour: Colour,
        weight: Weight = "plain",
        align: Align = "left",
    ) -> None:
        """Write one line with its baseline at `place`."""
        anchor = {"left": "ls", "middle": "ms", "right": "rs"}[align]
        self._draw.text(place, text, fill=colour, font=font(size_px, weight), anchor=anchor)

    def line(
        self, start: tuple[float, float], end: tuple[float, float], colour: Colour, width_px: int
    ) -> None:
        """Draw a straight line."""
        self._draw.line([start, end], fill=colour, width=width_px)

    def polygon(self, corners: list[tuple[float, float]], colour: Colour) -> None:
        """Fill a polygon, its edge smoothed by drawing it at four times the size."""
        xs, ys = [x for x, _ in corners], [y for _, y in corners]
        left, top = int(min(xs)) - 1, int(min(ys)) - 1
        size = (int(max(xs)) + 2 - left, int(max(ys)) + 2 - top)
        mask = Image.new("L", (size[0] * 4, size[1] * 4), 0)
        ImageDraw.Draw(mask).polygon(
            [((x - left) * 4, (y - top) * 4) for x, y in corners], fill=255
        )
        mask = mask.resize(size, Image.Resampling.BOX)
        self.image.paste(Image.new("RGB", size, colour), (left, top), mask)
