"""Where islands are on the object: the box of their points, whatever the layout."""

import numpy as np
import pytest
from tests import shapes

from evenweave.limits.limits import DEFAULT
from evenweave.picture.scene.scene import prepare_scene
from evenweave.pipeline import review


@pytest.mark.kernels
def test_an_islands_box_holds_its_points_and_no_more() -> None:
    asset = shapes.together(
        shapes.with_material(shapes.cube_pieces(), "one"),
        shapes.with_material(shapes.moved(shapes.cylinder(), np.eye(3), (5.0, 6.0, 7.0)), "two"),
    )
    whole = review(asset, DEFAULT)
    solid = prepare_scene(whole).solid
    for index, one in enumerate(whole.layouts):
        layout = one.layout
        triangle_island = layout.face_island[layout.triangle_face]
        for island in range(layout.island_count):
            corner = layout.triangle_corner[triangle_island == island]
            point = layout.point_m[layout.corner_point[corner]].reshape(-1, 3)
            low, high = solid.bounds(index, (island,))
            assert np.array_equal(low, point.min(axis=0))
            assert np.array_equal(high, point.max(axis=0))
    low, high = solid.bounds(0, tuple(range(6)))
    assert np.array_equal((low, high), [(0, 0, 0), (1, 1, 1)])
    low, high = solid.bounds()
    assert np.allclose((low, high), [(0, 0, 0), (5.5, 6.5, 8)])
