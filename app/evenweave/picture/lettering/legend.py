"""The legend of a picture: colour bar with numbers, checker, flips."""

from __future__ import annotations

import numpy as np
from PIL import Image

from evenweave.check.numbers import number
from evenweave.picture.lettering.lettering import Align, Page, shortened, wrapped
from evenweave.picture.lettering.sheet import INK, QUIET, Box
from evenweave.picture.scene.heat import Heat, histogram
from evenweave.picture.scene.seam_kinds import SEAM_KINDS
from evenweave.pipeline import LayoutReview
from evenweave.raster.colour.colours import Colour, ticks
from evenweave.raster.look import Look

_SMALL = 13
_BAR_EDGE: Colour = (150, 150, 150)


def draw_legend(
    page: Page, box: Box, unit: float, layout_review: LayoutReview, look: Look, heat: Heat | None
) -> None:
    """Explain the colours: a bar with numbers under a histogram, or a sentence."""
    small = round(_SMALL * unit)
    if heat is None:
        text = {
            "islands": "One tone an island; neighbours differ.",
            "plain": "Plain: no measure is shown.",
        }[look.colours]
        page.write((box.left, box.top + small), text, small, colour=INK)
        _draw_checker_line(page, box, box.top + 2.6 * small, small, look)
        return
    label = f"{heat.label}, {heat.unit}" if heat.unit else heat.label
    text = shortened(label, box.width, small)
    page.write((box.left, box.top + small), text, small, colour=INK)
    bar_top = round(box.top + 3.4 * small)
    bar_height = round(0.9 * small)
    _draw_histogram(page, box, bar_top, small, heat, layout_review)
    stripe = np.linspace(0, 255, box.width).round().astype(int)
    image = Image.fromarray(np.ascontiguousarray(heat.colours[stripe][None]))
    page.image.paste(image.resize((box.width, bar_height)), (box.left, bar_top))
    for value in ticks(heat.low, heat.high, 9):
        share = (value - heat.low) / (heat.high - heat.low)
        x = box.left + share * (box.width - 1)
        bottom = bar_top + bar_height
        page.line((x, bottom), (x, bottom + round(0.3 * small)), QUIET, max(1, round(unit)))
        words = _tick(value, heat)
        align: Align = "left" if share < 0.02 else "right" if share > 0.98 else "middle"
        page.write((x, bottom + 1.4 * small), words, small, colour=QUIET, align=align)
    _draw_checker_line(page, box, bar_top + bar_height + 2.9 * small, small, look)


def _tick(value: float, heat: Heat) -> str:
    text = number(value)
    if heat.centre is not None and value > heat.centre:
        text = f"+{text}"
    if heat.centre is not None and value == heat.centre:
        text = "0, on target" if heat.mode == "density" else "0"
    return text.replace("-", "−")


def _draw_histogram(
    page: Page, box: Box, bottom: int, small: int, heat: Heat, layout_review: LayoutReview
) -> None:
    share = histogram(heat, layout_review.measures.triangle.area_m2)
    if not share.max(initial=0.0) > 0:
        return
    height = 1.9 * small * np.sqrt(share / share.max())
    edges = np.linspace(box.left, box.left + box.width, len(share) + 1).round().astype(int)
    for left, right, tall in zip(edges[:-1], edges[1:], height.round().astype(int), strict=True):
        if tall > 0:
            bar = Image.new("RGB", (int(right - left), int(tall)), _BAR_EDGE)
            page.image.paste(bar, (int(left), bottom - int(tall)))


def layer_words(look: Look) -> list[str]:
    """Say what is drawn on demand, and how it is told apart."""
    words = []
    if look.mip is not None:
        words.append(f"mip {look.mip}: crossed blocks hold several islands")
    if look.halos:
        words.append("halos: half the padding, dark where two meet; striped: in the margin")
    if look.seam_kinds:
        words += [f"{kind.line}: {kind.word}" for kind in SEAM_KINDS]
    return words


def _draw_checker_line(page: Page, box: Box, y: float, small: int, look: Look) -> None:
    parts = []
    if look.checker:
        per = "tile" if look.checker_per == "tile" else "metre at the target density"
        parts.append(f"{number(look.checker_squares)} squares per {per}, chevrons point to +v")
    if look.flips:
        parts.append("hatched: flipped")
    parts += layer_words(look)
    if look.brush is not None:
        low, high = look.brush
        parts.append(f"in colour: {number(low)} to {number(high)}")
    text = ". ".join(part[:1].upper() + part[1:] for part in parts)
    room = max(int((box.top + box.height - y) / (1.35 * small)) + 1, 1)
    for number_, line in enumerate(wrapped(text, box.width, small, lines=room)):
        page.write((box.left, y + 1.35 * small * number_), line, small, colour=QUIET)
