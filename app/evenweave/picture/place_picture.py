"""A small picture of the place that a warning speaks of."""

from __future__ import annotations

from evenweave.arrays import ByteArray
from evenweave.check.finding import Finding
from evenweave.picture.painting.painting import Marks, flat_paint, triangle_colours
from evenweave.picture.scene.heat import heat
from evenweave.picture.scene.scene import FlatScene
from evenweave.raster.camera import FlatView, fit_flat
from evenweave.raster.colour.paint import Packed
from evenweave.raster.flat.flat import FlatRenderer
from evenweave.raster.look import Colours, Look

_COLOURS: dict[str, Colours] = {
    "stretch": "stretch",
    "density": "density",
    "density-range": "density",
    "density-step": "density",
    "budget": "density",
    "overlap": "overlap",
    "self-overlap": "overlap",
    "flipped": "plain",
}
_SHARE_OF_ISLAND = 0.5
_LEAST_TEXELS = 48


def place_view(scene: FlatScene, finding: Finding, *, width: int, height: int) -> FlatView:
    """Return a view of the worst place: round its point within its island, else of the island."""
    islands = (finding.worst,) if finding.worst >= 0 else finding.islands
    box = scene.bounds(islands) or scene.tile_bounds
    if len(finding.points) == 0 or finding.worst < 0:
        return fit_flat(box, width, height)
    span = max(box[2] - box[0], box[3] - box[1])
    tile = scene.review.measures.tile
    least = _LEAST_TEXELS / max(tile.width, tile.height)
    half = max(_SHARE_OF_ISLAND * span, least) / 2
    u, v = (float(x) for x in finding.points[0])
    return fit_flat((u - half, v - half, u + half, v + half), width, height)


def place_look(finding: Finding) -> Look:
    """Return colours that show what the warning is about."""
    return Look(colours=_COLOURS.get(finding.check, "islands"), flips=finding.check == "flipped")


def place_colours(scene: FlatScene, look: Look) -> Packed:
    """Return (T,) uint32 colours of a layout's triangles for pictures of places."""
    return triangle_colours(scene, look, heat(scene.review, look.colours, mesh=scene.mesh))


def place_picture(
    scene: FlatScene,
    finding: Finding,
    *,
    width: int,
    height: int,
    pixel_ratio: float = 1.0,
    colours: Packed | None = None,
) -> ByteArray:
    """Return (H, W, 4) uint8 RGBA of the warning's worst place, with its marks.

    colours : from `place_colours` of the warning's `place_look`, if at hand
    """
    look = place_look(finding)
    colours = place_colours(scene, look) if colours is None else colours
    paint = flat_paint(scene, look, colours, marks=Marks(finding=finding), pixel_ratio=pixel_ratio)
    view = place_view(scene, finding, width=width, height=height)
    return FlatRenderer(scene.mesh).picture(view, paint).copy()
