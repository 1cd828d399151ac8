"""One simple outline round a block, with few corners, for solvers that want no more."""

from __future__ import annotations

from typing import Any

import numpy as np

from evenweave.arrays import FloatArray
from evenweave.trial.nest.blocks import Block

MOST_CORNERS = 50
FIRST_TOLERANCE_PX = 0.25
LEAST_HOLE = 0.02  # of the area of the block
SPECK_PX = 0.05  # half the side of what stands for a block without area


def block_outline(block: Block) -> FloatArray:
    """Return (N, 2) float64 texels, a simple polygon that holds the whole block; holes filled.

    With 50 corners or less where moving outwards by some texels gives that, else with more; the
    convex hull where that saves most of them.
    """
    corners, _ = _simplified(block)
    return corners


def _simplified(block: Block) -> tuple[FloatArray, Any]:
    """Return the corners, and the parts into which the block's lines divide the plane."""
    import shapely

    cells = _cells(block)
    whole = _covered(block, cells)
    tolerance = FIRST_TOLERANCE_PX
    reach = float(np.ptp(block.line_px.reshape(-1, 2), axis=0).max())
    ring = whole
    while len(ring.exterior.coords) > MOST_CORNERS + 1 and tolerance < reach / 100:
        # Closing fills notches; what then moves outwards by less than simplifying moves inwards
        # is taken back.
        closed = whole.buffer(2 * tolerance).buffer(-2 * tolerance)
        simple = _filled(closed.buffer(tolerance, join_style="mitre").simplify(tolerance))
        if simple is not None and simple.is_valid and simple.covers(whole):
            ring = simple
        tolerance *= 2
    if len(ring.exterior.coords) > MOST_CORNERS + 1:
        hull = whole.convex_hull
        ring = hull if len(hull.exterior.coords) < len(ring.exterior.coords) / 4 else ring
    return shapely.get_coordinates(ring.exterior)[:-1], cells


def block_shape(block: Block) -> Any:
    """Return a polygon as `block_outline`, but with the holes that something might lie in."""
    import shapely

    corners, cells = _simplified(block)
    filled = shapely.Polygon(corners)
    holes = [one for cell in cells if (one := _hole(block, cell)) is not None]
    pierced = filled.difference(shapely.unary_union(holes)) if holes else filled
    return pierced if pierced.geom_type == "Polygon" else filled


def has_holes(block: Block) -> bool:
    """Tell whether something might lie within the block."""
    return any(_hole(block, cell) is not None for cell in _cells(block))


def _hole(block: Block, cell: Any) -> Any:
    """Return what is surely free in a cell that the block leaves open, None for nothing."""
    if cell.area < LEAST_HOLE * block.area_px:
        return None
    point = cell.representative_point()
    x0, y0, x1, y1 = block.fill_px.T
    is_up, is_down = (y0 <= point.y) & (point.y < y1), (y1 <= point.y) & (point.y < y0)
    side = (x1 - x0) * (point.y - y0) - (point.x - x0) * (y1 - y0)
    weight = block.fill_weight
    if weight[is_up & (side > 0)].sum() != weight[is_down & (side < 0)].sum():
        return None
    free = cell.buffer(-2 * FIRST_TOLERANCE_PX).simplify(FIRST_TOLERANCE_PX)
    return free if _filled(free) is not None else None


def _cells(block: Block) -> Any:
    """Return the parts into which the block's lines divide the plane, the outside left out."""
    import shapely

    lines = shapely.linestrings(block.line_px.reshape(-1, 2, 2))
    return shapely.get_parts(shapely.polygonize([shapely.unary_union(lines)]))


def _covered(block: Block, cells: Any) -> Any:
    """Return a polygon without holes that holds every line of the block."""
    import shapely

    filled = _filled(shapely.unary_union(cells)) if len(cells) else None
    points = shapely.MultiPoint(block.line_px.reshape(-1, 2))
    if filled is not None and filled.buffer(SPECK_PX / 10).covers(points):
        return filled
    hull = points.convex_hull
    return hull if hull.geom_type == "Polygon" else hull.buffer(SPECK_PX, join_style="mitre")


def _filled(shape: Any) -> Any:
    """Return a polygon without its holes, or None where the shape is not one polygon."""
    import shapely

    if shape.geom_type != "Polygon" or shape.is_empty:
        return None
    return shapely.Polygon(shape.exterior)
