"""Numbers in text, exactly as Python's `float()` reads them.

A mantissa up to 2**53 and a power of ten that a double holds exactly need one correctly
rounded operation (Clinger, "How to Read Floating Point Numbers Accurately", PLDI 1990).
Longer numbers are computed in double-double arithmetic (Dekker, "A Floating-Point Technique
for Extending the Available Precision", 1971); where its error bound leaves the rounding
open, the caller is told to ask `float()`.
"""

# mypy: disable-error-code="arg-type,assignment,no-any-return,return-value"
# (numpy scalars stand for plain numbers inside kernels)

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.mesh.tokens.word_kernels import is_word_end, word_end

READ, UNSURE, NOT_FINITE, MALFORMED = range(4)

_DIGITS = 18  # digits that an int64 always holds
_EXACT_POWER = 22  # 10**22 is the largest power of ten that a double holds exactly
_LARGEST_POWER = 60
_POWER = np.array([float(10**k) for k in range(_LARGEST_POWER + 1)])
_POWER_REST = np.array([float(10**k - int(float(10**k))) for k in range(_LARGEST_POWER + 1)])


@njit(cache=True, nogil=True, inline="always")
def read_real(data: np.ndarray, i: int, end: int) -> tuple[float, int, int]:
    """Read the number that starts at `i`.

    Returns its value, what became of it, and the place behind it: READ; UNSURE (well formed,
    `float()` must decide); NOT_FINITE (nan, inf, 1.#IND; the value is NaN) or MALFORMED.
    """
    start = i
    negative = data[i] == 45
    if negative or data[i] == 43:
        i += 1
    mantissa = np.int64(0)
    first = i
    while i < end:
        digit = np.int64(data[i]) - 48
        if digit < 0 or digit > 9:
            break
        mantissa = mantissa * 10 + digit
        i += 1
    digits = i - first
    decimals = 0
    if i < end and data[i] == 46:
        i += 1
        first = i
        while i < end:
            digit = np.int64(data[i]) - 48
            if digit < 0 or digit > 9:
                break
            mantissa = mantissa * 10 + digit
            i += 1
        decimals = i - first
        digits += decimals
    is_plain = 0 < digits <= _DIGITS and mantissa <= 1 << 53 and is_word_end(data, i, end)
    if not is_plain or decimals > _EXACT_POWER or (i < end and data[i] == 35):
        return _read_odd(data, start, end)
    value = np.float64(mantissa) / _POWER[decimals]
    return -value if negative else value, READ, i


@njit(cache=True, nogil=True)
def _read_odd(data: np.ndarray, i: int, end: int) -> tuple[float, int, int]:
    """Read a number with an exponent or many digits, or say that it is none."""
    negative = data[i] == 45
    if negative or data[i] == 43:
        i += 1
    mantissa, scale, dropped, digits, i = _read_digits(data, i, end)
    if i < end and data[i] == 35 and data[i - 1] == 46:
        return np.nan, NOT_FINITE, word_end(data, i, end)
    if digits == 0:
        kind = NOT_FINITE if _names_no_number(data, i, end) else MALFORMED
        return np.nan, kind, i if is_word_end(data, i, end) else word_end(data, i, end)
    if i < end and data[i] | 32 == 101:
        exponent, digits, i = _read_exponent(data, i + 1, end)
        scale += exponent
    if digits == 0 or not is_word_end(data, i, end):
        return np.nan, MALFORMED, i
    value, is_sure = _scaled(mantissa, scale, dropped)
    return -value if negative else value, READ if is_sure else UNSURE, i


@njit(cache=True, nogil=True)
def _read_digits(data: np.ndarray, i: int, end: int) -> tuple[int, int, bool, int, int]:
    """Read digits, a point, digits.

    Returns the leading digits as a number, the power of ten it is to be scaled by, whether
    digits other than 0 were left away, how many digits there were, and the place behind.
    """
    mantissa = np.int64(0)
    scale = significant = digits = step = 0
    dropped = False
    while i < end:
        digit = np.int64(data[i]) - 48
        if digit == -2 and step == 0:
            step = -1
        elif digit < 0 or digit > 9:
            break
        else:
            digits += 1
            scale += step
            if significant < _DIGITS:
                mantissa = mantissa * 10 + digit
                significant += mantissa > 0
            else:
                dropped = dropped or digit > 0
                scale += 1
        i += 1
    return mantissa, scale, dropped, digits, i


@njit(cache=True, nogil=True)
def _read_exponent(data: np.ndarray, i: int, end: int) -> tuple[int, int, int]:
    """Read a sign and digits: the number, how many digits, the place behind."""
    negative = i < end and data[i] == 45
    if i < end and (data[i] == 43 or data[i] == 45):
        i += 1
    exponent = np.int64(0)
    first = i
    while i < end and 48 <= data[i] <= 57:
        exponent = min(exponent * 10 + np.int64(data[i]) - 48, 100_000)
        i += 1
    return -exponent if negative else exponent, i - first, i


@njit(cache=True, nogil=True)
def _names_no_number(data: np.ndarray, i: int, end: int) -> bool:
    """Tell whether "nan" or "inf" stands here, in any case and with anything behind it."""
    if i + 2 >= end:
        return False
    first, second, third = data[i] | 32, data[i + 1] | 32, data[i + 2] | 32
    if first == 110:
        return second == 97 and third == 110
    return first == 105 and second == 110 and third == 102


@njit(cache=True, nogil=True)
def _scaled(mantissa: int, scale: int, dropped: bool) -> tuple[float, bool]:
    """Return mantissa * 10**scale correctly rounded, and whether that is certain.

    `dropped` says that further digits follow: the true mantissa is less than one larger.
    """
    if mantissa == 0:
        return 0.0, True
    power = abs(scale)
    if not dropped and mantissa <= 1 << 53 and power <= _EXACT_POWER:
        if scale < 0:
            return np.float64(mantissa) / _POWER[power], True
        return np.float64(mantissa) * _POWER[power], True
    if power > _LARGEST_POWER:
        return np.nan, False
    high = np.float64(mantissa)
    low = np.float64(mantissa - np.int64(high))
    ten, ten_rest = _POWER[power], _POWER_REST[power]
    if scale < 0:
        value = high / ten
        product, product_rest = _exact_product(value, ten)
        rest = (((high - product) - product_rest) + (low - value * ten_rest)) / ten
    else:
        value, product_rest = _exact_product(high, ten)
        rest = product_rest + (low * ten + high * ten_rest)
    slack = value * 2.0**-98
    if dropped:
        slack += value / high * 1.0625
    above, below = value + (rest + slack), value + (rest - slack)
    return above, above == below


@njit(cache=True, nogil=True)
def _exact_product(a: float, b: float) -> tuple[float, float]:
    """Return a*b rounded, and what the rounding lost (Dekker's product, Veltkamp's splitting)."""
    product = a * b
    split = a * 134217729.0
    a_high = split - (split - a)
    a_low = a - a_high
    split = b * 134217729.0
    b_high = split - (split - b)
    b_low = b - b_high
    return product, ((a_high * b_high - product) + a_high * b_low + a_low * b_high) + a_low * b_low
