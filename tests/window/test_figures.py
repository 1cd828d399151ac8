"""How numbers are written."""

import math

import pytest

from evenweave.window.parts import figures


@pytest.fixture(autouse=True)
def _english() -> None:
    from PySide6.QtCore import QLocale

    QLocale.setDefault(QLocale("en_GB"))


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0, "0"), (3, "3"), (0.5, "0.5"), (12.345, "12.35"), (99.999, "100"), (512, "512"),
        (4582.4, "4,582"), (0.001, "0.001"), (0.00123, "0.0012"), (2.5e7, "2.5e+07"),
        (math.nan, "–"),
    ],
)  # fmt: skip
def test_a_measured_number_has_the_digits_its_size_deserves(value: float, text: str) -> None:
    assert figures.measured(value) == text


@pytest.mark.parametrize(
    ("value", "text"), [(0.254, "+0.25"), (-0.254, "−0.25"), (-0.001, "0.00"), (math.nan, "–")]
)
def test_octaves_show_their_sign_but_zero_has_none(value: float, text: str) -> None:
    assert figures.signed(value) == text


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.0, "0.0"), (1.0, "100"), (0.996, "100"), (0.25, "25.0"), (0.0004, "0.04"), (1e-6, "<0.01")],
)
def test_small_shares_are_written_finer_and_never_as_nothing(share: float, text: str) -> None:
    assert figures.percent(share) == text


@pytest.mark.parametrize(
    ("value", "text"), [(999_999, "999,999"), (19_974_321, "19.97 M"), (4.2e8, "420 M")]
)
def test_millions_of_texels_are_written_as_millions(value: float, text: str) -> None:
    assert figures.short_count(value) == text
