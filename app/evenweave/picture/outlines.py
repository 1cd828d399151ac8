"""UV outlines to paint over: SVG with one path an island, or a transparent picture of a tile."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np

from evenweave.arrays import ByteArray, FloatArray, IntArray
from evenweave.check.numbers import printable
from evenweave.layout import udim
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.seams.corners import corner_faces
from evenweave.picture.scene.solid_scene import next_corner
from evenweave.pipeline import LayoutReview
from evenweave.raster.bands import over_bands
from evenweave.raster.colour.colours import INK
from evenweave.raster.ink.ink_kernels import ink_segments

TilePlace = tuple[int, int]


def painted_tiles(layout_review: LayoutReview) -> list[TilePlace]:
    """Return the first tile; where UDIM is allowed those that have a number and hold islands."""
    if not layout_review.udim:
        return [(0, 0)]
    used = {(int(column), int(row)) for column, row in layout_review.measures.coverage.tile}
    return sorted(tile for tile in used if udim.number(*tile)) or [(0, 0)]


def tile_files(path: Path, tiles: Sequence[TilePlace]) -> dict[TilePlace, Path]:
    """Return the file of each tile's picture: of several, each carries its UDIM number."""
    if len(tiles) == 1:
        return {tiles[0]: path}
    return {
        tile: path.with_name(f"{path.stem}.{udim.number(*tile)}{path.suffix}") for tile in tiles
    }


def outline_edges(layout: Layout) -> tuple[IntArray, IntArray]:
    """Return the edges round islands, (O, 2) int32 rows of `layout.uv`, and their island, (O,)."""
    corner = layout.edges.outline
    island = layout.face_island[corner_faces(layout)[corner]]
    order = np.argsort(island, kind="stable")
    corner = corner[order]
    edge = np.stack((layout.corner_uv[corner], layout.corner_uv[next_corner(layout)[corner]]), 1)
    return edge.astype(np.int32), island[order].astype(np.int32)


def island_rings(layout: Layout) -> list[list[list[int]]]:
    """Return for each island its outlines: rows of `layout.uv` in walking order.

    A closed outline ends with the row it began with.
    """
    edge, island = outline_edges(layout)
    start = np.searchsorted(island, np.arange(layout.island_count + 1)).tolist()
    return [_rings(edge[start[i] : start[i + 1]].tolist()) for i in range(layout.island_count)]


def _rings(edges: list[list[int]]) -> list[list[int]]:
    onward: dict[int, list[int]] = {}
    for first, second in reversed(edges):
        onward.setdefault(first, []).append(second)
    rings = []
    for first, _ in edges:
        while onward.get(first):
            ring = [first]
            while onward.get(ring[-1]):
                ring.append(onward[ring[-1]].pop())
                if ring[-1] == first:
                    break
            rings.append(ring)
    return rings


def outlines_svg(layouts: Sequence[Layout], tile: Tile, tiles: Sequence[TilePlace]) -> str:
    """Return the outlines as SVG text, one group a layout and one named path an island.

    One unit is one texel; the picture covers `tiles` (column and row), v runs up in it.
    """
    columns, rows = [c for c, _ in tiles], [r for _, r in tiles]
    left, top = min(columns) * tile.width, -(max(rows) + 1) * tile.height
    width = (max(columns) + 1 - min(columns)) * tile.width
    height = (max(rows) + 1 - min(rows)) * tile.height
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="{left} {top} {width} {height}">',
        f"<title>{_text(', '.join(_name(one) for one in layouts))}</title>",
    ]
    taken: set[str] = set()
    for layout in layouts:
        lines.append(
            f'<g id="{_identity(_name(layout), taken)}" fill="none" stroke="#000000" '
            'stroke-width="1" stroke-linejoin="round">'
        )
        lines.append(f"<title>{_text(_name(layout))}</title>")
        lines += _paths(layout, tile, taken)
        lines.append("</g>")
    return "\n".join([*lines, "</svg>", ""])


def _paths(layout: Layout, tile: Tile, taken: set[str]) -> Iterator[str]:
    point = layout.uv * [tile.width, -tile.height]
    for name, rings in zip(layout.island_name, island_rings(layout), strict=True):
        if rings:
            yield (
                f'<path id="{_identity(name, taken)}" d="{_steps(point, rings)}">'
                f"<title>{_text(name)}</title></path>"
            )


def _steps(point: FloatArray, rings: list[list[int]]) -> str:
    """Write outlines as a path's data."""
    parts = []
    for ring in rings:
        is_closed = ring[0] == ring[-1] and len(ring) > 1
        rows = ring[:-1] if is_closed else ring
        places = [f"{_short(x)} {_short(y)}" for x, y in point[rows].tolist()]
        parts.append(f"M{' '.join(places)}{'Z' if is_closed else ''}")
    return "".join(parts)


def _short(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _name(layout: Layout) -> str:
    return layout.name or "no material"


def _text(name: str) -> str:
    return escape(printable(name))


def _identity(name: str, taken: set[str]) -> str:
    """Return an XML identifier that reads like the name, each once."""
    stem = re.sub(r"[^\w.-]+", "_", printable(name)).strip("_")
    stem = stem if re.match(r"[^\W\d]", stem) else f"_{stem}"
    wanted, number = stem, 1
    while wanted in taken:
        number += 1
        wanted = f"{stem}-{number}"
    taken.add(wanted)
    return wanted


def outlines_picture(
    layout: Layout, tile: Tile, place: TilePlace = (0, 0), *, line_px: float = 1.5
) -> ByteArray:
    """Return (height, width, 4) uint8 RGBA of one tile: dark outlines on nothing.

    place : column and row of the tile; line_px : width of the lines in texels
    """
    edge, _ = outline_edges(layout)
    point = (layout.uv - place) * [tile.width, tile.height]
    point[:, 1] = tile.height - point[:, 1]
    reach = line_px / 2 + 1
    low, high = point[edge].min(axis=1), point[edge].max(axis=1)
    is_seen = ((high > -reach) & (low < [tile.width + reach, tile.height + reach])).all(axis=1)
    picture = np.zeros((tile.height, tile.width, 4), dtype=np.uint8)
    ink = np.zeros((tile.height, tile.width), dtype=np.uint8)
    segment = np.ascontiguousarray(edge[is_seen])
    over_bands(
        tile.height,
        lambda row0, row1: ink_segments(point, segment, line_px / 2, row0, row1, ink),
    )
    picture[:, :, :3] = INK
    picture[:, :, 3] = ink
    return picture
