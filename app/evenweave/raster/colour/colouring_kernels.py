# mypy: allow-untyped-defs
"""The kernel that gives every triangle its colour."""

from __future__ import annotations

from numba import njit

from evenweave.raster.kernel_types import B1, F1, OUT_U1, U1, f64, i64, u32


@njit([(F1, f64, f64, U1, f64, f64, U1, B1, OUT_U1, i64, i64)], cache=True, nogil=True)
def colour_values(
    value, low, high, table, brush_low, brush_high, special, mark, colour, first, end
):
    """Write packed colours of values: `table` from low to high, ends beyond.

    special : colours of what cannot be measured, and of what the brush sets aside
    mark : added above the colour's three bytes
    """
    steps = table.shape[0]
    per = (steps - 1) / (high - low)
    for t in range(first, end):
        number = value[t]
        if number != number:
            chosen = special[0]
        elif number < brush_low or number > brush_high:
            chosen = special[1]
        else:
            place = min(max((number - low) * per, 0.0), steps - 1.0)
            chosen = table[u32(place + 0.5)]
        colour[t] = chosen | (u32(mark[t]) << u32(24))
