"""Colour maps as published, ticks that are round, islands that can be told apart."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pyqtgraph
import pytest

from evenweave.raster.colour.colouring import value_colours
from evenweave.raster.colour.colours import (
    ACCENT,
    ASIDE,
    DIVERGING,
    SEQUENTIAL,
    UNKNOWN,
    colour_map,
    island_colours,
    packed,
    ticks,
)


@pytest.mark.parametrize("name", [DIVERGING, SEQUENTIAL])
def test_maps_are_kovesis_as_pyqtgraph_carries_them(name: str) -> None:
    published = Path(pyqtgraph.__file__).parent / "colors" / "maps" / f"{name}.csv"
    wanted = np.loadtxt(published, delimiter=",") * 255
    assert np.abs(colour_map(name).table - wanted).max() <= 0.5 + 1e-9


def test_the_middle_of_the_diverging_map_is_neutral() -> None:
    middle = colour_map(DIVERGING).table[127].astype(int)
    assert np.ptp(middle) < 12


@pytest.mark.parametrize(
    ("low", "high", "most", "wanted"),
    [
        (-1, 1, 5, (-1, -0.5, 0, 0.5, 1)),
        (1, 2, 6, (1, 1.2, 1.4, 1.6, 1.8, 2)),
        (0, 180, 5, (0, 50, 100, 150)),
        (0, 16, 6, (0, 5, 10, 15)),
    ],
)
def test_ticks_are_round_numbers_within_the_range(low, high, most, wanted) -> None:
    assert ticks(low, high, most) == pytest.approx(wanted)


@pytest.mark.parametrize("span", [(3e-7, 8e-7), (-1e6, 2e9), (0.1, 0.3), (-4, 4)])
@pytest.mark.parametrize("most", [2, 3, 6, 9])
def test_there_are_never_more_ticks_than_asked(span: tuple[float, float], most: int) -> None:
    found = ticks(*span, most)
    assert 1 <= len(found) <= most + 1
    assert all(span[0] - 1e-9 * abs(span[0]) <= tick <= span[1] * (1 + 1e-9) for tick in found)


def test_ticks_of_an_empty_or_unknown_range_do_not_fail() -> None:
    assert ticks(1.0, 1.0) == (1.0,)
    assert ticks(math.nan, 1.0) == ()


def test_neighbouring_islands_have_unlike_tones() -> None:
    random = np.random.default_rng(2)
    pairs = random.integers(0, 200, (300, 2)).astype(np.int32)
    tones = island_colours(200, pairs).astype(int)
    unlike = pairs[pairs[:, 0] != pairs[:, 1]]
    assert (tones[unlike[:, 0]] != tones[unlike[:, 1]]).any(axis=1).all()


def test_the_accent_is_far_from_every_other_colour() -> None:
    tables = [colour_map(name).table for name in (DIVERGING, SEQUENTIAL)]
    tables.append(island_colours(60, np.zeros((0, 2), dtype=np.int32)))
    for table in tables:
        assert np.linalg.norm(table.astype(float) - ACCENT, axis=1).min() > 90


@pytest.mark.kernels
def test_values_take_the_nearest_colour_and_beyond_the_ends_the_ends() -> None:
    table = np.stack([np.arange(256)] * 3, axis=1).astype(np.uint8)
    value = np.array([-5.0, 0.0, 0.5, 1.0, 9.0, math.nan])
    none = np.zeros(6, dtype=np.uint8)
    colour = value_colours(value, table, span=(0.0, 1.0), brush=None, mark=none)
    assert (colour[:5] & 255).tolist() == [0, 0, 128, 255, 255]
    assert colour[5] == packed(UNKNOWN)


@pytest.mark.kernels
def test_a_brush_sets_others_aside_and_its_ends_reach_beyond_the_range() -> None:
    table = np.zeros((256, 3), dtype=np.uint8)
    value = np.array([-5.0, 0.2, 0.5, 0.9, 9.0])
    none = np.zeros(5, dtype=np.uint8)

    def aside(brush: tuple[float, float]) -> list[bool]:
        colour = value_colours(value, table, span=(0.0, 1.0), brush=brush, mark=none)
        return (colour == packed(ASIDE)).tolist()

    assert aside((0.4, 0.6)) == [True, True, False, True, True]
    assert aside((0.4, 1.0)) == [True, True, False, False, False]
    assert aside((0.0, 0.6)) == [False, False, False, True, True]
