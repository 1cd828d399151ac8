"""`Quantity`: what one number is called, how it is written, and where it comes from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from evenweave.check.numbers import number

Scale = Literal["ratio", "octaves", "share", "texels", "texels²", "density", "degrees", "count",
                "metres", "m²", "level", "uv"]  # fmt: skip
UNKNOWN = "–"


@dataclass(frozen=True)
class Quantity:
    """One quantity.

    id : never changes; label : in a sentence's case; header : for a column, with its unit
    scale : how it is written; unit : as written behind the number
    what : one sentence; formula : with the letters of `reference`; source : where it is from
    colours : "diverging", "sequential", or "" where it colours nothing
    tops : ends of the colours to choose from, the first that holds 98 % of the surface is taken
    mode : the colour mode that shows it, "" for none
    field : where a result in JSON has it, from the island or the layout ("island.stretch.p95")
    column : its name in the table of islands as CSV, "" where it has no column
    """

    id: str
    label: str
    header: str
    scale: Scale
    unit: str
    what: str
    formula: str
    source: str
    colours: str = ""
    tops: tuple[float, ...] = ()
    mode: str = ""
    field: str = ""
    column: str = ""

    def write(self, value: float) -> str:
        """Return a value as it stands in a table: no unit, a dash where it is not known."""
        if math.isnan(value):
            return UNKNOWN
        if math.isinf(value):
            return "∞" if value > 0 else "−∞"
        return _WRITERS.get(self.scale, number)(value)

    def say(self, value: float) -> str:
        """Return a value with its unit, as it stands in a sentence."""
        text = self.write(value)
        return f"{text} {self.unit}" if self.unit and text != UNKNOWN else text


def _fixed(value: float) -> str:
    return f"{value:,.2f}"


def _signed(value: float) -> str:
    if round(value, 2) == 0:
        return "0.00"
    return f"{'+' if value > 0 else '−'}{abs(value):,.2f}"


def _share(value: float) -> str:
    return number(100 * value)


def _whole(value: float) -> str:
    return f"{round(value):,}"


def _texels(value: float) -> str:
    return number(value).replace("-", "−")


_WRITERS = {
    "ratio": _fixed,
    "octaves": _signed,
    "share": _share,
    "count": _whole,
    "level": _whole,
    "texels²": _whole,
    "texels": _texels,
}
