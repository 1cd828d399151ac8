"""The reference is Python's own `float()`, which rounds correctly by contract."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenweave.mesh.tokens.number_kernels import (
    MALFORMED,
    NOT_FINITE,
    READ,
    UNSURE,
    read_real,
)

pytestmark = pytest.mark.kernels
exact = settings(deadline=None, max_examples=400, derandomize=True)


def read(word: str) -> tuple[float, int, int]:
    data = np.frombuffer(word.encode("latin-1"), np.uint8)
    return read_real(data, 0, len(data))


def agrees(word: str) -> bool:
    """Tell whether the kernel read exactly what `float()` reads, or passed it on."""
    value, kind, behind = read(word)
    assert kind in (READ, UNSURE)
    assert behind == len(word)
    return kind == UNSURE or np.float64(value).tobytes() == np.float64(float(word)).tobytes()


@exact
@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_double_is_read_back_exactly(value: float) -> None:
    assert agrees(repr(value))
    assert agrees(f"{value:.9g}")
    assert agrees(f"{value:.20e}")


@exact
@given(
    st.from_regex(
        r"[+-]?([0-9]{1,25}(\.[0-9]{0,30})?|\.[0-9]{1,30})([eE][+-]?[0-9]{1,4})?", fullmatch=True
    )
)
def test_every_decimal_is_read_as_float_reads_it(word: str) -> None:
    assert agrees(word)


@pytest.mark.parametrize("digits", [6, 9, 15, 16, 17, 18, 19, 25])
def test_numbers_of_one_length_are_exact_and_seldom_passed_on(digits: int) -> None:
    random = np.random.default_rng(digits)
    words = [f"{x:.{digits}f}" for x in random.uniform(-2, 2, 2000)]
    words += [f"{x:.{digits}e}" for x in random.standard_normal(2000) * 1e-9]
    assert all(agrees(word) for word in words)
    assert sum(read(word)[1] == UNSURE for word in words) <= 8


@pytest.mark.parametrize(
    "word",
    [
        "0", "-0", "-0.0", "+7", "5.", ".5", "-.5e-3", "1e22", "1e23", "9007199254740993",
        "9007199254740992", "0.1", "123456789012345678901234567890", "1e-30", "1E+05",
        "0.500000000000000000000000000000000000", "0e999", "6.123233995736766e-17",
        "0.00000000000000000000000000000000000001", "9223372036854775807", "99999999999999999999",
    ],
)  # fmt: skip
def test_an_edge_of_the_grammar_is_exact(word: str) -> None:
    assert agrees(word)


@pytest.mark.parametrize("word", ["4503599627370496.5", "4503599627370497.5", "1e400", "1e-320"])
def test_a_tie_or_an_extreme_is_passed_on_to_float(word: str) -> None:
    assert read(word)[1] == UNSURE


@pytest.mark.parametrize(
    "word", ["nan", "NaN", "-nan", "inf", "-Infinity", "nan(ind)", "1.#IND", "-1.#QNAN0", "1.#INF"]
)
def test_what_is_not_finite_is_told_from_junk(word: str) -> None:
    value, kind, behind = read(word)
    assert np.isnan(value)
    assert kind == NOT_FINITE
    assert behind == len(word)


@pytest.mark.parametrize(
    "word",
    [
        "3.1+e2",
        "e5",
        ".",
        "-",
        "+",
        "1e",
        "1e+",
        "1.2.3",
        "--1",
        "0x10",
        "1_000",
        "one",
        "1,5",
        "\\",
    ],
)
def test_junk_is_malformed(word: str) -> None:
    assert read(word)[1] == MALFORMED


@pytest.mark.parametrize("tail", [" 2", "\t2", "\n", "\r", "#2", "\\\n2"])
def test_a_number_ends_at_a_blank_a_line_end_a_comment_or_a_joint(tail: str) -> None:
    assert read("2.5" + tail) == (2.5, READ, 3)
