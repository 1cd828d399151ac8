"""Blocks, halos and dashes: what is drawn over a flat picture, pixel by pixel."""

from __future__ import annotations

import numpy as np
import pytest

from evenweave.arrays import frozen
from evenweave.raster.camera import FlatView, Orbit
from evenweave.raster.colour.colours import packed
from evenweave.raster.ink.ink import dash_starts, stroke
from evenweave.raster.overlay.blocks import Blocks, draw_blocks
from evenweave.raster.overlay.halos import Halos, draw_halos
from evenweave.raster.overlay.halos_kernels import near_distances
from evenweave.raster.overlay.tile_places import tile_places

pytestmark = pytest.mark.kernels

VIEW = FlatView(0.5, 0.5, 64.0, 64, 64)
GREY = 100


def canvas(view: FlatView = VIEW) -> tuple[np.ndarray, np.ndarray]:
    rgba = np.full((view.height, view.width, 4), GREY, dtype=np.uint8)
    return rgba, np.full((view.height, view.width), -1, dtype=np.int32)


def blocks(holds: list[list[int]], **more) -> Blocks:
    tone = frozen(np.array([packed((250, 0, 0)), packed((0, 250, 0))], dtype=np.uint32))
    rows = frozen(np.array([holds], dtype=np.int32))
    return Blocks(rows, ((0, 0),), more.get("per_tile", (2.0, 2.0)), tone)


def test_pixels_find_their_tile_and_place() -> None:
    place = tile_places(FlatView(1.5, 0.5, 10.0, 30, 10), ((0, 0), (2, 0)))
    number = [int(place.number[0, x]) if x >= 0 else -1 for x in place.tile_x]
    assert number == [0] * 10 + [-1] * 10 + [1] * 10
    assert place.inside_x[0] == pytest.approx(0.05)
    assert place.inside_y[0] == pytest.approx(0.95)
    outside = tile_places(FlatView(-4.5, 0.5, 10.0, 10, 10), ((0, 0),))
    assert (outside.tile_x == -1).all()


def test_an_island_grows_into_its_block_and_several_are_dark() -> None:
    rgba, ids = canvas()
    draw_blocks(rgba, ids, blocks([[0, -1], [-2, 1]]), VIEW, 1.0)
    lower_left, lower_right = rgba[50, 12], rgba[50, 52]
    upper_left, upper_right = rgba[20, 8], rgba[20, 52]
    assert lower_left[0] > 180
    assert lower_left[1] < GREY
    assert tuple(lower_right[:3]) == (GREY,) * 3
    assert upper_left.max() == 255  # alpha
    assert upper_left[:3].max() < 60
    assert upper_right[1] > 180


def test_blocks_of_several_are_crossed_from_corner_to_corner() -> None:
    rgba, ids = canvas()
    draw_blocks(rgba, ids, blocks([[-2, -2], [-2, -2]]), VIEW, 1.0)
    assert rgba[16, 16, 0] > 180
    assert rgba[5, 26, 0] > 180
    assert rgba[8, 16, 0] < 60


def test_triangles_keep_their_colours_in_their_own_blocks() -> None:
    rgba, ids = canvas()
    ids[:, :] = 0
    draw_blocks(rgba, ids, blocks([[0, 0], [0, 0]]), VIEW, 1.0)
    inside = rgba[4:28, 4:28, :3]
    assert (inside == GREY).all()


def test_the_last_blocks_of_a_tile_are_cut_off() -> None:
    rgba, ids = canvas()
    draw_blocks(rgba, ids, blocks([[-1, 0], [-1, 0]], per_tile=(1.5, 1.5)), VIEW, 1.0)
    red = rgba[30, :, 0] > 150
    assert not red[:41].any()
    assert red[44:].all()


def test_nothing_is_drawn_outside_of_the_tiles() -> None:
    view = FlatView(1.5, 0.5, 64.0, 64, 64)
    rgba, ids = canvas(view)
    draw_blocks(rgba, ids, blocks([[-2, -2], [-2, -2]]), view, 1.0)
    assert (rgba[:, :, :3] == GREY).all()


def distances(piece: list[list[float]], island: list[int], reach: float):
    shape = (1, 16, 16)
    nearest, second = (np.full(shape, 1e6, dtype=np.float32) for _ in range(2))
    owner = np.full(shape, -1, dtype=np.int32)
    lines = np.array(piece, dtype=np.float64)
    kind = np.array(island, dtype=np.int32)
    near_distances(lines, kind, np.zeros_like(kind), 1.0, reach, nearest, second, owner)
    return nearest[0], second[0], owner[0]


def test_distances_to_the_two_nearest_islands_are_exact() -> None:
    rng = np.random.default_rng(7)
    piece = rng.uniform(0, 16, (12, 4))
    island = np.repeat(np.arange(4), 3)
    nearest, second, owner = distances(piece.tolist(), island.tolist(), 100.0)
    y, x = np.mgrid[0:16, 0:16] + 0.5
    place = np.stack((x, y), axis=-1)
    start, way = piece[:, :2], piece[:, 2:] - piece[:, :2]
    along = ((place[..., None, :] - start) * way).sum(-1) / (way * way).sum(-1)
    rest = place[..., None, :] - start - way * np.clip(along, 0, 1)[..., None]
    each = np.linalg.norm(rest, axis=-1).reshape(16, 16, 4, 3).min(axis=-1)
    ordered = np.sort(each, axis=-1)
    np.testing.assert_allclose(nearest, ordered[..., 0], rtol=1e-6)
    np.testing.assert_allclose(second, ordered[..., 1], rtol=1e-6)
    assert (owner == each.argmin(axis=-1)).all()


def test_distances_beyond_reach_stay_large() -> None:
    nearest, second, _ = distances([[8, 0, 8, 16]], [0], 3.0)
    assert nearest[4, 8] == pytest.approx(0.5)
    assert nearest[4, 14] == 1e6
    assert (second == 1e6).all()


def halos(half: float, margin: float, lines: list[list[float]], island: list[int]) -> Halos:
    fields = [frozen(one[None]) for one in distances(lines, island, half + 2)]
    return Halos(*fields, ((0, 0),), (16, 16), 1.0, half, margin)


def test_a_halo_is_pale_as_far_as_half_the_padding() -> None:
    rgba, ids = canvas()
    draw_halos(rgba, ids, halos(3.0, 0.0, [[8, 0, 8, 16]], [0]), VIEW, 1.0)
    row = rgba[32, :, 0].astype(int)
    assert (row[24:40] > GREY + 20).all()
    assert (row[:16] == GREY).all()
    assert (row[48:] == GREY).all()


@pytest.mark.parametrize(("gap", "meets"), [(0.5, True), (5.9, True), (6.1, False)])
def test_halos_meet_exactly_where_the_gap_is_too_small(gap: float, meets: bool) -> None:
    view = FlatView(0.5, 0.5, 640.0, 640, 64)
    rgba, ids = canvas(view)
    left, right = 8 - gap / 2, 8 + gap / 2
    lines = [[left, 0, left, 16], [right, 0, right, 16]]
    draw_halos(rgba, ids, halos(3.0, 0.0, lines, [0, 1]), view, 1.0)
    assert (rgba[32, :, 0].min() < 60) == meets


def test_one_islands_own_lines_do_not_meet() -> None:
    rgba, ids = canvas()
    lines = [[6, 0, 6, 16], [10, 0, 10, 16]]
    draw_halos(rgba, ids, halos(3.0, 0.0, lines, [0, 0]), VIEW, 1.0)
    assert rgba[32, :, 0].min() >= GREY


def test_triangles_in_the_margin_are_striped() -> None:
    rgba, ids = canvas()
    ids[:, :] = 0
    draw_halos(rgba, ids, halos(0.0, 2.0, [[8, 8, 8, 8]], [0]), VIEW, 1.0)
    edge, middle = rgba[2:6, :, 0], rgba[20:44, 20:44, 0]
    assert edge.min() < 50
    assert edge.max() == GREY
    assert (middle == GREY).all()


def test_dashes_go_on_from_one_segment_to_the_next() -> None:
    whole, ink = canvas()[0], np.zeros((64, 64), dtype=np.uint8)
    parts = whole.copy()
    ends = np.array([[4.0, 32.5], [60.0, 32.5]])
    steps = np.column_stack((np.linspace(4, 60, 15), np.full(15, 32.5)))
    one = np.array([[0, 1]], dtype=np.int32)
    many = np.column_stack((np.arange(14), np.arange(1, 15))).astype(np.int32)
    for picture, point, segment in ((whole, ends, one), (parts, steps, many)):
        stroke(
            picture, ink, point, segment,
            half_width=1.0, colour=(0, 0, 0), strength=1.0, dash=(10.0, 6.0),
        )  # fmt: skip
    dark = whole[32, 6:58, 0] < 50
    assert 0.5 < dark.mean() < 0.75
    assert (np.abs(whole.astype(int) - parts) < 60).mean() > 0.995
    assert dash_starts(steps, many)[3] == pytest.approx(12.0)
    assert not ink.any()


def test_a_camera_turns_to_face_a_surface_it_cannot_see() -> None:
    for axis in ("y", "z"):
        camera = Orbit(up_axis=axis)
        back = -camera.axes()[2]
        assert camera.facing(back).axes()[2] @ back == pytest.approx(1.0, abs=1e-6)
        assert camera.facing(camera.axes()[2]) == camera


def test_a_camera_moves_to_its_goal_the_short_way_round() -> None:
    start, goal = Orbit(yaw=0.1), Orbit(yaw=6.2, distance=12.0)
    assert start.towards(goal, 1.0) == goal
    half = start.towards(goal, 0.5)
    assert np.cos(half.yaw - 0.0084) == pytest.approx(1.0, abs=1e-3)
    assert half.distance == pytest.approx(6.0)
