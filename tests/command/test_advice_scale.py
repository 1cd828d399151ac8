"""Places in advice stay useful on assets of any size."""

from __future__ import annotations

import numpy as np
import pytest

from evenweave.command.advice_report import coordinates


@pytest.mark.parametrize("size", [1e-4, 0.02, 1.0, 40.0, 900.0])
def test_places_are_written_to_a_ten_thousandth_of_the_asset(size: float) -> None:
    places = size * np.array([0.12344, 0.9871, -0.333])
    read_back = [float(word) for word in coordinates(places, size).replace(", ", " ").split()]
    np.testing.assert_allclose(read_back, places, atol=1e-3 * size)


def test_what_is_next_to_nothing_is_written_as_nothing() -> None:
    assert coordinates([1e-17, -1e-12, 0.5], 1.0) == "0, 0, 0.5"
