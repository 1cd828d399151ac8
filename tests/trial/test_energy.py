"""The energy beside closed forms and libigl."""

import igl
import numpy as np
import pytest
from tests.trial import solids

from evenweave.trial.flatten.energy import energy, singular_values

SQUARE = np.array([[0.0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]])
TRIANGLES = np.array([[0, 1, 2], [0, 2, 3]], np.int32)


def test_singular_values_of_a_known_map_are_those_of_its_matrix() -> None:
    """Reference: numpy's singular value decomposition."""
    matrix = np.array([[2.0, 0.7], [-0.3, 0.5]])
    s1, s2, area = singular_values(SQUARE, SQUARE[:, :2] @ matrix.T, TRIANGLES)
    expected = np.linalg.svd(matrix, compute_uv=False)
    np.testing.assert_allclose(s1, expected[0])
    np.testing.assert_allclose(s2, expected[1])
    np.testing.assert_allclose(area, 0.5)


@pytest.mark.parametrize("scale", [1e-6, 1.0, 1e6])
def test_a_similarity_has_energy_one_and_its_own_scale(scale: float) -> None:
    found = energy(SQUARE, scale * SQUARE[:, :2], TRIANGLES)
    assert found.value == pytest.approx(1.0)
    assert found.mean_stretch == pytest.approx(1.0)
    assert found.scale == pytest.approx(scale)
    assert found.flips == 0
    assert not found.is_mirrored


def test_a_squash_by_half_has_energy_five_quarters() -> None:
    """Closed form: after the best scale the values are sqrt 2 and its inverse, (2 + 1/2) / 2."""
    found = energy(SQUARE, SQUARE[:, :2] * [1.0, 0.5], TRIANGLES)
    assert found.value == pytest.approx(1.25)
    assert found.mean_stretch == pytest.approx(np.sqrt(2))


def test_a_mirror_image_is_mirrored_and_has_no_flips() -> None:
    found = energy(SQUARE, SQUARE[:, :2] * [-1.0, 1.0], TRIANGLES)
    assert found.is_mirrored
    assert found.flips == 0
    assert found.value == pytest.approx(1.0)


def test_one_triangle_turned_over_is_one_flip_and_counts_no_energy() -> None:
    point = np.vstack([SQUARE, [[2.0, 0, 0], [2, 1, 0]]])
    triangle = np.vstack([TRIANGLES, [[1, 4, 5], [1, 5, 2]]]).astype(np.int32)
    uv = point[:, :2].copy()
    uv[4] = [0.0, 0.5]
    found = energy(point, uv, triangle)
    assert found.flips == 1


def test_triangles_without_surface_do_not_count() -> None:
    triangle = np.vstack([TRIANGLES, [[0, 1, 1]]]).astype(np.int32)
    assert energy(SQUARE, SQUARE[:, :2], triangle).value == pytest.approx(1.0)


def test_a_collapsed_texture_has_no_finite_energy() -> None:
    found = energy(SQUARE, np.zeros((4, 2)), TRIANGLES)
    assert found.flips == 2
    assert found.value == np.inf


def test_the_energy_agrees_with_the_definition_by_libigl_areas_and_numpy() -> None:
    """Reference: libigl's doublearea, numpy's SVD, and a search for the best scale."""
    mesh = solids.island(solids.cap(0.3))
    found = energy(mesh.point_m, mesh.uv, mesh.triangle)
    area = igl.doublearea(mesh.point_m, mesh.triangle)
    weight = area / area.sum()
    p, q = mesh.point_m[mesh.triangle], mesh.uv[mesh.triangle]
    x = p[:, 1] - p[:, 0]
    x /= np.linalg.norm(x, axis=1)[:, None]
    normal = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    y = np.cross(normal / np.linalg.norm(normal, axis=1)[:, None], x)
    local = np.stack([((p - p[:, :1]) * axis[:, None]).sum(axis=2) for axis in (x, y)], axis=2)
    ahead = np.stack([q[:, 1] - q[:, 0], q[:, 2] - q[:, 0]], axis=2)
    surface = np.stack([local[:, 1], local[:, 2]], axis=2)
    sigma = np.linalg.svd(ahead @ np.linalg.inv(surface), compute_uv=False)

    def at(scale: float) -> float:
        t = sigma / scale
        return float((weight * (t**2 + t**-2.0).sum(axis=1)).sum() / 4)

    scales = found.scale * np.linspace(0.9, 1.1, 201)
    assert found.value == pytest.approx(at(found.scale))
    assert found.value <= min(map(at, scales)) + 1e-12
