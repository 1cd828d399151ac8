"""The pictures and histograms of a review document."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PIL import Image

from evenweave.arrays import ByteArray
from evenweave.check.finding import Finding
from evenweave.check.numbers import number, percent, printable
from evenweave.limits.limits import Limits
from evenweave.picture.lettering.callout_drawing import draw_callouts
from evenweave.picture.lettering.callouts import Callout, arrange
from evenweave.picture.lettering.lettering import Page
from evenweave.picture.lettering.pins import Pin, flat_callouts, solid_callouts
from evenweave.picture.painting.painting import (
    flat_paint,
    solid_colours,
    solid_paint,
    triangle_colours,
)
from evenweave.picture.place_picture import place_colours, place_look, place_picture
from evenweave.picture.scene.heat import Heat, heat, histogram
from evenweave.picture.scene.scene import FlatScene, Scene
from evenweave.raster.camera import Orbit, fit_flat
from evenweave.raster.colour.colours import GROUND, ticks
from evenweave.raster.colour.paint import Packed
from evenweave.raster.flat.flat import FlatRenderer
from evenweave.raster.look import Colours, Look
from evenweave.raster.solid.solid import smooth_picture
from evenweave.report.document.content import Bars, Figure

WIDTH_PX, LEAST_PX, MOST_PX = 1040, 520, 1240
PLACE_PX = (480, 320)
_UNIT = 2.0
_PLACE_RATIO = 1.5
_BINS = 64


class LayoutFigures:
    """Draws the figures of one layout; colours are worked out once."""

    def __init__(self, scene: Scene, layout_index: int, limits: Limits) -> None:
        self._scene, self._index, self._limits = scene, layout_index, limits
        self._flat: FlatScene = scene.flats[layout_index]
        self._heats: dict[Colours, Heat | None] = {}
        self._places: dict[Look, Packed] = {}

    def figures(self, pins: Sequence[Pin]) -> tuple[Figure, ...]:
        """Return the layout and the object with their marks, and the checker on both."""
        density, checker = Look(colours="density"), Look(colours="plain", checker=True)
        name = printable(self._flat.layout.name) or "no material"
        marked = " Numbers are warnings, letters are notes." if pins else ""
        shown = "Colours show texel density against the target; hatched is flipped."
        count = self._flat.layout.island_count
        pictures = (
            (self._on_tile(density, pins), f"The layout. {shown}{marked}",
             f"The UV layout of {name}: {count:,} islands, coloured by texel density, with the "
             "places of warnings and notes marked."),
            (self._on_object(density, pins), "The object in the same colours.",
             f"The object, its surface with {name} coloured by texel density."),
            (self._on_tile(checker, ()), "The checker on the layout; its chevrons point to +v.",
             f"The UV layout of {name} filled with an even checker."),
            (self._on_object(checker, ()),
             "The checker on the object: squares of one size and shape are even texture.",
             f"The object with {name} covered by the checker."),
        )  # fmt: skip
        return tuple(Figure(image, caption, words) for image, caption, words in pictures)

    def place(self, finding: Finding) -> Figure:
        """Return a small picture of a warning's place."""
        look = place_look(finding)
        if look not in self._places:
            self._places[look] = place_colours(self._flat, look)
        width, height = PLACE_PX
        image = place_picture(
            self._flat, finding, width=width, height=height, pixel_ratio=_PLACE_RATIO,
            colours=self._places[look],
        )  # fmt: skip
        worst = finding.worst
        on = f" on {printable(self._flat.layout.island_name[worst])}" if worst >= 0 else ""
        return Figure(_rgb(image), "", f"The place of the warning{on}: {finding.title}.")

    def bars(self) -> tuple[Bars, ...]:
        """Return the histograms of density and stretch."""
        octaves, most = self._limits.density_octaves, self._limits.stretch_p95
        return tuple(
            self._bars(shown, limits)
            for mode, limits in (("density", (-octaves, octaves)), ("stretch", (most,)))
            if (shown := self._heat(mode)) is not None  # type: ignore[arg-type]
        )

    def _bars(self, heat: Heat, limits: Sequence[float]) -> Bars:
        share = histogram(heat, self._flat.review.measures.triangle.area_m2, _BINS)
        middle = ((np.arange(_BINS) + 0.5) * 256 / _BINS).astype(int)
        span = heat.high - heat.low

        def place(value: float) -> float:
            return (value - heat.low) / span

        bounds = (0.0, *(min(max(place(x), 0.0), 1.0) for x in limits), 1.0)
        if heat.centre is not None:
            inside = float(share[round(bounds[1] * _BINS) : round(bounds[-2] * _BINS)].sum())
            words = f"{percent(inside)} of the surface lies within the limits"
        else:
            inside = float(share[: round(bounds[1] * _BINS)].sum())
            words = f"{percent(inside)} of the surface lies below the limit"
        label = f"{heat.label}, {heat.unit}" if heat.unit else heat.label
        return Bars(
            label=label,
            share=share,
            colour=heat.colours[middle],
            ticks=tuple((place(x), _signed(x, heat)) for x in ticks(heat.low, heat.high, 7)),
            limits=tuple((place(x), _signed(x, heat)) for x in limits if 0 <= place(x) <= 1),
            saying=f"{words}." if share.sum() > 0 else "Nothing could be measured.",
        )

    def _heat(self, mode: Colours) -> Heat | None:
        if mode not in self._heats:
            review = self._flat.review
            self._heats[mode] = heat(review, mode, limits=review.limits, mesh=self._flat.mesh)
        return self._heats[mode]

    def _on_tile(self, look: Look, pins: Sequence[Pin]) -> ByteArray:
        u0, v0, u1, v1 = self._flat.home_bounds
        tall = WIDTH_PX * (v1 - v0) / max(u1 - u0, 1e-9)
        size = (WIDTH_PX, round(min(max(tall, LEAST_PX), MOST_PX)))
        view = fit_flat((u0, v0, u1, v1), *size)
        colours = triangle_colours(self._flat, look, self._heat(look.colours))
        paint = flat_paint(self._flat, look, colours, pixel_ratio=_UNIT * 0.75)
        image = FlatRenderer(self._flat.mesh).picture(view, paint)
        return _called_out(image, flat_callouts(pins, view))

    def _on_object(self, look: Look, pins: Sequence[Pin]) -> ByteArray:
        solid, size = self._scene.solid, (WIDTH_PX, WIDTH_PX)
        camera = Orbit(up_axis=solid.up_axis).fitted(*solid.bounds())
        own = triangle_colours(self._flat, look, self._heat(look.colours))
        paint = solid_paint(
            solid, self._flat, look, layout_index=self._index,
            colours=solid_colours(solid, self._index, own), pixel_ratio=_UNIT * 0.75,
        )  # fmt: skip
        image = smooth_picture(solid.mesh, camera, *size, paint=paint)
        return _called_out(image, solid_callouts(pins, solid.mesh, camera, size))


def _called_out(image: ByteArray, callouts: Sequence[Callout]) -> ByteArray:
    height, width = image.shape[:2]
    page = Page(width, height, GROUND)
    page.image.paste(Image.fromarray(_rgb(image)), (0, 0))
    draw_callouts(page, arrange(callouts, (width, height), _UNIT), _UNIT)
    return np.asarray(page.image)


def _rgb(image: ByteArray) -> ByteArray:
    return np.ascontiguousarray(image[:, :, :3])


def _signed(value: float, heat: Heat) -> str:
    text = number(value).replace("-", "−")
    return f"+{text}" if heat.centre is not None and value > heat.centre else text
