"""The flat id buffer: watertight, exact, independent of order, threads and panning."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.raster.meshes import covering, plain_paint, web

from evenweave.arrays import frozen
from evenweave.raster import bands
from evenweave.raster.camera import FlatView, fit_flat
from evenweave.raster.colour.paint import HATCHED, HOVERED, Outlines
from evenweave.raster.flat.count import count_cover
from evenweave.raster.flat.flat import FlatRenderer, flat_mesh

pytestmark = pytest.mark.kernels


@pytest.mark.parametrize("scale", [64.0, 32.0, 131.0, 640.0, 5000.0])
def test_neighbours_cover_every_pixel_of_the_tile_exactly_once(scale: float) -> None:
    mesh = flat_mesh(*web())
    size = min(int(scale), 700)
    count = count_cover(mesh, FlatView(0.5, 0.5, scale, size, size))
    assert count.min() == 1
    assert count.max() == 1


@settings(deadline=None, derandomize=True, max_examples=60)
@given(
    st.lists(st.tuples(*[st.floats(-0.2, 1.2, allow_subnormal=False)] * 6), min_size=1, max_size=12)
)
def test_pixels_show_the_last_triangle_that_holds_their_centre(corners: list[tuple]) -> None:
    vertex = frozen(np.array(corners).reshape(-1, 2))
    triangle = frozen(np.arange(len(vertex), dtype=np.int32).reshape(-1, 3))
    view = FlatView(0.5, 0.5, 60.0, 48, 40)
    ids = FlatRenderer(flat_mesh(vertex, triangle)).ids(view)
    wanted = covering(view.to_pixel(vertex), triangle, ids.shape)
    judged = wanted > -2
    np.testing.assert_array_equal(ids[judged], wanted[judged])


def test_the_order_of_triangles_in_memory_does_not_change_the_picture() -> None:
    vertex, triangle = web(120)
    order = np.random.default_rng(1).permutation(len(triangle))
    view = FlatView(0.4, 0.6, 300.0, 200, 160)
    ids = FlatRenderer(flat_mesh(vertex, triangle)).ids(view)
    mixed = FlatRenderer(flat_mesh(vertex, frozen(triangle[order]))).ids(view)
    back = np.append(order, -1)[mixed]
    np.testing.assert_array_equal(back, ids)


@settings(deadline=None, derandomize=True, max_examples=25)
@given(st.lists(st.tuples(st.floats(-0.3, 0.3), st.floats(-0.3, 0.3)), min_size=1, max_size=5))
def test_panning_shows_what_drawing_anew_shows(steps: list[tuple[float, float]]) -> None:
    mesh = flat_mesh(*web(100))
    moving = FlatRenderer(mesh)
    paint = plain_paint(len(mesh.chunks.number), wire=0.6, checker=(8.0, 8.0))
    u, v = 0.5, 0.5
    moving.picture(FlatView(u, v, 211.0, 130, 100), paint)
    for right, up in steps:
        u, v = u + right, v + up
        view = FlatView(u, v, 211.0, 130, 100)
        moved = moving.picture(view, paint).copy()
        anew = FlatRenderer(mesh)
        np.testing.assert_array_equal(moved, anew.picture(view, paint))
        np.testing.assert_array_equal(moving.ids(view), anew.ids(view))


def test_pictures_do_not_depend_on_the_number_of_threads(monkeypatch: pytest.MonkeyPatch) -> None:
    mesh = flat_mesh(*web())
    view = fit_flat((0, 0, 1, 1), 320, 240)
    paint = plain_paint(len(mesh.chunks.number), wire=0.6, checker=(16.0, 16.0))
    many = FlatRenderer(mesh).picture(view, paint).copy()
    monkeypatch.setattr(bands, "WORKERS", 1)
    np.testing.assert_array_equal(FlatRenderer(mesh).picture(view, paint), many)


def test_a_triangle_without_area_is_not_drawn() -> None:
    vertex = frozen(np.array([[0.1, 0.1], [0.9, 0.9], [0.5, 0.5], [0.5, 0.5]]))
    triangle = frozen(np.array([[0, 1, 2], [2, 3, 2]], dtype=np.int32))
    ids = FlatRenderer(flat_mesh(vertex, triangle)).ids(FlatView(0.5, 0.5, 64.0, 64, 64))
    assert (ids == -1).all()


def test_a_triangle_over_many_tiles_is_drawn_when_close() -> None:
    vertex = frozen(np.array([[-2000.0, -1000.0], [3000.0, -1000.0], [500.0, 5000.0]]))
    mesh = flat_mesh(vertex, frozen(np.array([[0, 1, 2]], dtype=np.int32)))
    assert (FlatRenderer(mesh).ids(FlatView(0.3, 0.3, 4e5, 90, 70)) == 0).all()


def test_a_mesh_without_triangles_gives_the_empty_ground() -> None:
    mesh = flat_mesh(np.zeros((0, 2)), np.zeros((0, 3), dtype=np.int32))
    rgba = FlatRenderer(mesh).picture(FlatView(0.5, 0.5, 50.0, 60, 60), plain_paint(0))
    assert len(np.unique(rgba.reshape(-1, 4), axis=0)) == 2  # the tile, and what lies outside


def test_picking_reads_the_triangle_under_a_pixel() -> None:
    vertex, triangle = web(60)
    renderer = FlatRenderer(flat_mesh(vertex, triangle))
    view = FlatView(0.5, 0.5, 400.0, 400, 400)
    renderer.ids(view)
    for number in range(0, len(triangle), 17):
        middle = vertex[triangle[number]].mean(axis=0)[None]
        x, y = view.to_pixel(middle)[0]
        assert renderer.pick(float(np.floor(x)) + 0.5, float(np.floor(y)) + 0.5) in (
            number,
            renderer.ids(view)[int(y), int(x)],
        )
    assert renderer.pick(-1, 5) == -1
    assert renderer.pick(5, 400) == -1


def sheet() -> tuple[FlatRenderer, int]:
    vertex = frozen(np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]))
    triangle = frozen(np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32))
    return FlatRenderer(flat_mesh(vertex, triangle, np.array([3, 6], dtype=np.uint8))), 2


def test_the_checker_alternates_and_its_chevrons_point_to_plus_v() -> None:
    renderer, count = sheet()
    view = FlatView(0.5, 0.5, 256.0, 256, 256)
    grey = renderer.picture(view, plain_paint(count, checker=(4.0, 4.0)))[:, :, 0].astype(int)
    square = grey[192:, :64]  # the square at the origin, v up
    beside = grey[192:, 64:128]
    assert square[6, 6] > beside[6, 6] + 30
    assert grey[128 + 6, 64 + 6] == square[6, 6]
    # A chevron is widest below and narrows to its apex in the middle, above.
    inverted = np.abs(square - square[6, 6]) > 20
    rows = np.flatnonzero(inverted.any(axis=1))
    top = np.flatnonzero(inverted[rows[0]])
    bottom = np.flatnonzero(inverted[rows[-1]])
    assert abs(top.mean() - 31.5) < 1
    assert np.ptp(bottom) > 3 * max(np.ptp(top), 1)


def test_a_checker_too_small_to_see_becomes_its_mean_tone() -> None:
    renderer, count = sheet()
    view = FlatView(0.5, 0.5, 200.0, 200, 200)
    fine = renderer.picture(view, plain_paint(count, checker=(180.0, 180.0)))[:, :, 0].astype(int)
    coarse = renderer.picture(view, plain_paint(count, checker=(5.0, 5.0)))[:, :, 0].astype(float)
    assert np.ptp(fine) == 0
    assert abs(coarse.mean() - fine.mean()) < 1.0


def test_the_checker_keeps_its_mean_when_squares_end_between_pixels() -> None:
    renderer, count = sheet()
    means = [
        renderer.picture(
            FlatView(0.5, 0.5, 200.0 + step / 7, 200, 200), plain_paint(count, checker=(32.0, 32.0))
        )[:, :, 0].mean()
        for step in range(7)
    ]
    assert np.ptp(means) < 1.0


def test_flips_are_hatched_and_nothing_else_is() -> None:
    renderer, count = sheet()
    view = FlatView(0.5, 0.5, 100.0, 100, 100)
    paint = plain_paint(count)
    paint.triangle_colour[1] |= HATCHED
    grey = renderer.picture(view, paint)[:, :, 0]
    ids = renderer.ids(view)
    assert np.ptp(grey[ids == 0]) == 0
    assert np.ptp(grey[ids == 1]) > 60


def test_a_hovered_island_is_lighter_and_needs_no_new_rasterising() -> None:
    renderer, count = sheet()
    view = FlatView(0.5, 0.5, 100.0, 100, 100)
    paint = plain_paint(count)
    before = renderer.picture(view, paint)[50, 50, 0]
    ids = renderer.ids(view)
    paint.island_state[0] = HOVERED
    after = renderer.picture(view, paint)[50, 50, 0]
    assert after > before
    assert renderer.ids(view) is ids


def test_wire_follows_polygon_edges_and_not_the_diagonal() -> None:
    renderer, count = sheet()
    view = FlatView(0.5, 0.5, 100.0, 140, 140)
    grey = renderer.picture(view, plain_paint(count, wire=1.0))[:, :, 0].astype(int)
    assert grey[70, 20] < 120  # half a pixel inside the left side
    assert np.ptp(grey[40:100, 40:100]) == 0  # the diagonal runs through here


def test_outlines_of_tiny_islands_fade_away() -> None:
    renderer, count = sheet()
    segment = frozen(np.array([[0, 1], [1, 2], [2, 3], [3, 0]], dtype=np.int32))
    outlines = Outlines(
        segment, frozen(np.array([0, 4], dtype=np.int32)), frozen(np.array([[0.0, 0, 1, 1]]))
    )
    darkest = [
        int(
            renderer.picture(
                FlatView(0.5, 0.5, scale, 140, 140), plain_paint(count, outlines=outlines)
            )[:, :, 0].min()
        )
        for scale in (12.0, 30.0, 100.0)
    ]
    assert darkest[0] == 100  # the ground outside the tile: no line at all
    assert darkest[2] < darkest[1] < darkest[0]


def test_the_texel_grid_appears_only_when_close() -> None:
    renderer, count = sheet()
    paint = plain_paint(count, texel_grid=(64, 64))
    far = renderer.picture(FlatView(0.5, 0.5, 64 * 5.0, 90, 90), paint)[:, :, 0]
    assert np.ptp(far.astype(int)) == 0
    near = renderer.picture(FlatView(0.5, 0.5, 64 * 20.0, 90, 90), paint)[:, :, 0]
    dark = np.flatnonzero(near[5] < near.max())
    assert set(np.diff(dark).tolist()) <= {1, 19, 20}
    assert len(dark) >= 4


def test_what_lies_outside_the_tiles_in_use_is_dimmed() -> None:
    vertex = frozen(np.array([[-1.0, 0.0], [1.0, 0.0], [1.0, 1.0], [-1.0, 1.0]]))
    triangle = frozen(np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32))
    renderer = FlatRenderer(flat_mesh(vertex, triangle))
    grey = renderer.picture(FlatView(0.0, 0.5, 50.0, 100, 40), plain_paint(2))[:, :, 0]
    assert (grey[:, :49] < grey[:, 51:]).all()
    both = renderer.picture(
        FlatView(0.0, 0.5, 50.0, 100, 40), plain_paint(2, tiles=((0, 0), (-1, 0)))
    )[:, :, 0]
    assert np.ptp(both) == 0


def test_claims_colour_pixels_by_how_often_they_are_covered() -> None:
    vertex = frozen(np.array([[0, 0], [1, 0], [0, 1], [1, 1]], dtype=np.float64))
    triangle = frozen(np.array([[0, 1, 2], [0, 1, 3]], dtype=np.int32))
    renderer = FlatRenderer(flat_mesh(vertex, triangle))
    colours = np.array([1, 2, 3], dtype=np.uint32)
    view = FlatView(0.5, 0.5, 101.0, 101, 101)
    red = renderer.picture(view, plain_paint(2, claim_colour=colours))[:, :, 0]
    assert red[90, 50] == 3  # under both
    assert red[60, 10] == 2  # under the first alone
