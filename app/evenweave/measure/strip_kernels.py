# mypy: allow-untyped-defs
"""Kernels that recognise strips by their two long outlines and measure how they bend.

The two long outlines of a strip run side by side at one distance. So the loop is cut at two
places, its ends, such that points at equal shares of the two outlines lie closest to each
other; half-way between them runs the middle line.
"""

from __future__ import annotations

import numpy as np
from numba import njit

SAMPLES = 512
MIDDLE = 64
_PAIRS = 32
_WIDTH_FROM, _WIDTH_TO = 0.5, 1.6
_JAGGED = 1.12
_CORNER_COSINE = np.cos(np.radians(50.0))


@njit(cache=True, nogil=True)
def measure_strips(loop_xy, loop_start, loop_is_outer, slenderness):
    """Return (L,) length, width (texels) and bow of every loop that bounds a strip, else NaN.

    loop_xy : (N, 2) corners of closed loops, loop k has loop_start[k] to loop_start[k + 1]
    loop_is_outer : (L,) bool, loops to look at; slenderness : least length over width.
    """
    loops = len(loop_start) - 1
    length, width, bow = np.full(loops, np.nan), np.full(loops, np.nan), np.full(loops, np.nan)
    sample = np.empty((SAMPLES, 2))
    middle = np.empty((MIDDLE + 1, 2))
    across = np.empty(MIDDLE + 1)
    for k in range(loops):
        if not loop_is_outer[k]:
            continue
        area, around = _area_and_length(loop_xy, loop_start[k], loop_start[k + 1])
        rest = around * around - 16.0 * area
        if area <= 0.0 or rest <= 0.0:
            continue
        if around + np.sqrt(rest) <= slenderness * (around - np.sqrt(rest)):
            continue
        _resample(loop_xy, loop_start[k], loop_start[k + 1], around, sample)
        a, b = _find_ends(sample)
        long = _middle_line(sample, a, b, middle, across)
        if long <= 0.0:
            continue
        wide = area / long
        if (
            long >= slenderness * wide
            and _is_even(across, wide)
            and around / 2.0 <= _JAGGED * (long + wide)
            and not _has_corner(middle, max(1, round(MIDDLE * wide / long)))
        ):
            length[k], width[k] = long, wide
            bow[k] = _rise(middle) / long
    return length, width, bow


@njit(cache=True, nogil=True)
def _area_and_length(loop_xy, first, last):
    area, around = 0.0, 0.0
    ox, oy = loop_xy[first, 0], loop_xy[first, 1]
    for n in range(first, last):
        m = n + 1 if n + 1 < last else first
        ax, ay = loop_xy[n, 0] - ox, loop_xy[n, 1] - oy
        bx, by = loop_xy[m, 0] - ox, loop_xy[m, 1] - oy
        area += 0.5 * (ax * by - ay * bx)
        around += np.hypot(bx - ax, by - ay)
    return abs(area), around


@njit(cache=True, nogil=True)
def _resample(loop_xy, first, last, around, sample):
    """Fill `sample` with points at equal steps round the loop."""
    n, passed = first, 0.0
    for k in range(SAMPLES):
        wanted = around * k / SAMPLES
        while True:
            m = n + 1 if n + 1 < last else first
            dx, dy = loop_xy[m, 0] - loop_xy[n, 0], loop_xy[m, 1] - loop_xy[n, 1]
            here = np.hypot(dx, dy)
            if passed + here >= wanted or n + 1 >= last:
                break
            passed += here
            n += 1
        t = min(1.0, (wanted - passed) / here) if here > 0.0 else 0.0
        sample[k, 0] = loop_xy[n, 0] + t * dx
        sample[k, 1] = loop_xy[n, 1] + t * dy


@njit(cache=True, nogil=True)
def _at(sample, s):
    """Return the point s samples round the loop."""
    whole = np.floor(s)
    n = int(whole) % SAMPLES
    m = (n + 1) % SAMPLES
    t = s - whole
    return (
        sample[n, 0] + t * (sample[m, 0] - sample[n, 0]),
        sample[n, 1] + t * (sample[m, 1] - sample[n, 1]),
    )


@njit(cache=True, nogil=True)
def _spread(sample, a, b):
    """Return the mean squared distance between the outlines from a to b and back to a."""
    one = (b - a) % SAMPLES
    two = SAMPLES - one
    total = 0.0
    for k in range(_PAIRS):
        share = (k + 0.5) / _PAIRS
        px, py = _at(sample, a + share * one)
        qx, qy = _at(sample, a - share * two)
        total += (px - qx) ** 2 + (py - qy) ** 2
    return total / _PAIRS


@njit(cache=True, nogil=True)
def _find_ends(sample):
    """Return where round the loop the two ends of the strip are."""
    best, a = np.inf, 0.0
    for k in range(SAMPLES // 4):
        at = 2.0 * k
        spread = _spread(sample, at, at + SAMPLES / 2)
        if spread < best:
            best, a = spread, at
    b = a + SAMPLES / 2
    step = SAMPLES / 32.0
    while step > 1e-3:
        is_better = False
        for move in range(6):
            da = (step, -step, 0.0, 0.0, step, -step)[move]
            db = (0.0, 0.0, step, -step, step, -step)[move]
            one = (b + db - a - da) % SAMPLES
            if one < SAMPLES / 4 or one > SAMPLES * 3 / 4:
                continue
            spread = _spread(sample, a + da, b + db)
            if spread < best:
                best, a, b = spread, a + da, b + db
                is_better = True
        if not is_better:
            step *= 0.5
    return a, b


@njit(cache=True, nogil=True)
def _middle_line(sample, a, b, middle, across):
    """Fill the middle line and the distances across; return the length of the middle line."""
    one = (b - a) % SAMPLES
    two = SAMPLES - one
    long = 0.0
    for k in range(MIDDLE + 1):
        share = k / MIDDLE
        px, py = _at(sample, a + share * one)
        qx, qy = _at(sample, a - share * two)
        middle[k, 0], middle[k, 1] = 0.5 * (px + qx), 0.5 * (py + qy)
        across[k] = np.hypot(px - qx, py - qy)
        if k > 0:
            long += np.hypot(middle[k, 0] - middle[k - 1, 0], middle[k, 1] - middle[k - 1, 1])
    return long


@njit(cache=True, nogil=True)
def _is_even(across, wide):
    """Tell whether the outlines keep their distance, but for the ends."""
    margin = MIDDLE // 8
    for k in range(margin, MIDDLE + 1 - margin):
        if across[k] < _WIDTH_FROM * wide or across[k] > _WIDTH_TO * wide:
            return False
    return True


@njit(cache=True, nogil=True)
def _has_corner(middle, reach):
    """Tell whether the middle line turns by more than 50 degrees from one width to the next."""
    for k in range(reach, MIDDLE + 1 - reach):
        ax, ay = middle[k, 0] - middle[k - reach, 0], middle[k, 1] - middle[k - reach, 1]
        bx, by = middle[k + reach, 0] - middle[k, 0], middle[k + reach, 1] - middle[k, 1]
        size = np.hypot(ax, ay) * np.hypot(bx, by)
        if ax * bx + ay * by < _CORNER_COSINE * size:
            return True
    return False


@njit(cache=True, nogil=True)
def _rise(middle):
    """Return how far the middle line departs from the straight line between its ends."""
    dx, dy = middle[MIDDLE, 0] - middle[0, 0], middle[MIDDLE, 1] - middle[0, 1]
    chord = np.hypot(dx, dy)
    rise = 0.0
    for k in range(MIDDLE + 1):
        ax, ay = middle[k, 0] - middle[0, 0], middle[k, 1] - middle[0, 1]
        away = abs(ax * dy - ay * dx) / chord if chord > 0.0 else np.hypot(ax, ay)
        rise = max(rise, away)
    return rise
