"""The first pass: the good layout with one planted problem after another.

Each function below spoils one island. `README.md` lists them for people, `planted.toml` for
the tests.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from lantern_parts import Patch

TEXEL = 1.0 / 2048


def _scaled(flat: np.ndarray, factor_u: float, factor_v: float) -> np.ndarray:
    middle = (flat.min(axis=0) + flat.max(axis=0)) / 2
    return (flat - middle) * [factor_u, factor_v] + middle


def _moved_to(flat: np.ndarray, u: float, v: float) -> np.ndarray:
    return flat - flat.min(axis=0) + [u, v]


def _box_share(flat: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    low, size = flat.min(axis=0), np.ptp(flat, axis=0)
    return low, size, (flat - low) / size


def folded(flat: np.ndarray) -> np.ndarray:
    """Fold the last third of the longer side back over the rest."""
    low, size, share = _box_share(flat)
    axis = int(np.argmax(size))
    share[:, axis] = np.where(share[:, axis] > 2 / 3, 4 / 3 - share[:, axis], share[:, axis])
    return low + share * size


def crowded(flat: np.ndarray) -> np.ndarray:
    """Space the rows of the longer side ever wider, at one width."""
    low, size, share = _box_share(flat)
    axis = int(np.argmax(size))
    share[:, axis] **= 1.5
    return low + share * size


def arched(flat: np.ndarray) -> np.ndarray:
    """Lay a strip along an arc of 100 degrees, true to length along its middle."""
    _, size, share = _box_share(flat)
    axis = int(np.argmax(size))
    radius = size[axis] / np.radians(100)
    angle = np.radians(100) * (share[:, axis] - 0.5)
    across = (share[:, 1 - axis] - 0.5) * size[1 - axis] * (-1 if axis == 1 else 1)
    return np.stack(
        [(radius - across) * -np.cos(angle), (radius - across) * -np.sin(angle)], axis=1
    )


def pinched(flat: np.ndarray) -> np.ndarray:
    """Collapse the last row of faces onto a line."""
    low, size, share = _box_share(flat)
    axis = int(np.argmax(size))
    rows = np.unique(share[:, axis].round(9))
    share[share[:, axis] > rows[-2] + 1e-9, axis] = rows[-2]
    return low + share * size


def holed(flat: np.ndarray) -> np.ndarray:
    """Make one coordinate no number."""
    out = flat.copy()
    out[0, 0] = np.nan
    return out


def _cut_off(patch: Patch) -> list[Patch]:
    """Cut the first face off and put it beside the rest."""
    _, size, _ = _box_share(patch.flat)
    moved = patch.flat + [0.7 * size[0], 0.0]
    return [
        replace(patch, faces=patch.faces[1:], smooth=patch.smooth[1:]),
        replace(patch, flat=moved, faces=patch.faces[:1], smooth=patch.smooth[:1]),
    ]


def _split_smoothing(patch: Patch) -> Patch:
    half = len(patch.faces) // 2
    return replace(patch, smooth=(1,) * half + (3,) * (len(patch.faces) - half))


def spoil(placed: list[Patch]) -> list[Patch]:
    """Return the first pass made from the placed patches of the second."""
    at = {(p.part, p.name): p.flat for p in placed}
    link = at["chain_1", "chain_1"]
    rib = at["rib_1", "rib_1"]
    change: dict[str, Callable[[np.ndarray], np.ndarray]] = {
        "sill_4": holed,
        "lintel_4": pinched,
        "font/wall": folded,
        "rib_2": lambda f: _moved_to(f, *(rib.min(axis=0) + [0.45 * np.ptp(rib[:, 0]), 0.0])),
        "hinge_lower": lambda f: _moved_to(f, 1.3, 0.4),
        "door/bottom rail": lambda f: f + [0.0, 0.1],
        "roof/left": lambda f: _moved_to(f, 2 * TEXEL, f[:, 1].min()),
        "lintel_1": lambda f: f - [12 * TEXEL, 0.0],
        "door/left stile": lambda f: _scaled(
            f, *((1.0, 1 / 1.8) if np.ptp(f[:, 0]) > np.ptp(f[:, 1]) else (1 / 1.8, 1.0))
        ),
        "door/right stile": lambda f: _scaled(f, 0.5, 0.5),
        "roof/right": lambda f: _moved_to(0.7 * f, 0.58, 0.01),
        "rib_3": crowded,
        "rib_4": lambda f: _scaled(f, -1.0, 1.0),
        "wick_tube": lambda f: _scaled(f, 0.028, 0.028),
        "handle": lambda f: _moved_to(arched(f), 0.455, 0.03),
        "chain_2": lambda _: link,
        "chain_3": lambda _: link,
        "chain_4": lambda _: link + [3 * TEXEL, 0.0],
        "chain_6": lambda f: _moved_to(2.2 * f, 0.02, 0.935),
        "pane_door": lambda f: _scaled(f, 0.5, 0.5),
        "pane_port": lambda f: _scaled(f, 0.5, 0.5),
        "pane_back": lambda f: _scaled(f, 0.5, 0.5),
        "pane_starboard": lambda f: _scaled(f, 0.5, 0.5),
    }
    out: list[Patch] = []
    for patch in placed:
        key = patch.part if patch.part == patch.name else f"{patch.part}/{patch.name}"
        if key in change:
            patch = replace(patch, flat=change[key](patch.flat))
        if key == "hinge_upper":
            patch = replace(patch, set_aside=True)
        if key == "sill_2":
            patch = _split_smoothing(patch)
        out += _cut_off(patch) if key == "cap/top" else [patch]
    return out
