"""Scenes hold everything once, in an order that views can rely on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests import shapes

from evenweave.limits.limits import DEFAULT
from evenweave.picture.coloured import coloured
from evenweave.picture.painting.painting import checker_per_tile
from evenweave.picture.scene.ellipses import ellipses
from evenweave.picture.scene.places import lift
from evenweave.picture.scene.scene import prepare_scene
from evenweave.pipeline import Review, review
from evenweave.raster.camera import fit_flat
from evenweave.raster.flat.flat import FlatRenderer
from evenweave.raster.look import Look


def two_materials_and_a_bare_part() -> Review:
    bare = shapes.asset(
        [[0, 0, 5], [1, 0, 5], [1, 1, 5], [0.5, 1.5, 5], [0, 1, 5]],
        [[0, 1, 2, 3, 4]],
        materials=("bare",),
        face_material=[0],
    )
    glass = shapes.with_material(shapes.moved(shapes.cube(), np.eye(3), (3, 0, 0)), "glass")
    return review(shapes.together(shapes.cube_pieces(), glass, bare), DEFAULT)


def test_the_solid_scene_holds_every_face_of_the_asset() -> None:
    result = two_materials_and_a_bare_part()
    solid = prepare_scene(result).solid
    counts = [len(one.layout.triangle_face) for one in result.layouts]
    assert list(np.diff(solid.triangle_start)) == counts
    assert len(solid.mesh.triangle) == sum(counts) + 3  # the pentagon is a fan of three
    for number, one in enumerate(result.layouts):
        first, end = solid.triangle_start[number : number + 2]
        layout = one.layout
        np.testing.assert_array_equal(
            solid.mesh.point[solid.mesh.triangle[first:end]],
            layout.point_m[layout.corner_point[layout.triangle_corner]],
        )
        has_uv = solid.mesh.triangle_uv[first:end] >= 0
        assert has_uv.all()
    low, high = solid.bounds()
    np.testing.assert_allclose(high[2], 5.0)
    assert low.shape == (3,)


def test_bounds_of_islands_are_those_of_their_points() -> None:
    result = two_materials_and_a_bare_part()
    scene = prepare_scene(result)
    names = [one.layout.name for one in result.layouts]
    low, high = scene.solid.bounds(names.index("glass"), (0,))
    np.testing.assert_allclose(high - low, 1.0)
    assert low[0] >= 2.0


def test_polygon_edges_leave_out_diagonals() -> None:
    one = prepare_scene(review(shapes.cube_pieces(), DEFAULT)).flats[0]
    sides = np.unpackbits(one.mesh.chunks.edges[:, None], axis=1)[:, -3:].sum()
    assert sides == 6 * 4


def test_outlines_go_round_their_own_island() -> None:
    flat = prepare_scene(review(shapes.cube_pieces(), DEFAULT)).flats[0]
    for island in range(flat.layout.island_count):
        rows = flat.outline_rows((island,))
        box = flat.layout.uv[flat.outline[rows]].reshape(-1, 2)
        u0, v0, u1, v1 = flat.bounds((island,))
        np.testing.assert_allclose([*box.min(axis=0), *box.max(axis=0)], [u0, v0, u1, v1])
    assert len(flat.outline_rows(tuple(range(flat.layout.island_count)))) == len(flat.outline)


def test_home_is_the_tile_however_far_out_a_stray_island_lies() -> None:
    stray = shapes.textured(shapes.plane(1, 1), lambda uv: uv * 0.1 - np.array([0.0, 17.0]))
    asset = shapes.together(shapes.cube_pieces(), shapes.moved(stray, np.eye(3), (5, 0, 0)))
    flat = prepare_scene(review(asset, DEFAULT)).flats[0]
    assert flat.home_bounds == (0, 0, 1, 1)
    assert flat.far_islands == 1


def test_home_is_where_the_islands_are_when_none_lies_in_the_tile() -> None:
    away = shapes.textured(shapes.plane(1, 1), lambda uv: uv * 0.5 + np.array([3.25, 2.25]))
    flat = prepare_scene(review(away, DEFAULT)).flats[0]
    assert flat.home_bounds == pytest.approx((3.25, 2.25, 3.75, 2.75))


def test_a_scene_of_the_same_layouts_keeps_their_meshes() -> None:
    result = two_materials_and_a_bare_part()
    scene = prepare_scene(result)
    again = prepare_scene(
        replace(result, layouts=tuple(replace(one, findings=()) for one in result.layouts)),
        previous=scene,
    )
    assert again.solid is scene.solid
    assert all(a.mesh is b.mesh for a, b in zip(again.flats, scene.flats, strict=True))
    assert all(flat.review.findings == () for flat in again.flats)


def test_colours_are_worked_out_again_only_where_the_look_asks_for_it() -> None:
    scene = prepare_scene(two_materials_and_a_bare_part())
    first = coloured(scene, 0, Look())
    checked = coloured(scene, 0, Look(checker=True), previous=first)
    brushed = coloured(scene, 0, Look(brush=(0.1, 0.2)), previous=first)
    stretched = coloured(scene, 0, Look(colours="stretch"), previous=first)
    other = coloured(scene, 1, Look(), previous=first)
    assert checked.colours is first.colours
    assert brushed.heat is first.heat
    assert brushed.colours is not first.colours
    assert stretched.heat is not first.heat
    assert other.heat is not first.heat


def test_checker_squares_are_square_in_texels_and_can_be_counted_per_metre() -> None:
    one = review(shapes.plane(2, 1), replace(DEFAULT, tile_width=2048, tile_height=1024)).layouts[0]
    assert checker_per_tile(Look(checker=True, checker_squares=32), one) == (32, 16)
    per_metre = checker_per_tile(Look(checker=True, checker_squares=4, checker_per="metre"), one)
    assert per_metre[0] == pytest.approx(4 * 2048 / one.target_density)
    assert per_metre[1] == pytest.approx(per_metre[0] / 2)
    assert checker_per_tile(Look(), one) is None


def test_a_point_of_the_texture_is_lifted_to_the_surface() -> None:
    layout = review(shapes.plane(2, 1), DEFAULT).layouts[0].layout
    uv = np.array([[0.25, 0.5], [1.5, 0.5]])
    place, found = lift(layout, uv, ())
    assert found.tolist() == [True, False]
    corner = layout.point_m[:, :2].min(axis=0)
    np.testing.assert_allclose(np.sort(place[0]), np.sort(np.append(corner + 0.5, 0.0)))


def test_ellipses_have_the_singular_values_as_semi_axes() -> None:
    # A sheet of 2 m by 1 m on a square tile: circles become twice as tall as wide.
    flat = prepare_scene(review(shapes.plane(2, 1), DEFAULT)).flats[0]
    view = fit_flat((0, 0, 1, 1), 400, 400)
    lines = ellipses(flat, view, FlatRenderer(flat.mesh).ids(view))
    rings = lines.point.reshape(-1, 32, 2)
    assert len(rings) > 4
    size = np.ptp(rings, axis=1)
    np.testing.assert_allclose(size[:, 1] / size[:, 0], 2.0, rtol=1e-6)
