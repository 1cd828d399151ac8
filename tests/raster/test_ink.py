"""Antialiased lines: as wide as asked, the greatest coverage wins, nothing is left behind."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenweave.raster.colour.paint import Lines
from evenweave.raster.ink.ink import draw_lines
from evenweave.raster.ink.ink_kernels import ink_segments

pytestmark = pytest.mark.kernels
PAIR = np.array([[0, 1]], dtype=np.int32)


def inked(point: np.ndarray, half_width: float, segment: np.ndarray = PAIR) -> np.ndarray:
    ink = np.zeros((120, 120), dtype=np.uint8)
    ink_segments(np.ascontiguousarray(point), segment, half_width, 0, 120, ink)
    return ink


@settings(deadline=None, derandomize=True, max_examples=80)
@given(st.floats(0, 2 * math.pi), st.floats(0, 1), st.floats(0.75, 3.0))
def test_coverage_adds_up_to_length_times_width(
    turn: float, offset: float, half_width: float
) -> None:
    way = np.array([math.cos(turn), math.sin(turn)]) * 40
    middle = np.array([60 + offset, 60 - offset / 3])
    cover = inked(np.stack((middle - way, middle + way)), half_width).astype(float) / 255
    wanted = 80 * 2 * half_width + math.pi * half_width**2  # with its round ends
    assert cover.sum() == pytest.approx(wanted, rel=0.05)


@settings(deadline=None, derandomize=True, max_examples=60)
@given(st.tuples(*[st.floats(-200, 300)] * 4))
def test_ink_is_the_distance_to_the_segment(ends: tuple[float, ...]) -> None:
    point = np.array(ends).reshape(2, 2)
    ink = inked(point, 1.0).astype(float) / 255
    y, x = np.mgrid[:120, :120] + 0.5
    way = point[1] - point[0]
    along = ((x - point[0, 0]) * way[0] + (y - point[0, 1]) * way[1]) / max(way @ way, 1e-300)
    along = np.clip(along, 0, 1)
    distance = np.hypot(x - point[0, 0] - along * way[0], y - point[0, 1] - along * way[1])
    np.testing.assert_allclose(ink, np.clip(1.5 - distance, 0, 1), atol=1.5 / 255)


def test_a_line_drawn_in_bands_is_the_line_drawn_at_once() -> None:
    point = np.array([[3.0, 5.0], [110.0, 97.0]])
    whole = inked(point, 1.2)
    parts = np.zeros_like(whole)
    for first in range(0, 120, 17):
        ink_segments(point, PAIR, 1.2, first, min(first + 17, 120), parts)
    np.testing.assert_array_equal(parts, whole)


def test_points_that_are_no_numbers_draw_nothing() -> None:
    assert inked(np.array([[math.nan, 5.0], [50.0, 50.0]]), 1.0).sum() == 0
    assert inked(np.array([[math.inf, 5.0], [50.0, 50.0]]), 1.0).sum() == 0


def test_a_line_and_its_casing_leave_no_ink_behind() -> None:
    rgba = np.full((120, 120, 4), 128, dtype=np.uint8)
    ink = np.zeros((120, 120), dtype=np.uint8)
    point = np.array([[10.0, 60.0], [110.0, 60.0]])
    draw_lines(rgba, ink, Lines(point, PAIR, (0, 0, 0), 2.0, casing=(255, 255, 255)), point, 1.0)
    assert ink.sum() == 0
    column = rgba[:, 60, 0].astype(int)
    assert column.min() == 0
    assert column.max() == 255
    assert column[40] == 128
