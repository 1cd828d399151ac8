"""Pieces of many kinds joined into one asset."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from evenweave.errors import FileProblem
from evenweave.mesh.assembly import (
    Assembly,
    Faces,
    carried,
    carried_normals,
    is_mirroring,
    reversing,
)
from evenweave.mesh.asset import Asset, Unit


def ints(*values: int) -> np.ndarray:
    return np.array(values, np.int32)


def finished(assembly: Assembly) -> Asset:
    return assembly.finish(
        format="usd", unit=Unit(), up_axis="y", uv_sets=("st", "none", "map1"), caveats=()
    )


def test_pieces_of_different_kinds_line_up() -> None:
    assembly = Assembly(Path("a.usd"), 100)
    first = assembly.add_position(np.eye(3))
    second = assembly.add_position(np.zeros((4, 3)))
    uv = assembly.add_uv("map1", np.ones((1, 2)))
    assert (first, second, uv) == (0, 3, 0)
    assembly.add_faces(Faces("pin", ("brass",), None, None, ints(0, 1, 2), None, {}))
    quad = ints(3, 4, 5, 6, 3, 4, 5)
    assembly.add_faces(
        Faces(
            "ring",
            ("glass", "brass"),
            ints(1, 0),
            ints(4, 3),
            quad,
            None,
            {"map1": ints(0, 0, 0, 0, -1, -1, -1)},
        )
    )
    asset = finished(assembly)
    np.testing.assert_array_equal(asset.face_start, [0, 3, 7, 10])
    np.testing.assert_array_equal(asset.corner_position, [0, 1, 2, *quad])
    assert asset.part_names == ("pin", "ring")
    np.testing.assert_array_equal(asset.face_part, [0, 1, 1])
    assert asset.material_names == ("brass", "glass")
    np.testing.assert_array_equal(asset.face_material, [0, 0, 1])
    assert [s.name for s in asset.uv_sets] == ["map1"]
    np.testing.assert_array_equal(asset.uv_sets[0].corner_uv, [-1, -1, -1, 0, 0, 0, 0, -1, -1, -1])
    np.testing.assert_array_equal(asset.corner_normal, np.full(10, -1))


def test_more_than_a_file_can_hold_is_refused() -> None:
    assembly = Assembly(Path("a.usd"), 0)
    position = np.zeros((1_000_000, 3))
    for _ in range(2**30 // position.nbytes):
        assembly.add_position(position)
    with pytest.raises(FileProblem, match="no longer fits in memory"):
        assembly.add_position(position)


def test_faces_are_turned_over_around_their_first_corner() -> None:
    order = reversing(ints(0, 3, 7, 12))
    np.testing.assert_array_equal(order, [0, 2, 1, 3, 6, 5, 4, 7, 11, 10, 9, 8])
    np.testing.assert_array_equal(order[order], np.arange(12))


def test_normals_stay_upright_on_a_carried_plane() -> None:
    """The normal of three carried points is the carried normal, for any matrix."""
    rng = np.random.default_rng(8)
    for _ in range(20):
        matrix = np.eye(4)
        matrix[:3] = rng.normal(size=(3, 4))
        points = rng.normal(size=(3, 3))
        normal = np.cross(points[1] - points[0], points[2] - points[0])[None]
        a, b, c = carried(points, matrix)
        expected = np.cross(b - a, c - a) * (-1 if is_mirroring(matrix) else 1)
        expected /= np.linalg.norm(expected)
        np.testing.assert_allclose(carried_normals(normal, matrix)[0], expected, atol=1e-9)


def test_a_flattening_matrix_leaves_the_normal_of_the_plane() -> None:
    flat = np.diag([1.0, 1.0, 0.0, 1.0])
    np.testing.assert_array_equal(carried_normals(np.array([[0.0, 0.0, 5.0]]), flat), [[0, 0, 1]])
