"""The numbers behind the colours, against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests import shapes

from evenweave.limits.limits import DEFAULT
from evenweave.picture.scene.heat import heat, histogram
from evenweave.pipeline import LayoutReview, review
from evenweave.raster.look import COLOURS


def reviewed(asset) -> LayoutReview:
    return review(asset, DEFAULT).layouts[0]


@pytest.fixture(scope="module")
def sheet() -> LayoutReview:
    """A sheet of 2 m by 1 m that fills the tile: twice as many texels along v as along u."""
    return reviewed(shapes.plane(2, 1))


def test_stretch_and_angle_of_a_sheet_twice_as_wide_as_its_texture(sheet: LayoutReview) -> None:
    # Snyder, USGS PP 1395, equation 4-9: sin(omega / 2) = (a - b) / (a + b), here 1/3.
    stretch = heat(sheet, "stretch")
    angle = heat(sheet, "angle")
    np.testing.assert_allclose(stretch.value, 2.0)
    np.testing.assert_allclose(angle.value, math.degrees(2 * math.asin(1 / 3)))
    assert (stretch.low, stretch.high, stretch.unit) == (1.0, 2.0, "")
    assert angle.unit == "°"


def test_density_and_area_are_nought_octaves_where_everything_is_even(sheet) -> None:
    for mode in ("density", "area"):
        shown = heat(sheet, mode)
        np.testing.assert_allclose(shown.value, 0.0, atol=1e-12)
        assert shown.low == -shown.high
        assert shown.centre == 0.0
        assert shown.unit == "octaves"


def test_an_island_of_half_the_scale_is_one_octave_below() -> None:
    small = shapes.textured(shapes.plane(1, 1), lambda uv: uv * 0.2)
    large = shapes.textured(shapes.plane(1, 1), lambda uv: uv * 0.4 + 0.5)
    far = shapes.moved(small, np.eye(3), (3.0, 0.0, 0.0))
    one = reviewed(shapes.together(far, large, shapes.moved(large, np.eye(3), (6.0, 0.0, 0.0))))
    value = heat(one, "density").value
    assert sorted(set(np.round(value, 6).tolist())) == [-1.0, 0.0]


def test_overlap_counts_how_often_the_texture_is_claimed() -> None:
    half = shapes.textured(shapes.plane(1, 1), lambda uv: uv * 0.5)
    beside = shapes.textured(shapes.plane(1, 1), lambda uv: uv * 0.4 + 0.55)
    parts = [shapes.moved(half, np.eye(3), (2.0 * k, 0.0, 0.0)) for k in range(3)]
    one = reviewed(shapes.together(*parts, shapes.moved(beside, np.eye(3), (9.0, 0.0, 0.0))))
    shown = heat(one, "overlap")
    island = one.layout.face_island[one.layout.triangle_face]
    assert (shown.value[island < 3] == 3).all()
    assert (shown.value[island == 3] == 1).all()


def test_padding_ends_at_what_is_required() -> None:
    one = reviewed(shapes.cube_pieces())
    shown = heat(one, "padding", limits=DEFAULT)
    assert shown.low == 0.0
    assert shown.high == DEFAULT.required_padding_px
    assert np.nanmax(shown.value) <= shown.high


@pytest.mark.parametrize("mode", COLOURS)
def test_every_mode_has_a_value_for_every_triangle_or_none_at_all(mode) -> None:
    one = reviewed(shapes.tori())
    shown = heat(one, mode)
    if mode in ("islands", "plain"):
        assert shown is None
    else:
        assert shown.value.shape == (len(one.layout.triangle_face),)
        assert shown.low < shown.high
        assert shown.label


def test_the_histogram_shares_out_the_known_surface() -> None:
    one = reviewed(shapes.tori())
    area = one.measures.triangle.area_m2
    shown = heat(one, "density")
    bars = histogram(shown, area, bins=32)
    assert bars.sum() == pytest.approx(1.0)
    wanted, _ = np.histogram(
        np.clip(shown.value, shown.low, shown.high),
        bins=32,
        range=(shown.low, shown.high),
        weights=area,
    )
    np.testing.assert_allclose(bars, wanted / wanted.sum(), atol=1e-9)


def test_a_triangle_without_texture_area_has_no_number() -> None:
    uv = [[0, 0], [1, 0], [1, 1], [0, 1], [0.5, 0.5]]
    flat = shapes.asset(
        [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [2, 0, 0]],
        [[0, 1, 2], [0, 2, 3], [1, 4, 2]],
        uv,
        uv_faces=[[0, 1, 2], [0, 2, 3], [0, 4, 2]],
    )
    one = reviewed(flat)
    for mode in ("density", "stretch", "angle", "area"):
        value = heat(one, mode).value
        assert np.isnan(value).sum() == 1
        assert np.isfinite(value).sum() == 2
