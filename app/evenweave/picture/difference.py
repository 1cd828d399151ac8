"""Two passes of a layout side by side, coloured by what became of each island."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from PIL import Image

from evenweave.arrays import ByteArray, IntArray, ints
from evenweave.check.finding import Severity
from evenweave.check.numbers import counted, printable
from evenweave.compare.comparison import Comparison, LayoutChange
from evenweave.compare.findings import FindingChange
from evenweave.compare.states import STATES, State
from evenweave.compare.verdict import verdict
from evenweave.errors import FileProblem
from evenweave.picture.lettering.lettering import Page, shortened, width
from evenweave.picture.lettering.marks import sign
from evenweave.picture.lettering.sheet import GROUND, QUIET, SIGN, Box, Sheet, sheet
from evenweave.picture.lettering.sheet import INK as TEXT
from evenweave.picture.painting.painting import flat_paint
from evenweave.picture.scene.scene import Bounds, FlatScene, prepare_scene
from evenweave.raster.camera import fit_flat
from evenweave.raster.colour.colouring import island_tones
from evenweave.raster.colour.colours import ALERT, INK, NEUTRAL, PALE, Colour
from evenweave.raster.colour.paint import Dots, Lines, Packed
from evenweave.raster.flat.flat import FlatRenderer
from evenweave.raster.look import Look

# Okabe & Ito, "Color Universal Design", 2008: told apart with any colour vision.
STATE_COLOURS: dict[State, Colour] = {
    "unchanged": NEUTRAL,
    "moved": (86, 180, 233),
    "scaled": (240, 228, 66),
    "turned": (0, 114, 178),
    "mirrored": (204, 121, 167),
    "re-flattened": (230, 159, 0),
    "re-cut": (213, 94, 0),
    "lost": (40, 40, 44),
    "added": (0, 158, 115),
}
_STANDING = {"new": "new", "grown": "worse", "fixed": "fixed", "gone": "gone"}
_LARGE, _SMALL, _GRID = 20, 13, 8
_MOST_PATHS = 200


def layout_named(comparison: Comparison, wanted: str | None) -> LayoutChange:
    """Return a layout by its name or number (from 1); without one, that in which most changed.

    Raises FileProblem where there is no such layout.
    """
    path = comparison.new.asset.path
    if not comparison.layouts:
        raise FileProblem(path, "", "it has no layout", "give a mesh with faces")
    if wanted is None:
        return max(comparison.layouts, key=lambda change: _changed(comparison, change))
    for number, change in enumerate(comparison.layouts, start=1):
        if wanted in (change.name, str(number)):
            return change
    names = ", ".join(change.name for change in comparison.layouts)
    raise FileProblem(path, "", f"there is no layout named {wanted}", f"it has {names}")


def _changed(comparison: Comparison, change: LayoutChange) -> int:
    before, after = old_states(comparison, change.old), new_states(comparison, change.new)
    return int((before > 0).sum() + (after > 0).sum())


def old_states(comparison: Comparison, layout: int) -> IntArray:
    """Return (I,) index into STATES of each island of an old layout; of none where it is -1."""
    if layout < 0:
        return ints([])
    first = comparison.match.old.layout_island
    states = comparison.islands.state[int(first[layout]) : int(first[layout + 1])]
    return ints([STATES.index(state) for state in states])


def new_states(comparison: Comparison, layout: int) -> IntArray:
    """Return the same of a new layout; of two that became one island the graver."""
    if layout < 0:
        return ints([])
    codes = np.zeros(comparison.match.new.island_count, dtype=np.int32)
    pieces = comparison.match.piece
    row_code = np.array([STATES.index(state) for state in comparison.islands.state], dtype=np.int32)
    is_recut = row_code[pieces[:, 0]] == STATES.index("re-cut")
    codes[pieces[is_recut, 1]] = STATES.index("re-cut")
    has = comparison.islands.new >= 0
    np.maximum.at(codes, comparison.islands.new[has], row_code[has])
    first = comparison.match.new.layout_island
    return ints(codes[first[layout] : first[layout + 1]])


def state_colours(scene: FlatScene, codes: IntArray, hatched: IntArray | None = None) -> Packed:
    """Return (T,) uint32 colours of a layout's triangles by their islands' states.

    hatched : faces to hatch
    """
    table = np.array(list(STATE_COLOURS.values()), dtype=np.uint8)
    mark = np.zeros(len(scene.triangle_island), dtype=np.uint8)
    if hatched is not None and len(hatched):
        is_hatched = np.zeros(len(scene.layout.asset_face), dtype=np.uint8)
        is_hatched[hatched] = 1
        mark = is_hatched[scene.layout.triangle_face]
    return island_tones(table[codes], scene.triangle_island, mark)


def difference(
    comparison: Comparison, change: LayoutChange, width_px: int, height_px: int
) -> ByteArray:
    """Draw a layout before and after, (height, width, 3) uint8 RGB."""
    page = Page(width_px, height_px, GROUND)
    place = sheet(width_px, height_px, views=2)
    before = prepare_scene(comparison.old).flats[change.old] if change.old >= 0 else None
    after = prepare_scene(comparison.new).flats[change.new] if change.new >= 0 else None
    bounds = _bounds([scene for scene in (before, after) if scene is not None])
    _draw_view(page, place.views[0], place.unit, before, old_states(comparison, change.old), bounds)
    _draw_view(
        page, place.views[1], place.unit, after, new_states(comparison, change.new), bounds,
        comparison=comparison, layout=change.new,
    )  # fmt: skip
    for box, word in zip(place.views, ("before", "after"), strict=True):
        _draw_plate(page, box, place.unit, word)
    _draw_title(page, place, comparison, change)
    _draw_states(page, place, comparison, change)
    _draw_findings(page, place, comparison, change)
    return np.asarray(page.image)


def _bounds(scenes: Sequence[FlatScene]) -> Bounds:
    boxes = np.array([scene.home_bounds for scene in scenes] or [(0, 0, 1, 1)], dtype=np.float64)
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _draw_view(
    page: Page,
    box: Box,
    unit: float,
    scene: FlatScene | None,
    codes: IntArray,
    bounds: Bounds,
    *,
    comparison: Comparison | None = None,
    layout: int = -1,
) -> None:
    if scene is None:
        words, small = "no such layout in this pass", round(_SMALL * unit)
        place = (box.left + (box.width - width(words, small)) / 2, box.top + box.height / 2)
        page.write(place, words, small, colour=QUIET)
        return
    senseless = comparison.new_faces[layout] if comparison is not None else None
    colours = state_colours(scene, codes, senseless.senseless if senseless else None)
    paint = flat_paint(scene, Look(), colours, pixel_ratio=unit)
    if comparison is not None and senseless is not None:
        path = _paths(comparison, layout)
        places = Dots(path.point[1::2].copy(), INK, radius_px=3.0, casing=PALE)
        alarming = Dots(senseless.points, ALERT, casing=PALE)
        dots = tuple(comparison for comparison in (places, alarming) if len(comparison.point))
        paint = replace(paint, dots=dots, lines=(*paint.lines, path))
    view = fit_flat(bounds, box.width, box.height)
    image = FlatRenderer(scene.mesh).picture(view, paint)
    page.image.paste(Image.fromarray(image[:, :, :3]), (box.left, box.top))


def _paths(comparison: Comparison, layout: int) -> Lines:
    """Return lines from where islands were to where they are now: the longest, not all."""
    islands, tile = comparison.islands, comparison.new.layouts[layout].measures.tile
    first, last = comparison.match.new.layout_island[layout : layout + 2].tolist()
    is_here = (islands.old >= 0) & (islands.new >= first) & (islands.new < last)
    rows = np.flatnonzero(is_here)
    offset = islands.offset_px[rows] / [tile.width, tile.height]
    length = np.linalg.norm(offset, axis=1)
    order = np.argsort(-length, kind="stable")[:_MOST_PATHS]
    order = order[length[order] > 0.01]
    box = comparison.new.layouts[layout].measures.island.bounds[islands.new[rows[order]] - first]
    end = (box[:, :2] + box[:, 2:]) / 2
    point = np.stack((end - offset[order], end), axis=1).reshape(-1, 2)
    segment = np.arange(len(point), dtype=np.int32).reshape(-1, 2)
    return Lines(np.ascontiguousarray(point), segment, INK, width_px=1.0, casing=PALE)


def _draw_plate(page: Page, box: Box, unit: float, word: str) -> None:
    small, pad = round(_SMALL * unit), round(0.5 * _GRID * unit)
    wide, tall = round(width(word, small)) + 3 * pad, small + 2 * pad
    corners = [(0, 0), (wide, 0), (wide, tall), (0, tall)]
    page.polygon([(box.left + x, box.top + y) for x, y in corners], GROUND)
    page.write((box.left + pad, box.top + small + 0.6 * pad), word, small, colour=TEXT)


def _draw_title(page: Page, place: Sheet, comparison: Comparison, change: LayoutChange) -> None:
    box, unit = place.title, place.unit
    large, small = round(_LARGE * unit), round(_SMALL * unit)
    files = " → ".join(
        printable(review.asset.path.name) for review in (comparison.old, comparison.new)
    )
    name = printable(change.name) or "no material"
    title = shortened(f"{files}, {name}", box.width, large, "bold")
    page.write((box.left, box.top + large), title, large, colour=TEXT, weight="bold")
    line = _whole_clauses(printable(verdict(comparison)), box.width, small)
    page.write((box.left, box.top + large + 1.7 * small), line, small, colour=QUIET)


def _whole_clauses(sentence: str, room_px: float, size_px: int) -> str:
    """Return as many of a sentence's clauses as fit on a line, shortened if not even one does."""
    clauses = sentence.rstrip(".").split("; ")
    while len(clauses) > 1 and width("; ".join(clauses) + ".", size_px) > room_px:
        clauses.pop()
    return shortened("; ".join(clauses) + ".", room_px, size_px)


def _draw_states(page: Page, place: Sheet, comparison: Comparison, change: LayoutChange) -> None:
    """Explain the colours, with how many islands each is on."""
    box, small = place.legend, round(_SMALL * place.unit)
    count = Counter(STATES[code] for code in old_states(comparison, change.old).tolist())
    added = new_states(comparison, change.new) == STATES.index("added")
    count["added"] = int(added.sum())
    shown = [state for state in STATES if count[state]]
    rows = max(int(box.height / (1.5 * small)), 1)
    for number, state in enumerate(shown):
        x = box.left + (number // rows) * box.width / 2
        y = box.top + (number % rows) * 1.5 * small
        side = 0.8 * small
        corners = [(0.0, 0.0), (side, 0.0), (side, side), (0.0, side)]
        page.polygon([(x + dx, y + 0.25 * small + dy) for dx, dy in corners], STATE_COLOURS[state])
        words = f"{state}, {counted(count[state], 'island')}"
        page.write((x + 1.4 * small, y + small), words, small, colour=TEXT)


def _draw_findings(page: Page, place: Sheet, comparison: Comparison, change: LayoutChange) -> None:
    """List the layout's warnings that are new, worse or fixed, as far as there is room."""
    box, small = place.findings, round(_SMALL * place.unit)
    found = [finding for finding in comparison.findings if _is_shown(finding, change)]
    rows = max(int(box.height / (1.4 * small)), 1)
    column = (box.width - 2 * _GRID * place.unit) / 2
    room = 2 * rows
    groups = Counter((f.standing, f.finding.severity, f.finding.title) for f in found)
    lines = [
        (severity, f"{_STANDING[standing]}: {title}" + (f", {times:,} times" if times > 1 else ""))
        for (standing, severity, title), times in groups.items()
    ]
    kept = lines if len(lines) <= room else lines[: room - 1]
    if not lines:
        page.write((box.left, box.top + small), "No warning changed.", small, colour=QUIET)
    for number, (severity, text) in enumerate(kept):
        x = box.left + (number // rows) * (column + 2 * _GRID * place.unit)
        y = box.top + small + round((number % rows) * 1.4 * small)
        _draw_line(page, (x, y), severity, shortened(text, column - 1.4 * small, small), small)
    if len(kept) < len(lines):
        x = box.left + column + 2 * _GRID * place.unit
        y = box.top + small + round((rows - 1) * 1.4 * small)
        rest = f"and {len(lines) - len(kept):,} more"
        page.write((x + 1.4 * small, y), rest, small, colour=QUIET)


def _draw_line(
    page: Page, place: tuple[float, float], severity: Severity, text: str, small: int
) -> None:
    x, y = place
    side = 0.72 * small
    page.polygon(sign(severity, x, y - side, side), SIGN[severity])
    page.write((x + 1.4 * small, y), text, small, colour=TEXT)


def _is_shown(finding: FindingChange, change: LayoutChange) -> bool:
    if finding.standing == "remaining":
        return False
    return finding.layout == (change.old if finding.is_past else change.new)
