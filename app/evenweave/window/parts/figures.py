"""How numbers are written in the window: short, with the locale's signs, a dash for unknown."""

from __future__ import annotations

import math

from PySide6.QtCore import QLocale

UNKNOWN = "–"


def plain(value: float, digits: int = 2) -> str:
    """Return a number with a fixed count of decimals."""
    return UNKNOWN if math.isnan(value) else QLocale().toString(float(value), "f", digits)


def signed(value: float, digits: int = 2) -> str:
    """Return a number that always shows its sign, with a true minus."""
    if math.isnan(value):
        return UNKNOWN
    if round(value, digits) == 0:
        return plain(0.0, digits)
    return ("+" if value > 0 else "−") + plain(abs(value), digits)


def count(value: float) -> str:
    """Return a whole number with the locale's grouping."""
    return UNKNOWN if math.isnan(value) else QLocale().toString(round(value))


def short_count(value: float) -> str:
    """Return a whole number; from a million on in millions."""
    if math.isnan(value) or abs(value) < 999_999.5:
        return count(value)
    return f"{plain(value / 1e6, 2 if value < 1e8 else 0)} M"


def percent(share: float) -> str:
    """Return a share as a percentage, finer where it is small."""
    if math.isnan(share):
        return UNKNOWN
    value = 100 * share
    if 0 < value < 0.005:
        return f"<{plain(0.01)}"
    return plain(value, 0 if value >= 99.5 else 1 if value >= 0.095 or value == 0 else 2)


def measured(value: float, unit: str = "") -> str:
    """Return a number with as many decimals as its size deserves, and its unit."""
    if math.isnan(value):
        return UNKNOWN
    size = abs(value)
    if size == 0 or (size >= 100 and size < 1e6):
        text = count(value)
    elif 0.01 <= size < 100:
        text = plain(value, 2).rstrip("0").rstrip(QLocale().decimalPoint())
    else:
        text = f"{value:.2g}" if size < 0.01 else f"{value:.3g}"
    return f"{text} {unit}".strip()


def counted(number: int, text: str, many: str) -> str:
    """Return `one` for 1, else `many` with its {count} filled in."""
    return text if number == 1 else many.format(count=count(number))
