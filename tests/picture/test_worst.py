"""The worst places: which they are, where they lie, and how they are framed."""

from __future__ import annotations

import numpy as np
import pytest
from tests import shapes

from evenweave.layout.layout import Tile
from evenweave.limits.limits import DEFAULT
from evenweave.picture.painting.spot_marks import (
    flat_spot,
    rim,
    solid_spot,
    spot_bounds,
    spot_box,
    spot_normal,
)
from evenweave.picture.scene.layers import MOST_BLOCKS, mip_blocks, mip_levels
from evenweave.picture.scene.scene import FlatScene, prepare_scene
from evenweave.picture.scene.worst import MEASURE_OF, WALKED, partner, spots
from evenweave.pipeline import review
from evenweave.raster.look import COLOURS

SQUARE = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], dtype=float)


def squares(*corners: tuple[float, float, float]) -> FlatScene:
    """Return squares of 1 m, each with the lower left corner and the side of its texture."""
    position = np.concatenate([SQUARE + np.array([2.0 * k, 0, 0]) for k in range(len(corners))])
    uv = np.concatenate([SQUARE[:, :2] * side + np.array([u, v]) for u, v, side in corners])
    asset = shapes.asset(position, np.arange(4 * len(corners)).reshape(-1, 4), uv)
    return prepare_scene(review(asset, DEFAULT)).flats[0]


def walk(scene: FlatScene, measure: str):
    return spots(scene.layout, scene.review.measures, measure)


def test_every_look_has_a_measure_that_can_be_walked() -> None:
    assert set(MEASURE_OF) == set(COLOURS)
    assert set(MEASURE_OF.values()) <= set(WALKED)
    scene = squares((0.1, 0.1, 0.2), (0.5, 0.1, 0.2))
    for measure in WALKED:
        assert isinstance(walk(scene, measure), tuple)


def test_overlaps_are_walked_by_area_and_name_both_islands() -> None:
    scene = squares((0.1, 0.1, 0.2), (0.15, 0.1, 0.2), (0.6, 0.6, 0.2), (0.75, 0.6, 0.2))
    found = walk(scene, "overlap")
    areas = [0.15 * 0.2 * 2048**2, 0.05 * 0.2 * 2048**2]
    assert [spot.value for spot in found] == pytest.approx(areas, rel=1e-5)
    assert [(s.island, partner(scene.review.measures, s)) for s in found] == [(0, 1), (2, 3)]
    place = flat_spot(scene, found[0])
    low, high = place.point.min(axis=0), place.point.max(axis=0)
    np.testing.assert_allclose([*low, *high], [0.15, 0.1, 0.3, 0.3], atol=1e-6)


def test_gaps_are_walked_least_first_once_a_pair_and_without_overlaps() -> None:
    scene = squares((0.1, 0.1, 0.2), (0.31, 0.1, 0.2), (0.1, 0.305, 0.2), (0.3, 0.7, 0.1),
                    (0.35, 0.7, 0.1))  # fmt: skip
    found = walk(scene, "padding")
    assert [spot.value for spot in found] == pytest.approx([0.005 * 2048, 0.01 * 2048], abs=1e-3)
    places = flat_spot(scene, found[0])
    assert np.linalg.norm(np.diff(places.point, axis=0)) == pytest.approx(0.005, abs=1e-6)


def test_a_patch_is_marked_by_its_rim() -> None:
    triangle = np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32)
    sides = {tuple(side) for side in rim(triangle).tolist()}
    assert sides == {(0, 1), (1, 2), (2, 3), (0, 3)}
    assert rim(np.zeros((0, 3), dtype=np.int32)).shape == (0, 2)


def test_a_worst_patch_is_framed_in_both_views_and_faced() -> None:
    scene = squares((0.1, 0.1, 0.2), (0.5, 0.1, 0.4), (0.1, 0.6, 0.2))
    spot = walk(scene, "density")[0]
    assert spot.island == 1
    u0, v0, u1, v1 = spot_bounds(scene, spot)
    assert u0 < 0.5 < 0.9 < u1
    assert v0 < 0.1 < 0.5 < v1
    box = spot_box(scene, spot)
    assert box is not None
    assert (box[0] < [2, 0, 0]).all()
    assert (box[1] > [3, 1, 0]).all()
    np.testing.assert_allclose(spot_normal(scene, spot), [0, 0, 1], atol=1e-12)
    np.testing.assert_allclose(solid_spot(scene, spot).spot[0][2], 0.0)


def test_blocks_of_a_level_hold_what_lies_in_them() -> None:
    scene = squares((0.0, 0.0, 0.25), (0.25 + 1 / 64, 0.0, 0.25))
    fine, coarse = mip_blocks(scene, 4), mip_blocks(scene, 7)
    assert fine.holds.shape == (1, 128, 128)
    assert fine.bleeding == 0
    assert coarse.bleeding == mip_blocks(scene, 9).bleeding == 0
    assert mip_blocks(scene, 10).bleeding == 1
    assert mip_blocks(scene, 99).holds.shape == (1, 1, 1)


def test_levels_with_too_many_blocks_are_not_offered() -> None:
    assert mip_levels(Tile(2048, 2048), 1) == range(0, 12)
    huge = mip_levels(Tile(16384, 16384), 4)
    assert huge.stop == 15
    assert 4 * (16384 >> huge.start) ** 2 <= MOST_BLOCKS < 4 * (16384 >> (huge.start - 1)) ** 2
