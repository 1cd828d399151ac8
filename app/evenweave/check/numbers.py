"""Numbers and names as a person reads them in a sentence."""

from __future__ import annotations

import math
from collections.abc import Sequence


def number(value: float, digits: int = 3) -> str:
    """Write a number with so many significant digits, never with an exponent for 1e-6 to 1e12.

    >>> number(1234.5), number(0.31416), number(2.0), number(15.98)
    ('1,234', '0.314', '2', '16')
    """
    if not math.isfinite(value):
        return "unmeasured" if math.isnan(value) else "endless"
    size = abs(value)
    if size == 0 or size >= 1e12 or size < 1e-6:
        return f"{value:.{digits}g}"
    decimals = max(digits - 1 - math.floor(math.log10(size)), 0)
    text = f"{value:,.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def told_apart(value: float, limit: float) -> tuple[str, str]:
    """Write a value and its limit with as many digits as it takes to tell them apart.

    >>> told_apart(15.98, 16), told_apart(1.7, 1.5)
    (('15.98', '16'), ('1.7', '1.5'))
    """
    for digits in range(2, 12):
        texts = number(value, digits), number(limit, max(digits, 3))
        if texts[0] != texts[1] or value == limit:
            break
    return texts


def percent(share: float, digits: int = 3) -> str:
    """Write a share as a percentage.

    >>> percent(0.618)
    '61.8 %'
    """
    return f"{number(100 * share, digits)} %"


def rounded(value: float) -> str:
    """Write a number as one says it, large ones to two figures.

    >>> rounded(60040.0), rounded(12.5)
    ('60,000', '12.5')
    """
    return number(float(f"{value:.2g}") if value >= 1000 else value)


def sharpness(octaves: float) -> str:
    """Write octaves of density as an eye sees them, to go on with "as ...".

    >>> sharpness(-1.0), sharpness(1.14), sharpness(-0.42)
    ('half as sharp', '2.2 times as sharp', '0.75 times as sharp')
    """
    if abs(octaves + 1.0) < 0.03:
        return "half as sharp"
    return f"{number(2.0**octaves, 2)} times as sharp"


def allowed(limit: float, unit: str = "") -> str:
    """Write a limit in brackets: what is next to nothing is nothing.

    >>> allowed(0.001), allowed(4.0, "square texels")
    ('none allowed', 'limit 4 square texels')
    """
    return "none allowed" if limit <= 0.01 else f"limit {number(limit)} {unit}".rstrip()


def counted(count: int, noun: str) -> str:
    """Write a count with its noun.

    >>> counted(1, "face"), counted(1200, "face")
    ('1 face', '1,200 faces')
    """
    return f"{count:,} {noun}" if count == 1 else f"{count:,} {noun}s"


def density(texels_per_metre: float, unit: str) -> str:
    """Write a density per metre ("m") or per centimetre ("cm").

    >>> density(512.0, "m"), density(512.0, "cm")
    ('512 texels per metre', '5.12 texels per centimetre')
    """
    if unit == "cm":
        return f"{number(texels_per_metre / 100)} texels per centimetre"
    return f"{number(texels_per_metre)} texels per metre"


def several(names: Sequence[str], total: int) -> str:
    """Name the first three and count the rest of the total.

    >>> several(["roof", "door", "ring", "base"], 5), several(["roof", "door"], 2)
    ('roof, door, ring and 2 more', 'roof and door')
    """
    if total > 3:
        return f"{', '.join(names[:3])} and {total - 3:,} more"
    return " and ".join(filter(None, (", ".join(names[: total - 1]), "".join(names[total - 1 :]))))


def printable(text: str) -> str:
    """Make names safe for a terminal: control characters and odd bytes become escapes."""
    return "".join(
        char
        if char.isprintable()
        else char.encode("unicode_escape", "backslashreplace").decode("ascii")
        for char in text
    )
