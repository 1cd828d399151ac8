# mypy: allow-untyped-defs
"""Kernels that recognise strips by their two long outlines and measure how they bend.

The two long outlines of a strip run side by side at one distance. So the loop is cut at two
places, its ends, such that points at equal shares of the two outlines lie closest to each
other; half-way between them runs the middle line. A strip of length L and width w, straight or
bent to an arc, has the perimeter 2 (L + w) and the area L w, which gives both.
"""

from __future__ import annotations

import numpy as np
from numba import njit

SAMPLES = 512
MIDDLE = 64
_FEW, _PAIRS = 8, 24
_UNEVEN, _MOST_UNEVEN = 0.06, 0.55
_JAGGED = 1.12
_CORNER_COSINE = np.cos(np.radians(50.0))
_FULL_BEND = 4.66


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
        if not loop_is_outer[k] or loop_start[k + 1] - loop_start[k] < 4:
            continue
        area, around = _area_and_length(loop_xy, loop_start[k], loop_start[k + 1])
        rest = around * around - 16.0 * area
        if area <= 0.0 or rest <= 0.0:
            continue
        long, wide = (around + np.sqrt(rest)) / 4.0, (around - np.sqrt(rest)) / 4.0
        if long < slenderness * wide * (1.0 - 1e-9):
            continue
        _resample(loop_xy, loop_start[k], loop_start[k + 1], around, sample)
        gap = wide / around * SAMPLES
        margin = 0.5 * wide / long
        a, b, spread = _find_ends(sample, gap, margin)
        if spread > 4.0 * wide * wide:
            continue
        _middle_line(sample, (a, b, gap), middle, across)
        if not _is_even(across, margin) or _has_corner(middle, wide / long):
            continue
        bend, passed = _bend(middle, wide / long)
        is_smooth = passed / _JAGGED <= long <= passed * _JAGGED
        if is_smooth and passed * passed >= slenderness * area * (1.0 - 1e-3):
            length[k], width[k], bow[k] = long, wide, bend
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
def _opposite(sample, ends, share):
    """Return the points at a share of the two long outlines.

    ends : where round the loop the strip's ends are, and how long an end is, in samples.
    """
    a, b, gap = ends
    one = (b - a) % SAMPLES
    px, py = _at(sample, a + 0.5 * gap + share * (one - gap))
    qx, qy = _at(sample, a - 0.5 * gap - share * (SAMPLES - one - gap))
    return px, py, qx, qy


@njit(cache=True, nogil=True)
def _spread(sample, ends, margin, pairs):
    """Return the mean squared distance between the long outlines, but for the ends."""
    total = 0.0
    for k in range(pairs):
        share = margin + (1.0 - 2.0 * margin) * (k + 0.5) / pairs
        px, py, qx, qy = _opposite(sample, ends, share)
        total += (px - qx) ** 2 + (py - qy) ** 2
    return total / pairs


@njit(cache=True, nogil=True)
def _find_ends(sample, gap, margin):
    """Return where round the loop the two ends of the strip are, and the spread there."""
    best, a = np.inf, 0.0
    for k in range(SAMPLES // 8):
        spread = _spread(sample, (4.0 * k, 4.0 * k + SAMPLES / 2.0, gap), margin, _FEW)
        if spread < best:
            best, a = spread, 4.0 * k
    b = a + SAMPLES / 2.0
    best = _spread(sample, (a, b, gap), margin, _PAIRS)
    step = SAMPLES / 32.0
    while step > 1e-3:
        is_better = False
        for move in range(8):
            da = step * ((1.0, -1.0, 0.0, 0.0, 1.0, -1.0, 1.0, -1.0)[move])
            db = step * ((0.0, 0.0, 1.0, -1.0, 1.0, -1.0, -1.0, 1.0)[move])
            one = (b + db - a - da) % SAMPLES
            if one < SAMPLES / 4.0 or one > SAMPLES * 0.75:
                continue
            spread = _spread(sample, (a + da, b + db, gap), margin, _PAIRS)
            if spread < best:
                best, a, b = spread, a + da, b + db
                is_better = True
        if not is_better:
            step *= 0.5
    return a, b, best


@njit(cache=True, nogil=True)
def _middle_line(sample, ends, middle, across):
    """Fill the middle line and the distances across it."""
    for k in range(MIDDLE + 1):
        px, py, qx, qy = _opposite(sample, ends, k / MIDDLE)
        middle[k, 0], middle[k, 1] = 0.5 * (px + qx), 0.5 * (py + qy)
        across[k] = np.hypot(px - qx, py - qy)


@njit(cache=True, nogil=True)
def _is_even(across, margin):
    """Tell whether the outlines keep their distance, but for the ends.

    The slimmer the strip, the more its width may vary: a notch is not the end of it.
    """
    first = int(np.ceil(margin * MIDDLE))
    least, most, total = np.inf, 0.0, 0.0
    for k in range(first, MIDDLE + 1 - first):
        least, most, total = min(least, across[k]), max(most, across[k]), total + across[k]
    mean = total / (MIDDLE + 1 - 2 * first)
    return max(most - mean, mean - least) <= min(_MOST_UNEVEN, _UNEVEN * 0.5 / margin) * mean


@njit(cache=True, nogil=True)
def _has_corner(middle, width_share):
    """Tell whether the middle line turns by more than 50 degrees from one width to the next."""
    reach = max(1, round(MIDDLE * width_share))
    for k in range(reach, MIDDLE + 1 - reach):
        ax, ay = middle[k, 0] - middle[k - reach, 0], middle[k, 1] - middle[k - reach, 1]
        bx, by = middle[k + reach, 0] - middle[k, 0], middle[k + reach, 1] - middle[k, 1]
        size = np.hypot(ax, ay) * np.hypot(bx, by)
        if ax * bx + ay * by < _CORNER_COSINE * size:
            return True
    return False


@njit(cache=True, nogil=True)
def _bend(middle, width_share):
    """Return the rise of the middle line over its length, and that length.

    The line is averaged over one width, so that jags even out, and the ends are left out, as
    they may be slanted; what an arc's rise would then be over its full length is returned.
    """
    half = max(1, int(np.ceil(0.5 * width_share * MIDDLE)))
    first, last = 2 * half, MIDDLE - 2 * half
    sx, sy = np.empty(last - first + 1), np.empty(last - first + 1)
    for k in range(first, last + 1):
        x, y = 0.0, 0.0
        for n in range(k - half, k + half + 1):
            x, y = x + middle[n, 0], y + middle[n, 1]
        sx[k - first], sy[k - first] = x / (2 * half + 1), y / (2 * half + 1)
    dx, dy = sx[-1] - sx[0], sy[-1] - sy[0]
    chord = np.hypot(dx, dy)
    rise, passed = 0.0, 0.0
    for k in range(len(sx)):
        ax, ay = sx[k] - sx[0], sy[k] - sy[0]
        rise = max(rise, abs(ax * dy - ay * dx) / chord if chord > 0.0 else np.hypot(ax, ay))
        if k > 0:
            passed += np.hypot(sx[k] - sx[k - 1], sy[k] - sy[k - 1])
    share = (last - first) / MIDDLE
    return _full_rise(rise / passed if passed > 0.0 else 0.0, share), passed / share


@njit(cache=True, nogil=True)
def _full_rise(part_rise, share):
    """Return rise over length of an arc, given that of its middle part.

    An arc of angle t has (1 - cos(t / 2)) / t, which grows up to t = 4.66.
    """
    low, high = 0.0, _FULL_BEND
    for _ in range(50):
        angle = 0.5 * (low + high)
        if (1.0 - np.cos(0.5 * angle)) / angle < part_rise:
            low = angle
        else:
            high = angle
    whole = min(high / share, _FULL_BEND)
    return (1.0 - np.cos(0.5 * whole)) / whole
