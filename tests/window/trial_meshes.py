"""A small mesh in which there is something to advise on every kind."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Place = Callable[[Points, Points], Points]
CELLS = 4
NAMES = ("left", "right", "squashed", "mirrored", "dome")
LEFT, RIGHT, SQUASHED, MIRRORED, DOME = range(5)


def write_mesh(path: Path) -> Path:
    """Write sheets of 4 by 4 quads, a metre wide: left and right joined by an edge but not in
    the texture, one squashed, one mirrored; and a dome seen from above.
    """
    sheets = [
        _sheet("left", (0, 0), lambda s, t: _flat(0.05 + 0.2 * s, 0.05 + 0.2 * t)),
        _sheet("right", (1, 0), lambda s, t: _flat(0.35 + 0.2 * s, 0.05 + 0.2 * t)),
        _sheet("squashed", (3, 0), lambda s, t: _flat(0.65 + 0.1 * s, 0.05 + 0.2 * t)),
        _sheet("mirrored", (5, 0), lambda s, t: _flat(0.25 - 0.2 * s, 0.35 + 0.2 * t)),
        _dome((8, 0)),
    ]
    lines, base = [], 0
    for name, point, uv, faces in sheets:
        lines += [f"o {name}", "usemtl clay"]
        lines += [f"v {x:.9f} {y:.9f} {z:.9f}" for x, y, z in point]
        lines += [f"vt {u:.9f} {v:.9f}" for u, v in uv]
        lines += ["f " + " ".join(f"{k + base}/{k + base}" for k in face) for face in faces]
        base += len(point)
    path.write_text("\n".join(lines) + "\n")
    return path


def _flat(u: Points, v: Points) -> Points:
    return np.stack([u, v], axis=1)


def _sheet(
    name: str, at: tuple[float, float], place: Place
) -> tuple[str, Points, Points, list[list[int]]]:
    t, s = (one.ravel() / CELLS for one in np.mgrid[0 : CELLS + 1, 0 : CELLS + 1])
    point = np.stack([s + at[0], t + at[1], np.zeros_like(s)], axis=1)
    return name, point, place(s, t), _quads(CELLS, CELLS + 1, CELLS)


def _dome(at: tuple[float, float]) -> tuple[str, Points, Points, list[list[int]]]:
    """Half a sphere without its pole, cut nowhere: its rings are closed."""
    around, rings = 16, 6
    k, j = (one.ravel() for one in np.meshgrid(np.arange(around), np.arange(rings)))
    angle, height = 2 * np.pi * k / around, np.pi / 2 * (1 - j / rings)
    reach = 0.5 * np.sin(height)
    x, y, z = reach * np.cos(angle), reach * np.sin(angle), 0.5 * np.cos(height)
    point = np.vstack([np.stack([x + at[0], y + at[1], z], axis=1), [[at[0], at[1], 0.5]]])
    uv = 0.5 + 0.25 * (point[:, :2] - at) / 0.5 + [0.2, 0.2]
    faces = _quads(rings - 1, around, around)
    last = (rings - 1) * around
    faces += [[last + n + 1, last + (n + 1) % around + 1, len(point)] for n in range(around)]
    return "dome", point, uv, faces


def _quads(rows: int, across: int, columns: int) -> list[list[int]]:
    faces = []
    for j in range(rows):
        for i in range(columns):
            right = (i + 1) % across
            ring = [
                j * across + i,
                j * across + right,
                (j + 1) * across + right,
                (j + 1) * across + i,
            ]
            faces.append([one + 1 for one in ring])
    return faces
