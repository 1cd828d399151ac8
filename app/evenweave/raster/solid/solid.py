"""`SolidRenderer`: pictures of an object in space. One renderer draws one picture at a time."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import ByteArray, FloatArray, IntArray, read_only
from evenweave.raster.bands import over_bands
from evenweave.raster.camera import Orbit
from evenweave.raster.chunks import Chunks, chunks, triangles_on
from evenweave.raster.colour.colours import GROUND, packed
from evenweave.raster.colour.paint import Lines, Outlines, Paint
from evenweave.raster.ink.dash_kernels import ink_visible_dashes
from evenweave.raster.ink.ink import dash_px, dash_starts, draw_dots, draw_lines, spend
from evenweave.raster.ink.ink_kernels import ink_visible_outlines, ink_visible_segments
from evenweave.raster.patterns import checker_sizes, hatch
from evenweave.raster.sides_kernels import SUB, Part
from evenweave.raster.solid.projection_kernels import Lens, chunk_boxes, project_solid
from evenweave.raster.solid.solid_fill_kernels import SolidBuffers
from evenweave.raster.solid.solid_kernels import rasterise_solid
from evenweave.raster.solid.solid_shading_kernels import Shape, Sight, SolidCoat, shade_solid

_NEAR_SHARE = 2e-3  # of the distance to the target
_LIGHT = np.array([-0.35, 0.5, 0.79])  # in camera axes: from above the viewer's left shoulder
_LINE_BIAS_PX = 3.0
_MOST_SMOOTH_PX = 4_000_000


@dataclass(frozen=True, eq=False)
class SolidMesh:
    """Triangles in space, made ready for drawing.

    point : (P, 3) float64; triangle : (T, 3) int32; uv : (N, 2) float64
    triangle_uv : (T, 3) int32, -1 where a triangle has none
    """

    point: FloatArray
    triangle: IntArray
    uv: FloatArray
    triangle_uv: IntArray
    chunks: Chunks

    @property
    def bounds(self) -> tuple[FloatArray, FloatArray]:
        """Low and high corner (3,) of all triangles; zeros where there are none."""
        if len(self.chunks.bounds) == 0:
            return np.zeros(3), np.zeros(3)
        return self.chunks.bounds[:, :3].min(axis=0), self.chunks.bounds[:, 3:].max(axis=0)


def solid_mesh(
    point: FloatArray,
    triangle: IntArray,
    *,
    uv: FloatArray,
    triangle_uv: IntArray,
    edges: ByteArray | None = None,
) -> SolidMesh:
    """Make triangles ready; takes about 0.2 s per million. `edges` as in `flat_mesh`."""
    return SolidMesh(point, triangle, uv, triangle_uv, chunks(point, triangle, edges))


class SolidRenderer:
    """Draws a `SolidMesh`. Keeps its buffers; what is unchanged is not rasterised again."""

    def __init__(self, mesh: SolidMesh) -> None:
        self.mesh = mesh
        self._screen = np.zeros((len(mesh.point), 2), dtype=np.int64)
        self._inverse = np.zeros(len(mesh.point))
        self._ids: IntArray = np.zeros((0, 0), dtype=np.int32)
        self._depth: NDArray[np.float32] = np.zeros((0, 0), dtype=np.float32)
        self._wire: ByteArray = np.zeros((0, 0), dtype=np.uint8)
        self._ink: ByteArray = np.zeros((0, 0), dtype=np.uint8)
        self._rgba: ByteArray = np.zeros((0, 0, 4), dtype=np.uint8)
        self._shown: tuple[Orbit, int, int] | None = None

    def ids(self, camera: Orbit, width: int, height: int) -> IntArray:
        """Return (H, W) int32: the nearest triangle at each pixel centre, -1 where none.

        The array belongs to the renderer and lives until the next view.
        """
        if self._shown == (camera, width, height):
            return self._ids
        self._resize(width, height)
        mesh, order = self.mesh, self.mesh.chunks
        lens = self._lens(camera)
        over_bands(
            len(mesh.point),
            lambda first, end: project_solid(
                mesh.point, lens, self._screen, self._inverse, first, end
            ),
        )
        box = np.empty((len(order.bounds), 5))
        chunk_boxes(order.bounds, lens, box)
        middle = (order.bounds[:, :3] + order.bounds[:, 3:]) / 2
        front = np.argsort(-(middle @ camera.axes()[2]), kind="stable")
        screen = triangles_on(self._screen, order, box)
        buffers = SolidBuffers(self._ids, self._depth, self._wire)
        over_bands(
            height,
            lambda row0, row1: rasterise_solid(
                mesh.point, lens, screen, self._inverse, front, Part(row0, row1, 0, width), buffers
            ),
        )
        self._shown = (camera, width, height)
        return self._ids

    def picture(self, camera: Orbit, width: int, height: int, *, paint: Paint) -> ByteArray:
        """Return (H, W, 4) uint8 RGBA, opaque; the array lives until the next picture."""
        self.ids(camera, width, height)
        mesh, ratio = self.mesh, paint.pixel_ratio
        check = checker_sizes(paint.checker, ratio)
        ray = self._rays(camera)
        light = np.ascontiguousarray(_LIGHT @ camera.axes())
        packed_rgba = self._rgba.view(np.uint32)[:, :, 0]
        if len(paint.outlines.segment):
            self._ink_outlines(paint.outlines, camera, ratio)
        shape = Shape(
            read_only(mesh.point), read_only(mesh.triangle),
            read_only(mesh.uv), read_only(mesh.triangle_uv),
        )  # fmt: skip
        sight = Sight(read_only(camera.eye()), read_only(ray), read_only(light))
        coat = SolidCoat(
            read_only(paint.triangle_colour), read_only(paint.triangle_island),
            read_only(paint.island_state), read_only(hatch(ratio)),
            paint.wire / 255.0, paint.outline_strength / 255.0, read_only(check),
            np.uint32(packed(GROUND)),
        )  # fmt: skip
        over_bands(
            height,
            lambda row0, row1: shade_solid(
                self._ids, self._wire, shape, sight, coat, row0, row1, self._ink, packed_rgba
            ),
        )
        for lines in paint.lines:
            self._draw_lines(lines, camera, ratio)
        for dots in paint.dots:
            pixel, inverse = self._to_pixel(dots.point, camera)
            draw_dots(self._rgba, self._ink, dots, pixel[inverse > 0], ratio)
        return self._rgba

    def pick(self, x: float, y: float) -> int:
        """Return the triangle at a pixel coordinate of the last view, or -1."""
        column, row = math.floor(x), math.floor(y)
        height, width = self._ids.shape
        if 0 <= column < width and 0 <= row < height:
            return int(self._ids[row, column])
        return -1

    def _lens(self, camera: Orbit) -> Lens:
        height, width = self._ids.shape
        axes, eye = read_only(camera.axes()), read_only(camera.eye())
        near = camera.distance * _NEAR_SHARE
        return Lens(axes, eye, camera.focal_px(height), width / 2, height / 2, near)

    def _rays(self, camera: Orbit) -> FloatArray:
        """Return (3, 3): the ray through the picture's corner, and its steps right and down."""
        height, width = self._ids.shape
        right, up, back = camera.axes()
        step_right, step_down = right / camera.focal_px(height), -up / camera.focal_px(height)
        corner = -back - step_right * width / 2 - step_down * height / 2
        return np.stack((corner, step_right, step_down))

    def _to_pixel(self, point: FloatArray, camera: Orbit) -> tuple[FloatArray, FloatArray]:
        """Return pixel coordinates (N, 2) and 1 / distance (N,), -1 before the near plane."""
        screen = np.zeros((len(point), 2), dtype=np.int64)
        inverse = np.zeros(len(point))
        project_solid(point, self._lens(camera), screen, inverse, 0, len(point))
        return screen / SUB, inverse

    def _draw_lines(self, lines: Lines, camera: Orbit, ratio: float) -> None:
        pixel, inverse = self._to_pixel(lines.point, camera)
        if lines.is_on_top:
            seen = (inverse[lines.segment] > 0).all(axis=1)
            shown = Lines(
                lines.point, np.ascontiguousarray(lines.segment[seen]), lines.colour,
                lines.width_px, lines.strength, lines.casing, dash=lines.dash,
            )  # fmt: skip
            draw_lines(self._rgba, self._ink, shown, pixel, ratio)
            return
        half = lines.width_px / 2 * ratio
        strokes = [(half, lines.colour, dash_px(lines, ratio))]
        if lines.casing is not None:
            strokes.insert(0, (half + 1.2 * ratio, lines.casing, None))
        bias = _LINE_BIAS_PX * ratio / camera.focal_px(self._ids.shape[0])
        for half_width, colour, dash in strokes:
            self._ink_visible(
                pixel, inverse, lines.segment, half_width=half_width, bias=bias, dash=dash
            )
            spend(self._rgba, self._ink, colour=colour, strength=lines.strength)

    def _ink_outlines(self, outlines: Outlines, camera: Orbit, ratio: float) -> None:
        height = self._ids.shape[0]
        bias = _LINE_BIAS_PX * ratio / camera.focal_px(height)
        box = np.empty((len(outlines.bounds), 5))
        chunk_boxes(outlines.bounds, self._lens(camera), box)
        over_bands(
            height,
            lambda row0, row1: ink_visible_outlines(
                self._screen, self._inverse, outlines.segment, outlines.start, box, self._depth,
                bias, 1 / SUB, ratio, 0.6 * ratio, row0, row1, self._ink,
            ),
        )  # fmt: skip

    def _ink_visible(
        self,
        pixel: FloatArray,
        inverse: FloatArray,
        segment: IntArray,
        *,
        half_width: float,
        bias: float,
        dash: tuple[float, float] | None,
    ) -> None:
        """Ink segments where they are not hidden. dash : period and length in pixels, or None."""
        start = dash_starts(pixel, segment) if dash else None

        def band(row0: int, row1: int) -> None:
            if dash is None or start is None:
                ink_visible_segments(
                    pixel, inverse, segment, self._depth, bias, half_width, row0, row1, self._ink
                )
            else:
                ink_visible_dashes(
                    pixel, inverse, segment, start, self._depth, bias, half_width, *dash,
                    row0, row1, self._ink,
                )  # fmt: skip

        over_bands(self._ids.shape[0], band)

    def _resize(self, width: int, height: int) -> None:
        if self._ids.shape != (height, width):
            self._ids = np.empty((height, width), dtype=np.int32)
            self._depth = np.empty((height, width), dtype=np.float32)
            self._wire = np.empty((height, width), dtype=np.uint8)
            self._ink = np.zeros((height, width), dtype=np.uint8)
            self._rgba = np.empty((height, width, 4), dtype=np.uint8)


def smooth_picture(
    mesh: SolidMesh, camera: Orbit, width: int, height: int, *, paint: Paint
) -> ByteArray:
    """Return (H, W, 4) uint8 RGBA drawn at twice the size and averaged two by two.

    Very large pictures, whose pixels are small anyway, are drawn as they are.
    """
    renderer = SolidRenderer(mesh)
    if width * height > _MOST_SMOOTH_PX:
        return renderer.picture(camera, width, height, paint=paint)
    fine = replace(paint, pixel_ratio=2 * paint.pixel_ratio)
    large = renderer.picture(camera, 2 * width, 2 * height, paint=fine).astype(np.uint16)
    rows = large[0::2] + large[1::2]
    return np.asarray((rows[:, 0::2] + rows[:, 1::2] + 2) // 4, dtype=np.uint8)
