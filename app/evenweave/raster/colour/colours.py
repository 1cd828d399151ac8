"""Colours: published maps for numbers, one accent, and a palette for telling islands apart."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from evenweave.arrays import ByteArray, IntArray, frozen
from evenweave.places import resource

Colour = tuple[int, int, int]

ACCENT: Colour = (146, 36, 240)  # selection, and nothing else
GROUND: Colour = (118, 118, 118)  # inside the tiles in use
GROUND_OUTSIDE: Colour = (100, 100, 100)
NEUTRAL: Colour = (196, 196, 194)  # faces without a number to show
ASIDE: Colour = (160, 160, 160)  # faces that a brush or another layout sets aside
UNKNOWN: Colour = (88, 84, 96)  # not measurable
INK: Colour = (22, 23, 26)  # outlines and seams
PALE: Colour = (250, 250, 250)
ALERT: Colour = (0, 0, 0)  # places of warnings, cased in PALE

DIVERGING = "CET-CBD1"
SEQUENTIAL = "CET-L18"

# Twelve muted tones of our own: hue and lightness both alternate, none near the accent.
_ISLANDS: tuple[Colour, ...] = (
    (196, 164, 120),
    (118, 152, 168),
    (172, 186, 140),
    (178, 134, 124),
    (150, 178, 196),
    (144, 140, 104),
    (214, 194, 160),
    (122, 160, 146),
    (198, 152, 148),
    (164, 160, 176),
    (186, 200, 182),
    (158, 128, 104),
)


@dataclass(frozen=True, eq=False)
class ColourMap:
    """A named table of 256 colours, (256, 3) uint8, from low to high."""

    name: str
    table: ByteArray

    def reversed(self) -> ColourMap:
        """Return the same colours from high to low."""
        return ColourMap(self.name, frozen(self.table[::-1]))


@cache
def colour_map(name: str) -> ColourMap:
    """Return one of the maps in `resources/colours` (Kovesi's CET maps, CC BY 4.0)."""
    path = resource(f"colours/{name}.csv")
    table = np.loadtxt(path, delimiter=",", dtype=np.uint8, comments="#")
    return ColourMap(name, frozen(table))


def packed(colour: Colour) -> int:
    """Return the colour as one number, red in the lowest byte."""
    return colour[0] | colour[1] << 8 | colour[2] << 16


def island_colours(count: int, neighbours: IntArray) -> ByteArray:
    """Return (count, 3) uint8 tones, unlike for neighbours as far as twelve tones reach.

    neighbours : (N, 2) int32 pairs of islands that lie beside each other
    """
    beside: dict[int, set[int]] = {}
    for first, second in neighbours.tolist():
        if first != second:
            beside.setdefault(max(first, second), set()).add(min(first, second))
    tones = len(_ISLANDS)
    choice = np.zeros(count, dtype=np.int64)
    for island in range(count):
        taken = {int(choice[other]) for other in beside.get(island, ())}
        options = island * 5 % tones
        free = ((options + step) % tones for step in range(tones))
        choice[island] = next((tone for tone in free if tone not in taken), options)
    return np.array(_ISLANDS, dtype=np.uint8)[choice]


def ticks(low: float, high: float, most: int = 6) -> tuple[float, ...]:
    """Return at most `most` round numbers from low to high, in steps of 1, 2 or 5 times 10^n."""
    if not (math.isfinite(low) and math.isfinite(high)) or high <= low:
        return (low,) if math.isfinite(low) else ()
    raw = (high - low) / max(most - 1, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= raw * (1 - 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return tuple(float(f"{index * step:.12g}") for index in range(first, last + 1))
