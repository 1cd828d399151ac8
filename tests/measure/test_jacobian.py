"""Singular values of triangles: closed forms, numpy's decomposition and libigl's areas."""

import igl
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests import shapes
from tests.measure import island_energies

from evenweave.arrays import FloatArray
from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.distortion import distortion
from evenweave.measure.distortion.jacobian import measure_triangles
from evenweave.measure.results import TriangleMeasures
from evenweave.mesh.asset import Asset

pytestmark = pytest.mark.kernels

QUICK = settings(deadline=None, max_examples=40, derandomize=True)
UNIT = Tile(1, 1)


def measured(asset: Asset, tile: Tile = UNIT) -> tuple[Layout, TriangleMeasures]:
    (layout,) = build_layouts(asset)
    return layout, measure_triangles(layout, tile)


def soup(seed: int, triangles: int = 50) -> Asset:
    random = np.random.default_rng(seed)
    faces = np.arange(3 * triangles).reshape(-1, 3)
    return shapes.asset(
        random.normal(size=(3 * triangles, 3)), faces, random.random((3 * triangles, 2))
    )


def turned(seed: int) -> FloatArray:
    """Return a random rotation (3, 3)."""
    q, r = np.linalg.qr(np.random.default_rng(seed).normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    return q * np.linalg.det(q)


def corners(layout: Layout) -> tuple[FloatArray, FloatArray]:
    return (
        layout.point_m[layout.corner_point[layout.triangle_corner]],
        layout.uv[layout.corner_uv[layout.triangle_corner]],
    )


@QUICK
@given(seed=st.integers(0, 2**32 - 1))
def test_singular_values_and_sign_are_those_of_numpys_decomposition(seed):
    tile = Tile(2048, 512)
    layout, triangles = measured(soup(seed), tile)
    point, uv = corners(layout)
    surface = np.stack([point[:, 1] - point[:, 0], point[:, 2] - point[:, 0]], axis=2)
    texture = np.stack([uv[:, 1] - uv[:, 0], uv[:, 2] - uv[:, 0]], axis=2)
    texture = texture * np.array([tile.width, tile.height])[:, None]
    frame, upper = np.linalg.qr(surface)
    jacobian = texture @ np.linalg.inv(upper)
    values = np.linalg.svd(jacobian, compute_uv=False)
    np.testing.assert_allclose(triangles.s1, values[:, 0], rtol=1e-9)
    np.testing.assert_allclose(np.abs(triangles.s2), values[:, 1], rtol=1e-6)
    np.testing.assert_array_equal(np.sign(triangles.s2), np.sign(np.linalg.det(texture)))
    assert frame.shape == (len(uv), 3, 2)


@QUICK
@given(seed=st.integers(0, 2**32 - 1))
def test_areas_are_those_of_libigl(seed):
    layout, triangles = measured(soup(seed))
    faces = layout.corner_point[layout.triangle_corner].astype(np.int64)
    np.testing.assert_allclose(
        2 * triangles.area_m2, igl.doublearea(layout.point_m, faces).ravel(), rtol=1e-9
    )
    faces = layout.corner_uv[layout.triangle_corner].astype(np.int64)
    np.testing.assert_allclose(
        2 * triangles.area_px, igl.doublearea(layout.uv, faces).ravel(), rtol=1e-7
    )


@QUICK
@given(seed=st.integers(0, 2**32 - 1))
def test_a_rigid_motion_of_the_surface_changes_nothing(seed):
    one = soup(seed)
    _, still = measured(one)
    _, moved = measured(shapes.moved(one, turned(seed), (3, -5, 7)))
    np.testing.assert_allclose(moved.s1, still.s1, rtol=1e-7)
    np.testing.assert_allclose(moved.s2, still.s2, rtol=1e-7)


@QUICK
@given(seed=st.integers(0, 2**32 - 1))
def test_a_quarter_turn_of_the_texture_changes_nothing_and_a_mirror_the_sign(seed):
    one = soup(seed)
    _, still = measured(one)
    _, turned_uv = measured(shapes.textured(one, lambda uv: uv @ [[0.0, 1.0], [-1.0, 0.0]] + 1))
    _, mirrored = measured(shapes.textured(one, lambda uv: uv * [-1, 1] + [1, 0]))
    np.testing.assert_allclose(turned_uv.s1, still.s1, rtol=1e-12)
    np.testing.assert_allclose(turned_uv.s2, still.s2, rtol=1e-12)
    np.testing.assert_allclose(mirrored.s2, -still.s2, rtol=1e-12)


@pytest.mark.parametrize("seed", range(3))
def test_the_order_and_sharing_of_vertices_change_nothing(seed):
    one = shapes.tori(6)
    _, plain = measured(one)
    _, repeated = measured(shapes.unwelded(one))
    shaken, order = shapes.shuffled(one, seed)
    layout, mixed = measured(shaken)
    np.testing.assert_array_equal(repeated.s1, plain.s1)
    face = order[layout.triangle_face]
    for name in ("s1", "s2", "area_m2", "area_px"):
        mine = np.lexsort((getattr(mixed, name), face))
        original = build_layouts(one)[0].triangle_face
        theirs = np.lexsort((getattr(plain, name), original))
        np.testing.assert_allclose(
            getattr(mixed, name)[mine], getattr(plain, name)[theirs], rtol=1e-9
        )


def test_a_sheet_wider_than_its_texture_is_stretched_by_the_ratio():
    _, triangles = measured(shapes.plane(2, 1), Tile(2048, 2048))
    np.testing.assert_allclose(triangles.s1, 2048)
    np.testing.assert_allclose(triangles.s2, 1024)
    np.testing.assert_allclose(distortion.stretch(triangles.s1, triangles.s2), 2)
    np.testing.assert_allclose(distortion.density(triangles.s1, triangles.s2), 2048 / np.sqrt(2))


def test_a_tile_of_the_sheets_proportions_takes_the_stretch_away():
    _, triangles = measured(shapes.plane(2, 1), Tile(2048, 1024))
    np.testing.assert_allclose(distortion.stretch(triangles.s1, triangles.s2), 1)
    np.testing.assert_allclose(triangles.area_px.sum(), 2048 * 1024)


def test_s1_is_never_less_than_s2_even_where_they_are_equal():
    for asset in (shapes.cube(), shapes.plane(columns=7, rows=3), shapes.cylinder(sides=31)):
        _, triangles = measured(asset, Tile(1000, 1000))
        assert (triangles.s1 >= np.abs(triangles.s2)).all()


def test_degenerate_triangles_are_named_and_not_measured():
    position = [(0, 0, 0), (1, 0, 0), (0, 1, 0), (0.1, 0.2, 0.3), (0.2, 0.4, 0.6), (0.3, 0.6, 0.9)]
    uv = [(0, 0), (1, 0), (0, 1), (0.5, 0.5), (0.25, 0.25)]
    faces = [(0, 1, 2), (3, 4, 5), (0, 1, 2), (0, 0, 1)]
    uv_faces = [(0, 1, 2), (0, 1, 2), (0, 3, 4), (0, 1, 2)]
    _, triangles = measured(shapes.asset(position, faces, uv, uv_faces=uv_faces))
    assert triangles.is_degenerate.tolist() == [False, True, True, True]
    assert np.isnan(triangles.s1[1:]).all()
    assert np.isnan(triangles.s2[1:]).all()
    assert triangles.area_px[2] == 0
    assert triangles.area_m2[3] == 0


@pytest.mark.parametrize("scale", [1e-60, 1e-6, 1e6, 1e60])
def test_the_size_of_the_object_does_not_make_it_degenerate(scale):
    one = shapes.moved(shapes.plane(), scale * np.eye(3))
    _, triangles = measured(one)
    assert not triangles.is_degenerate.any()
    np.testing.assert_allclose(triangles.s1, 1 / scale)


@pytest.mark.parametrize("value", [1e308, np.inf, np.nan])
def test_positions_out_of_bounds_are_degenerate_and_spoil_no_sum(value):
    position = [(0, 0, 0), (value, 0, 0), (0, value, 0)]
    _, triangles = measured(shapes.asset(position, [(0, 1, 2)], np.eye(3)[:, :2]))
    assert triangles.is_degenerate.all()
    assert np.isfinite(triangles.area_m2).all()


def test_the_sign_of_a_sliver_in_the_texture_is_exact():
    step = 2.0**-24
    uv = [(0, 0), (1, 1 - step), (1 - step, 1 - 2 * step)]
    position = [(0, 0, 0), (1, 0, 0), (0, 1, 0)]
    _, up = measured(shapes.asset(position, [(0, 1, 2)], uv))
    exact = 1 * (2**24 - 2) * 2**24 - (2**24 - 1) * (2**24 - 1)
    assert exact == -1
    assert up.area_px[0] == -(step**2) / 2
    assert up.s2[0] < 0


def test_derived_measures_of_one_triangle_are_those_worked_by_hand():
    s1, s2 = np.array([2.0]), np.array([-1.0])
    assert distortion.stretch(s1, s2) == pytest.approx(2)
    assert distortion.density(s1, s2) == pytest.approx(np.sqrt(2))
    assert distortion.density_octaves(s1, s2, np.sqrt(2) / 4) == pytest.approx(2)
    assert distortion.angle_distortion_degrees(s1, s2) == pytest.approx(
        np.degrees(2 * np.arcsin(1 / 3))
    )
    assert island_energies.area_distortion(s1, s2, 2.0) == pytest.approx(0.5)
    assert island_energies.l2_stretch(s1, s2) == pytest.approx(np.sqrt(0.625))
    assert island_energies.linf_stretch(s1, s2) == pytest.approx(1)
    assert island_energies.symmetric_dirichlet(s1, s2) == pytest.approx(6.25 / 4)
    assert island_energies.symmetric_dirichlet(s1, s2, 0.5) == pytest.approx((1 + 0.25 + 1 + 4) / 4)


def test_derived_measures_take_their_least_value_at_a_uniform_scale():
    one = np.array([1.0])
    assert distortion.stretch(one, one) == 1
    assert distortion.angle_distortion_degrees(one, one) == 0
    assert island_energies.l2_stretch(one, one) == 1
    assert island_energies.symmetric_dirichlet(one, one) == 1
