"""`Look`: what a picture shows. Chosen by the user, obeyed by canvas, 3D view and exports."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Colours = Literal["density", "stretch", "angle", "area", "overlap", "padding", "islands", "plain"]
COLOURS: tuple[Colours, ...] = (
    "density",
    "stretch",
    "angle",
    "area",
    "overlap",
    "padding",
    "islands",
    "plain",
)


@dataclass(frozen=True)
class Look:
    """What the colours show and what is drawn on them.

    checker_squares : per tile (counted along u) or per metre (at the target density)
    mip : level whose texel blocks are drawn, or None; halos : the room that islands need
    seam_kinds : seams told apart, with hard edges and edges of more than two faces
    brush : only values from the first to the second number keep their colour
    """

    colours: Colours = "density"
    checker: bool = False
    checker_squares: float = 32.0
    checker_per: Literal["tile", "metre"] = "tile"
    seams: bool = True
    edges: bool = False
    ellipses: bool = False
    texel_grid: bool = True
    flips: bool = True
    mip: int | None = None
    halos: bool = False
    seam_kinds: bool = False
    brush: tuple[float, float] | None = None
