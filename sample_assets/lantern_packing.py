"""Place flattened patches in the tile: boxes, largest first, each into the tightest free corner."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from lantern_parts import Patch

Box = tuple[float, float, float, float]


def _turned(flat: np.ndarray) -> np.ndarray:
    """A quarter turn, so that the flattening keeps its handedness."""
    return np.stack([-flat[:, 1], flat[:, 0]], axis=1)


def _split(free: list[Box], taken: Box) -> list[Box]:
    """Cut a taken box out of the free boxes and drop free boxes that lie in others."""
    x, y, w, h = taken
    left: list[Box] = []
    for fx, fy, fw, fh in free:
        if x >= fx + fw or x + w <= fx or y >= fy + fh or y + h <= fy:
            left.append((fx, fy, fw, fh))
            continue
        if x > fx:
            left.append((fx, fy, x - fx, fh))
        if x + w < fx + fw:
            left.append((x + w, fy, fx + fw - x - w, fh))
        if y > fy:
            left.append((fx, fy, fw, y - fy))
        if y + h < fy + fh:
            left.append((fx, y + h, fw, fy + fh - y - h))
    return [
        a
        for i, a in enumerate(left)
        if not any(
            b[0] <= a[0]
            and b[1] <= a[1]
            and b[0] + b[2] >= a[0] + a[2]
            and b[1] + b[3] >= a[1] + a[3]
            for j, b in enumerate(left)
            if j != i and (b != a or j < i)
        )
    ]


def _place(
    sizes: list[tuple[float, float]], side: float, rule: int
) -> list[tuple[float, float, bool]] | None:
    """Place boxes in a square; return x, y and "is turned" of each, or None if they do not fit."""
    free: list[Box] = [(0.0, 0.0, side, side)]
    out: list[tuple[float, float, bool]] = [(0.0, 0.0, False)] * len(sizes)
    order = sorted(range(len(sizes)), key=lambda i: (-max(sizes[i]), -min(sizes[i]), i))
    if rule >= 2:
        order = sorted(range(len(sizes)), key=lambda i: (-sizes[i][0] * sizes[i][1], i))
    for i in order:
        best = None
        for turned in (False, True):
            w, h = sizes[i] if not turned else sizes[i][::-1]
            for fx, fy, fw, fh in free:
                if w <= fw and h <= fh:
                    fit = (min(fw - w, fh - h), fy, fx) if rule % 2 == 0 else (fy + h, fx, fw - w)
                    if best is None or fit < best[0]:
                        best = (fit, fx, fy, w, h, turned)
        if best is None:
            return None
        _, x, y, w, h, turned = best
        out[i] = (x, y, turned)
        free = _split(free, (x, y, w, h))
    return out


def pack(patches: list[Patch], factors: list[float], *, gap: float, edge: float) -> list[Patch]:
    """Return the patches scaled by one density (times each factor) and placed in the 0-1 tile.

    `gap` is kept between islands and `edge` to the tile's edge, both in tile units.
    """
    flats = [p.flat * f for p, f in zip(patches, factors, strict=True)]
    flats = [f - f.min(axis=0) for f in flats]
    sizes = [(float(f[:, 0].max()), float(f[:, 1].max())) for f in flats]
    side = 1.0 - 2 * edge + gap  # every box carries the gap on its upper and right side
    best: tuple[float, list[tuple[float, float, bool]]] | None = None
    for rule in range(4):
        low, high = 0.0, 1.0 / max(max(s) for s in sizes)
        for _ in range(24):
            scale = (low + high) / 2
            spots = _place([(w * scale + gap, h * scale + gap) for w, h in sizes], side, rule)
            if spots is None:
                high = scale
            else:
                low = scale
                if best is None or scale > best[0]:
                    best = (scale, spots)
    assert best is not None
    scale, spots = best
    placed = []
    for patch, flat, (x, y, turned) in zip(patches, flats, spots, strict=True):
        uv = _turned(flat) if turned else flat
        uv = (uv - uv.min(axis=0)) * scale + np.array([x + edge, y + edge])
        placed.append(replace(patch, flat=uv))
    return placed
