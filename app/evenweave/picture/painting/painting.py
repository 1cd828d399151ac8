"""From a scene and a look to `Paint`: the one place that decides what is drawn, and how."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from evenweave.arrays import ByteArray, FloatArray, IntArray
from evenweave.check.finding import Finding
from evenweave.measure.results import Overlap, WorstSpot
from evenweave.picture.painting.seam_marks import flat_seam, solid_seam
from evenweave.picture.painting.spot_marks import flat_spot, solid_spot
from evenweave.picture.scene.heat import Heat
from evenweave.picture.scene.layers import NO_LAYERS, Layers
from evenweave.picture.scene.places import Places, flat_places, solid_places
from evenweave.picture.scene.scene import FlatScene
from evenweave.picture.scene.solid_scene import SolidScene
from evenweave.pipeline import LayoutReview
from evenweave.raster.colour.colouring import island_tones, one_tone, value_colours
from evenweave.raster.colour.colours import ACCENT, ALERT, ASIDE, NEUTRAL, PALE, packed
from evenweave.raster.colour.paint import HOVERED, Dots, Lines, Outlines, Packed, Paint, no_outlines
from evenweave.raster.look import Look

_WIRE = 0.45
_SEAMS_SHOWN, _SEAMS_HIDDEN = 0.85, 0.3


@dataclass(frozen=True, eq=False)
class Marks:
    """What is pointed at.

    selection : islands; hover : island under the pointer; warning : whose places are shown
    seam : row of the layout's seams under the pointer, or -1; spot : one of the worst, or None
    """

    selection: tuple[int, ...] = ()
    hover: int = -1
    finding: Finding | None = None
    seam: int = -1
    spot: WorstSpot | None = None


NOTHING = Marks()
NO_COLOURS = np.zeros(0, dtype=np.uint32)


def triangle_colours(scene: FlatScene, look: Look, heat: Heat | None) -> Packed:
    """Return (T,) uint32 colours of a layout's triangles for `Paint`.

    heat : of `look.colours`; None where these show no numbers
    """
    mark = scene.flipped if look.flips else np.zeros_like(scene.flipped)
    if heat is not None:
        return value_colours(
            heat.value, heat.colours, span=(heat.low, heat.high), brush=look.brush, mark=mark
        )
    if look.colours == "islands":
        return island_tones(scene.island_tone, scene.triangle_island, mark)
    return one_tone(NEUTRAL, mark)


def checker_per_tile(look: Look, layout_review: LayoutReview) -> tuple[float, float] | None:
    """Return the checker's squares per tile along u and v: square in texels, whatever the tile."""
    if not look.checker:
        return None
    tile = layout_review.measures.tile
    along_u = look.checker_squares
    target = layout_review.target_density
    if look.checker_per == "metre" and math.isfinite(target) and target > 0:
        along_u = look.checker_squares * tile.width / target
    return along_u, along_u * tile.height / tile.width


def flat_paint(
    scene: FlatScene,
    look: Look,
    colours: Packed,
    *,
    heat: Heat | None = None,
    layers: Layers = NO_LAYERS,
    marks: Marks = NOTHING,
    pixel_ratio: float = 1.0,
) -> Paint:
    """Return how to draw a layout flat.

    colours : from `triangle_colours` of the same heat; layers : what the look asks for
    """
    tile = scene.review.measures.tile
    state = _state(scene.layout.island_count, marks.hover)
    lines: list[Lines] = []
    if look.colours == "overlap":
        lines.append(_overlap_lines(scene.review.measures.overlap))
    if marks.selection:
        rows = scene.outline_rows(marks.selection)
        lines.append(Lines(scene.layout.uv, scene.outline[rows], ACCENT, width_px=2.4, casing=PALE))
    lines += layers.kinds.flat
    pointed, dots = _pointed(flat_seam(scene, marks.seam) if marks.seam >= 0 else None)
    places = [flat_places(scene, marks.finding)] if marks.finding else []
    places += [flat_spot(scene, marks.spot)] if marks.spot else []
    return Paint(
        triangle_colour=colours,
        triangle_island=scene.triangle_island,
        island_state=state,
        checker=checker_per_tile(look, scene.review),
        wire=_WIRE if look.edges else 0.0,
        texel_grid=(tile.width, tile.height) if look.texel_grid else None,
        outlines=scene.outlines,
        outline_strength=_SEAMS_SHOWN if look.seams else _SEAMS_HIDDEN,
        tiles=scene.tiles,
        claim_colour=claim_colours(heat, look.brush)
        if heat and look.colours == "overlap"
        else NO_COLOURS,
        lines=(*lines, *_place_lines(places), *pointed),
        dots=(*_place_dots(places), *dots),
        blocks=layers.blocks,
        halos=layers.halos,
        pixel_ratio=pixel_ratio,
    )


def claim_colours(heat: Heat, brush: tuple[float, float] | None) -> Packed:
    """Return colours by number of claims, 0 to the heat's greatest."""
    claims = np.arange(int(heat.high) + 1, dtype=np.float64)
    none = np.zeros(len(claims), dtype=np.uint8)
    return value_colours(claims, heat.colours, span=(heat.low, heat.high), brush=brush, mark=none)


def solid_colours(solid: SolidScene, layout_index: int, colours: Packed) -> Packed:
    """Return (T,) uint32 colours of the whole asset: `colours` for one layout, neutral beside."""
    whole = np.full(len(solid.mesh.triangle), packed(ASIDE), dtype=np.uint32)
    whole[solid.triangle_start[layout_index] : solid.triangle_start[layout_index + 1]] = colours
    return whole


def solid_paint(
    solid: SolidScene,
    scene: FlatScene,
    look: Look,
    *,
    layout_index: int,
    colours: Packed,
    layers: Layers = NO_LAYERS,
    marks: Marks = NOTHING,
    pixel_ratio: float = 1.0,
) -> Paint:
    """Return how to draw the asset in space. colours : from `solid_colours`."""
    first_island = solid.island_start[layout_index]
    first_point = np.int32(solid.point_start[layout_index])
    hover = marks.hover + first_island if marks.hover >= 0 else -1
    lines: list[Lines] = []
    if marks.selection:
        rows = scene.outline_rows(marks.selection)
        point, segment = _gathered(solid.mesh.point, scene.outline_point[rows] + first_point)
        chosen = Lines(point, segment, ACCENT, width_px=2.4)
        # What the object hides shows through faintly: the selection is never lost.
        lines.append(replace(chosen, strength=0.25, is_on_top=True))
        lines.append(replace(chosen, casing=PALE))
    lines += layers.kinds.solid
    if marks.seam >= 0:
        lines += solid_seam(scene, marks.seam)
    places = [solid_places(scene, marks.finding)] if marks.finding else []
    places += [solid_spot(scene, marks.spot)] if marks.spot else []
    return Paint(
        triangle_colour=colours,
        triangle_island=solid.triangle_island,
        island_state=_state(solid.island_start[-1] + 1, hover),
        checker=checker_per_tile(look, scene.review),
        wire=_WIRE if look.edges else 0.0,
        outlines=_seams(scene.seams, first_point) if look.seams else no_outlines(),
        outline_strength=_SEAMS_SHOWN,
        lines=(*lines, *_place_lines(places, is_on_top=True)),
        dots=_place_dots(places),
        pixel_ratio=pixel_ratio,
    )


def _gathered(point: FloatArray, segment: IntArray) -> tuple[FloatArray, IntArray]:
    """Return only the points that segments use, so that no others are projected."""
    used = np.ascontiguousarray(point[segment.reshape(-1)])
    return used, np.arange(len(used), dtype=np.int32).reshape(-1, 2)


def _seams(seams: Outlines, first_point: np.int32) -> Outlines:
    return replace(seams, segment=seams.segment + first_point) if first_point else seams


def _state(count: int, hover: int) -> ByteArray:
    state = np.zeros(max(count, 1), dtype=np.uint8)
    if 0 <= hover < count:
        state[hover] = HOVERED
    return state


def _overlap_lines(overlap: Overlap) -> Lines:
    point = np.ascontiguousarray(overlap.outline.reshape(-1, 2))
    segment = np.arange(len(point), dtype=np.int32).reshape(-1, 2)
    return Lines(point, segment, ALERT, width_px=1.6, casing=PALE)


def _pointed(
    seam: tuple[tuple[Lines, ...], Dots] | None,
) -> tuple[tuple[Lines, ...], tuple[Dots, ...]]:
    return (seam[0], (seam[1],)) if seam else ((), ())


def _place_lines(places: list[Places], *, is_on_top: bool = False) -> tuple[Lines, ...]:
    return tuple(
        Lines(one.point, one.segment, ALERT, width_px=2.0, casing=PALE, is_on_top=is_on_top)
        for one in places
        if len(one.segment)
    )


def _place_dots(places: list[Places]) -> tuple[Dots, ...]:
    return tuple(Dots(one.spot, ALERT, casing=PALE) for one in places if len(one.spot))
