"""Seams found under a pointer, told apart by kind, and pointed out on both sides."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests import shapes

from evenweave.limits.limits import DEFAULT
from evenweave.picture.coloured import coloured
from evenweave.picture.painting.seam_marks import flat_seam, run_length_m, run_rows, solid_seam
from evenweave.picture.scene.scene import FlatScene, Scene, prepare_scene
from evenweave.picture.scene.seam_finder import SeamFinder
from evenweave.picture.scene.seam_kinds import SEAM_KINDS, kind_corners, kind_lengths_m, kind_lines
from evenweave.pipeline import review
from evenweave.raster.look import Look


@pytest.fixture(scope="module")
def cube() -> FlatScene:
    return prepare_scene(review(shapes.cube_pieces(), DEFAULT)).flats[0]


@cache
def many_seams() -> SeamFinder:
    turn = np.array([[0.6, 0.8], [-0.8, 0.6]])
    turned = [
        shapes.textured(
            shapes.moved(shapes.cube_pieces(), np.eye(3), (3.0 * k, 0, 0)),
            lambda uv, k=k: uv @ turn * 0.3 * k + 0.1 * k,
        )
        for k in range(1, 4)
    ]
    asset = shapes.together(shapes.cylinder(sides=48, rows=40), *turned)
    finder = prepare_scene(review(asset, DEFAULT)).flats[0].finder
    assert len(finder.end) > 100
    return finder


def nearest_of_all(finder: SeamFinder, u: float, v: float) -> float:
    """Return the least distance to any side, without the grid."""
    start, way = finder.end[:, 0], finder.end[:, 1] - finder.end[:, 0]
    square = np.maximum((way * way).sum(axis=1), 1e-300)
    along = np.clip((((u, v) - start) * way).sum(axis=1) / square, 0, 1)
    rest = (u, v) - start - way * along[:, None]
    return float(np.hypot(rest[:, 0], rest[:, 1]).min())


@settings(deadline=None, max_examples=200, derandomize=True)
@given(u=st.floats(-0.2, 1.2), v=st.floats(-0.2, 1.2), radius=st.floats(1e-4, 0.05))
def test_the_finder_finds_the_nearest_side_of_all(u: float, v: float, radius: float) -> None:
    expected = nearest_of_all(many_seams(), u, v)
    found = many_seams().nearest(u, v, radius)
    assert (found is not None) == (expected <= radius)
    if found is not None:
        assert found[2] == pytest.approx(expected, abs=1e-12)


def test_a_place_on_a_side_names_its_seam(cube: FlatScene) -> None:
    for number, ends in enumerate(cube.finder.end):
        u, v = ends.mean(axis=0)
        assert cube.finder.nearest(u, v, 1e-3) == (number // 2, number % 2, 0.0)


def test_from_far_away_no_seam_is_named(cube: FlatScene) -> None:
    assert cube.finder.nearest(0.5, 0.5, 3.0) is None


def test_a_layout_without_seams_has_none_to_find() -> None:
    flat = prepare_scene(review(shapes.plane(1, 1), DEFAULT)).flats[0]
    assert flat.finder.nearest(0.5, 0.0, 0.01) is None


def test_a_seam_is_marked_on_both_sides_and_once_on_the_object(cube: FlatScene) -> None:
    layout = cube.layout
    for row in range(len(layout.edges.seam)):
        (run, link, own), rings = flat_seam(cube, row)
        assert len(own.segment) == 2
        assert len(run.segment) == 2 * len(run_rows(cube, row))
        np.testing.assert_allclose(link.point, own.point.reshape(2, 2, 2).mean(axis=1))
        on_object = [
            layout.point_m[layout.corner_point[layout.corner_uv == index]]
            for place in rings.point
            for index in np.flatnonzero((layout.uv == place).all(axis=1))
        ]
        np.testing.assert_array_equal(on_object[0][0], on_object[1][0])
        assert len(solid_seam(cube, row)[1].segment) == 1
        assert run_length_m(cube, row) == pytest.approx(1.0)


def test_a_smooth_seam_on_flat_ground_is_on_flat_and_a_hard_one_is_not() -> None:
    halves = shapes.asset(
        [[0, 0, 0], [1, 0, 0], [2, 0, 0], [0, 1, 0], [1, 1, 0], [2, 1, 0]],
        [[0, 1, 4, 3], [1, 2, 5, 4]],
        [[0.1, 0.1], [0.4, 0.1], [0.4, 0.4], [0.1, 0.4],
         [0.6, 0.1], [0.9, 0.1], [0.9, 0.4], [0.6, 0.4]],
        uv_faces=[[0, 1, 2, 3], [4, 5, 6, 7]],
    )  # fmt: skip
    flat = prepare_scene(review(halves, DEFAULT)).flats[0]
    assert kind_lengths_m(flat) == pytest.approx((0.0, 1.0, 0.0))
    hard = prepare_scene(review(shapes.cube_pieces(flat_normals=True), DEFAULT)).flats[0]
    assert kind_lengths_m(hard) == (0.0, 0.0, 0.0)


def test_hard_edges_inside_an_island_are_told_with_their_length() -> None:
    flat = prepare_scene(review(shapes.cube(flat_normals=True), DEFAULT)).flats[0]
    hard, _, _ = kind_corners(flat)
    assert len(hard) == 5  # a cross of six squares holds five of the cube's twelve edges
    assert kind_lengths_m(flat)[0] == pytest.approx(5.0)
    lines = kind_lines(flat)
    assert [len(one.segment) for one in lines.flat] == [5, 0, 0]
    assert [len(one.segment) for one in lines.solid] == [5, 0, 0]


def test_edges_of_three_faces_are_counted_once() -> None:
    fan = shapes.asset(
        [[0, 0, 0], [0, 0, 1], [1, 0, 0], [-1, 1, 0], [-1, -1, 0]],
        [[0, 1, 2], [0, 1, 3], [0, 1, 4]],
        [[0, 0], [0, 1], [1, 0], [0.5, 0.5], [0.5, 1]],
    )
    flat = prepare_scene(review(fan, DEFAULT)).flats[0]
    assert kind_lengths_m(flat)[2] == pytest.approx(1.0)


def test_kinds_differ_in_dash_or_width_not_only_in_colour() -> None:
    looks = {(kind.width_px, kind.dash) for kind in SEAM_KINDS}
    assert len(looks) == len(SEAM_KINDS) == len({kind.line for kind in SEAM_KINDS})


def test_layers_are_worked_out_once_and_only_on_demand() -> None:
    scene: Scene = prepare_scene(review(shapes.cube_pieces(), DEFAULT))
    plain = coloured(scene, 0, Look())
    assert plain.layers.blocks is None
    assert plain.layers.halos is None
    assert plain.layers.kinds.flat == ()
    full = coloured(scene, 0, Look(mip=3, halos=True, seam_kinds=True), previous=plain)
    other = coloured(scene, 0, Look(mip=4, halos=True, seam_kinds=True), previous=full)
    assert other.layers.blocks is not full.layers.blocks
    assert other.layers.halos is full.layers.halos
    assert other.layers.kinds is full.layers.kinds
    assert other.layers.halos is not None
    assert 2 * other.layers.halos.half_px == scene.review.limits.required_padding_px
