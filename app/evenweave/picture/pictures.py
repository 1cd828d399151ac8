"""Pictures for review notes: views of a layout with title, legend, scale and warnings."""

from __future__ import annotations

import io
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

import numpy as np
from PIL import Image

from evenweave.arrays import ByteArray
from evenweave.notes.store import EMPTY
from evenweave.notes.waiving import JudgedFinding, apply_waivers
from evenweave.picture.lettering.callout_drawing import draw_callouts
from evenweave.picture.lettering.callouts import Callout, arrange
from evenweave.picture.lettering.legend import draw_legend
from evenweave.picture.lettering.lettering import Page
from evenweave.picture.lettering.pins import Pin, flat_callouts, solid_callouts
from evenweave.picture.lettering.sheet import GROUND, draw_findings, draw_title, sheet
from evenweave.picture.painting.painting import (
    NOTHING,
    Marks,
    flat_paint,
    solid_colours,
    solid_paint,
    triangle_colours,
)
from evenweave.picture.scene.ellipses import ellipses
from evenweave.picture.scene.heat import Heat, heat
from evenweave.picture.scene.layers import layers
from evenweave.picture.scene.scene import Bounds, Scene, prepare_scene
from evenweave.pipeline import Review
from evenweave.raster.camera import Orbit, fit_flat
from evenweave.raster.flat.flat import FlatRenderer
from evenweave.raster.look import Look
from evenweave.raster.solid.solid import smooth_picture
from evenweave.writing import write_whole

View = Literal["flat", "solid", "both"]
VIEWS: tuple[View, ...] = ("flat", "solid", "both")
LEAST_SIDE, LARGEST_SIDE = 320, 16384


@dataclass(frozen=True)
class PictureOptions:
    """What a picture shall show.

    layout : index into the review's layouts; width, height : of the whole picture, in pixels
    bounds : the part of the texture to show, or None for the tiles in use
    camera : where the object is seen from, or None for a view of the whole
    marks : selection and warning to point at
    pins : what to call out beside its place, in both views
    warnings : the layout's, as they stand with the waivers; None where all are open
    """

    layout: int = 0
    view: View = "both"
    look: Look = field(default_factory=Look)
    width: int = 1920
    height: int = 1080
    bounds: Bounds | None = None
    camera: Orbit | None = None
    marks: Marks = NOTHING
    pins: tuple[Pin, ...] = ()
    findings: tuple[JudgedFinding, ...] | None = None


def picture(review: Review, options: PictureOptions, scene: Scene | None = None) -> ByteArray:
    """Draw a picture, (height, width, 3) uint8 RGB; the same bytes for the same input.

    scene : of this review, if at hand. Raises IndexError if there is no such layout.
    """
    scene = scene or prepare_scene(review)
    layout_review = review.layouts[options.layout]
    flat = scene.flats[options.layout]
    values = heat(layout_review, options.look.colours, limits=layout_review.limits, mesh=flat.mesh)
    page = Page(options.width, options.height, GROUND)
    place = sheet(options.width, options.height, views=2 if options.view == "both" else 1)
    drawn = {
        "flat": [_flat],
        "solid": [_solid],
        "both": [_flat, _solid],
    }[options.view]
    for box, draw in zip(place.views, drawn, strict=True):
        size = (box.width, box.height)
        image, callouts = draw(scene, options, values, size=size, ratio=place.unit)
        page.image.paste(Image.fromarray(image[:, :, :3]), (box.left, box.top))
        arrangement = arrange(callouts, size, place.unit)
        draw_callouts(page, arrangement, place.unit, origin=(box.left, box.top))
    findings = options.findings
    if findings is None:
        findings = apply_waivers(review, EMPTY).layouts[options.layout]
    draw_title(page, place, review, layout_review, findings)
    draw_legend(page, place.legend, place.unit, layout_review, options.look, values)
    draw_findings(page, place, findings)
    return np.asarray(page.image)


def _flat(
    scene: Scene,
    options: PictureOptions,
    values: Heat | None,
    *,
    size: tuple[int, int],
    ratio: float,
) -> tuple[ByteArray, tuple[Callout, ...]]:
    flat = scene.flats[options.layout]
    view = fit_flat(options.bounds or flat.home_bounds, *size)
    renderer = FlatRenderer(flat.mesh)
    colours = triangle_colours(flat, options.look, values)
    paint = flat_paint(
        flat,
        options.look,
        colours,
        heat=values,
        layers=layers(flat, options.look, flat.review.limits),
        marks=options.marks,
        pixel_ratio=ratio,
    )
    if options.look.ellipses:
        extra = ellipses(flat, view, renderer.ids(view), pixel_ratio=ratio)
        paint = replace(paint, lines=(*paint.lines, extra))
    return renderer.picture(view, paint), flat_callouts(options.pins, view)


def _solid(
    scene: Scene,
    options: PictureOptions,
    values: Heat | None,
    *,
    size: tuple[int, int],
    ratio: float,
) -> tuple[ByteArray, tuple[Callout, ...]]:
    flat, solid = scene.flats[options.layout], scene.solid
    camera = options.camera
    if camera is None:
        camera = Orbit(up_axis=solid.up_axis).fitted(*solid.bounds(), aspect=size[0] / size[1])
    colours = solid_colours(solid, options.layout, triangle_colours(flat, options.look, values))
    paint = solid_paint(
        solid,
        flat,
        options.look,
        layout_index=options.layout,
        colours=colours,
        layers=layers(flat, replace(options.look, mip=None, halos=False), flat.review.limits),
        marks=options.marks,
        pixel_ratio=ratio,
    )
    image = smooth_picture(solid.mesh, camera, *size, paint=paint)
    return image, solid_callouts(options.pins, solid.mesh, camera, size)


def png(image: ByteArray, *, dpi: float | None = None) -> bytes:
    """Return a picture (H, W, 3 or 4) as a PNG file's bytes.

    dpi : pixels per inch that programs which print it are told, None for no word on that
    """
    stream = io.BytesIO()
    told = {} if dpi is None else {"dpi": (dpi, dpi)}
    Image.fromarray(image).save(stream, "png", compress_level=6, **told)
    return stream.getvalue()


def write_png(path: Path, image: ByteArray, *, dpi: float | None = None) -> None:
    """Write a picture as PNG, whole or not at all. Raises FileProblem."""
    write_whole(path, png(image, dpi=dpi))
