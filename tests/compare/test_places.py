"""Points of the surface are found again on a later pass."""

import numpy as np
import pytest
from tests import shapes

from evenweave.compare.matching.places import locate
from evenweave.compare.matching.surface import Surface, surface_of
from evenweave.layout.build import build_layouts
from evenweave.mesh.asset import Asset

UP = (0.0, 0.0, 1.0)


def surface(one: Asset) -> Surface:
    return surface_of(build_layouts(one), one)


def test_a_point_keeps_its_place_whatever_became_of_the_coordinates() -> None:
    sheet = shapes.plane(2, 1, bounds=(0.5, 0, 1, 0.25))
    places = locate(surface(sheet), np.array([(0.5, 0.25, 0.0)]), np.array([UP]))
    assert places.island.tolist() == [0]
    assert places.uv[0] == pytest.approx((0.625, 0.0625))
    assert places.point_m[0] == pytest.approx((0.5, 0.25, 0))


def test_a_point_beyond_reach_or_on_the_other_side_lies_nowhere() -> None:
    sheet = surface(shapes.plane())
    points = np.array([(0.5, 0.5, 0.2), (0.5, 0.5, 0.0)])
    places = locate(sheet, points, np.array([UP, (0, 0, -1)]), reach_m=0.1)
    assert places.island.tolist() == places.triangle.tolist() == [-1, -1]
    assert np.isnan(places.uv).all()
    assert np.isinf(places.distance_m).all()


def test_of_two_sheets_in_one_place_the_preferred_is_taken() -> None:
    twice = shapes.together(
        shapes.plane(bounds=(0, 0, 0.4, 0.4)), shapes.plane(bounds=(0.5, 0, 0.9, 0.4))
    )
    point, facing = np.array([(0.5, 0.25, 0)] * 2), np.array([UP] * 2)
    places = locate(surface(twice), point, facing, preferred=np.array([1, 0]))
    assert places.island.tolist() == [1, 0]
    assert places.uv == pytest.approx(np.array([(0.7, 0.1), (0.2, 0.1)]))


def test_distances_are_those_of_the_nearest_point_on_any_triangle() -> None:
    # Against the plain formula of the distance to a sphere, whose triangles lie close to it.
    ball = surface(shapes.sphere_patch(lambda x, y: (x, y), columns=64, rows=64))
    random = np.random.default_rng(3)
    out = ball.corner_m[random.integers(0, len(ball.corner_m), 50)].mean(axis=1)
    point = out * random.uniform(0.98, 1.02, (50, 1))
    places = locate(ball, point, np.zeros((50, 3)), reach_m=1.0)
    expected = np.abs(np.linalg.norm(point, axis=1) - 1)
    assert places.distance_m == pytest.approx(expected, abs=2e-3)
    apart = np.linalg.norm(places.point_m - point, axis=1)
    assert places.distance_m == pytest.approx(apart, abs=1e-12)
