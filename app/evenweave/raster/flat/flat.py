"""`FlatRenderer`: pictures of triangles in the plane. One renderer draws one picture at a time."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import ByteArray, FloatArray, IntArray, read_only
from evenweave.raster.bands import over_bands
from evenweave.raster.camera import FlatView
from evenweave.raster.chunks import Chunks, chunks, triangles_on
from evenweave.raster.colour.colours import GROUND, GROUND_OUTSIDE, packed
from evenweave.raster.colour.paint import Paint
from evenweave.raster.flat.count_kernels import count_triangles
from evenweave.raster.flat.flat_kernels import FlatBuffers, project_flat, rasterise_flat
from evenweave.raster.flat.flat_shading_kernels import (
    Coat,
    FlatChecker,
    FlatSeen,
    Plane,
    shade_flat,
)
from evenweave.raster.ink.ink import draw_dots, draw_lines
from evenweave.raster.ink.ink_kernels import ink_outlines
from evenweave.raster.overlay.blocks import draw_blocks
from evenweave.raster.overlay.halos import draw_halos
from evenweave.raster.patterns import checker_wave, grid_lines, hatch, tile_numbers
from evenweave.raster.sides_kernels import SUB, Part


@dataclass(frozen=True, eq=False)
class FlatMesh:
    """Triangles in the plane, made ready for drawing. vertex : (N, 2) float64, v up."""

    vertex: FloatArray
    chunks: Chunks


def flat_mesh(vertex: FloatArray, triangle: IntArray, edges: ByteArray | None = None) -> FlatMesh:
    """Make triangles (T, 3) int32 over vertices (N, 2) ready; takes about 0.2 s per million.

    edges : (T,) uint8, bit i where the side from corner i to i + 1 is a polygon's edge
    """
    return FlatMesh(vertex, chunks(vertex, triangle, edges))


def to_screen(mesh: FlatMesh, screen: NDArray[np.int64], view: FlatView) -> None:
    """Write the vertices' places (N, 2) in 1/256 pixel, y down."""
    left, top = view.origin
    over_bands(
        len(mesh.vertex),
        lambda first, end: project_flat(mesh.vertex, view.scale, left, top, screen, first, end),
    )


def _coat(paint: Paint) -> Coat:
    return Coat(
        read_only(paint.triangle_colour), read_only(paint.triangle_island),
        read_only(paint.island_state), read_only(hatch(paint.pixel_ratio)),
        np.float32(paint.wire / 255.0), np.float32(paint.outline_strength / 255.0),
    )  # fmt: skip


def _plane(view: FlatView, paint: Paint) -> Plane:
    grid_x, grid_y, strength = grid_lines(view, paint.texel_grid, paint.pixel_ratio)
    tile_x, tile_y, used = tile_numbers(view, paint.tiles)
    grounds = np.array([packed(GROUND), packed(GROUND_OUTSIDE)], dtype=np.uint32)
    return Plane(
        read_only(grid_x), read_only(grid_y), np.float32(strength),
        read_only(tile_x), read_only(tile_y), read_only(used), read_only(grounds),
    )  # fmt: skip


def box_pixels(bounds: FloatArray, view: FlatView) -> FloatArray:
    """Return boxes (K, 4) x0, y0, x1, y1 in pixels of bounds (K, 4) u0, v0, u1, v1."""
    left, top = view.origin
    box = np.empty((len(bounds), 4))
    box[:, 0] = bounds[:, 0] * view.scale + left
    box[:, 1] = top - bounds[:, 3] * view.scale
    box[:, 2] = bounds[:, 2] * view.scale + left
    box[:, 3] = top - bounds[:, 1] * view.scale
    return box


def _spans(step: int, length: int) -> tuple[slice, slice]:
    """Return where what stays in view was, and where it goes."""
    if step >= 0:
        return slice(0, length - step), slice(step, length)
    return slice(-step, length), slice(0, length + step)


def _entered(step: int, length: int) -> tuple[int, int]:
    """Return the first and end of what comes into view."""
    return (0, step) if step > 0 else (length + step, length)


class FlatRenderer:
    """Draws a `FlatMesh`. Keeps its buffers; what is unchanged is not rasterised again."""

    def __init__(self, mesh: FlatMesh) -> None:
        self.mesh = mesh
        self._screen = np.zeros((len(mesh.vertex), 2), dtype=np.int64)
        self._ids: IntArray = np.zeros((0, 0), dtype=np.int32)
        self._wire: ByteArray = np.zeros((0, 0), dtype=np.uint8)
        self._spare_ids, self._spare_wire = self._ids, self._wire
        self._ink: ByteArray = np.zeros((0, 0), dtype=np.uint8)
        self._rgba: ByteArray = np.zeros((0, 0, 4), dtype=np.uint8)
        self._claims: IntArray = np.zeros((1, 1), dtype=np.int32)
        self._claims_known = False
        self._chunk_px = np.zeros((0, 4))
        self._view: FlatView | None = None

    @property
    def view(self) -> FlatView | None:
        """The view last rasterised."""
        return self._view

    def ids(self, view: FlatView) -> IntArray:
        """Return (H, W) int32: the triangle seen at each pixel centre, -1 where none.

        The array belongs to the renderer and lives until the next view.
        """
        view = view.snapped()
        if view == self._view:
            return self._ids
        shift = self._shift_to(view)
        self._resize(view)
        to_screen(self.mesh, self._screen, view)
        self._chunk_px = box_pixels(self.mesh.chunks.bounds, view)
        self._claims_known = False
        if shift is None:
            self._rasterise(0, view.height, 0, view.width)
        else:
            self._move(*shift)
        self._view = view
        return self._ids

    def _shift_to(self, view: FlatView) -> tuple[int, int] | None:
        """Pixels by which the last picture has to move, where the rest of it stays right."""
        last = self._view
        size = (view.width, view.height)
        if last is None or last.scale != view.scale or (last.width, last.height) != size:
            return None
        before, after = last.origin, view.origin
        right, down = after[0] - before[0], after[1] - before[1]
        if abs(right) > view.width // 2 or abs(down) > view.height // 2:
            return None
        return right, down

    def _move(self, right: int, down: int) -> None:
        """Move what is drawn and rasterise what comes into view; the same as drawing anew."""
        height, width = self._ids.shape
        old_x, new_x = _spans(right, width)
        old_y, new_y = _spans(down, height)
        for kept, spare in ((self._ids, self._spare_ids), (self._wire, self._spare_wire)):
            spare[new_y, new_x] = kept[old_y, old_x]
        self._ids, self._spare_ids = self._spare_ids, self._ids
        self._wire, self._spare_wire = self._spare_wire, self._wire
        if down:
            self._rasterise(*_entered(down, height), 0, width)
        if right:
            self._rasterise(0, height, *_entered(right, width))

    def _rasterise(self, row0: int, row1: int, column0: int, column1: int) -> None:
        screen = triangles_on(self._screen, self.mesh.chunks, self._chunk_px)
        buffers = FlatBuffers(self._ids, self._wire)
        over_bands(
            row1 - row0,
            lambda first, end: rasterise_flat(
                screen, Part(row0 + first, row0 + end, column0, column1), buffers
            ),
        )

    def picture(self, view: FlatView, paint: Paint) -> ByteArray:
        """Return (H, W, 4) uint8 RGBA, opaque; the array lives until the next picture."""
        view = view.snapped()
        self.ids(view)
        ratio = paint.pixel_ratio
        if len(paint.claim_colour):
            self._count_claims()
        seen = FlatSeen(
            read_only(self._ids), read_only(self._wire), read_only(self._claims),
            read_only(paint.claim_colour),
        )  # fmt: skip
        x, y, size = checker_wave(view, paint.checker, ratio)
        checker = FlatChecker(read_only(x), read_only(y), read_only(size))
        coat, plane = _coat(paint), _plane(view, paint)
        packed_rgba = self._rgba.view(np.uint32)[:, :, 0]
        half_width = 0.6 * ratio
        outlines = paint.outlines
        outline_px = box_pixels(outlines.bounds, view)

        def shade(row0: int, row1: int) -> None:
            if len(outlines.segment):
                ink_outlines(
                    self._screen, outlines.segment, outlines.start, outline_px, 1 / SUB, ratio,
                    half_width, row0, row1, self._ink,
                )  # fmt: skip
            shade_flat(seen, coat, checker, plane, row0, row1, self._ink, packed_rgba)

        over_bands(view.height, shade)
        if paint.halos is not None:
            draw_halos(self._rgba, self._ids, paint.halos, view, ratio)
        if paint.blocks is not None:
            draw_blocks(self._rgba, self._ids, paint.blocks, view, ratio)
        for lines in paint.lines:
            draw_lines(self._rgba, self._ink, lines, view.to_pixel(lines.point), ratio)
        for dots in paint.dots:
            draw_dots(self._rgba, self._ink, dots, view.to_pixel(dots.point), ratio)
        return self._rgba

    def pick(self, x: float, y: float) -> int:
        """Return the triangle at a pixel coordinate of the last view, or -1."""
        column, row = math.floor(x), math.floor(y)
        height, width = self._ids.shape
        if 0 <= column < width and 0 <= row < height:
            return int(self._ids[row, column])
        return -1

    def _count_claims(self) -> None:
        """Count how many triangles cover each pixel of the view, once per view."""
        if self._claims_known:
            return
        if self._claims.shape != self._ids.shape:
            self._claims = np.empty(self._ids.shape, dtype=np.int32)
        self._claims[:] = 0
        screen = triangles_on(self._screen, self.mesh.chunks, self._chunk_px)
        height, width = self._ids.shape
        over_bands(
            height,
            lambda row0, row1: count_triangles(screen, Part(row0, row1, 0, width), self._claims),
        )
        self._claims_known = True

    def _resize(self, view: FlatView) -> None:
        size = (view.height, view.width)
        if self._ids.shape != size:
            self._ids = np.empty(size, dtype=np.int32)
            self._spare_ids = np.empty(size, dtype=np.int32)
            self._wire = np.empty(size, dtype=np.uint8)
            self._spare_wire = np.empty(size, dtype=np.uint8)
            self._ink = np.zeros(size, dtype=np.uint8)
            self._rgba = np.empty((*size, 4), dtype=np.uint8)
