"""The lantern's parts: every patch a grid of quads with its exact flattening, in metres."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

SIDES = 24


@dataclass(frozen=True)
class Patch:
    """One island to be: `points` (N, 3) metres, `flat` (N, 2) metres, `faces` lists of N.

    Faces run counter-clockwise seen from outside, and so does their flattening. `smooth` is
    the smoothing group. `set_aside` faces have no UVs.
    """

    part: str
    name: str
    material: str
    points: np.ndarray
    flat: np.ndarray
    faces: tuple[tuple[int, ...], ...]
    smooth: tuple[int, ...]
    set_aside: bool = False


def _grid(points: np.ndarray, flat: np.ndarray) -> tuple[np.ndarray, np.ndarray, tuple]:
    """Flatten (m, n, k) grids to lists, with the quads between their rows and columns."""
    m, n = points.shape[:2]
    faces = tuple(
        (i * n + j, (i + 1) * n + j, (i + 1) * n + j + 1, i * n + j + 1)
        for i in range(m - 1)
        for j in range(n - 1)
    )
    return points.reshape(-1, 3), flat.reshape(-1, 2), faces


def _patch(
    label: str, material: str, points: np.ndarray, flat: np.ndarray, smooth: int = 1
) -> Patch:
    part, _, name = label.partition("/")
    points, flat, faces = _grid(points, flat)
    return Patch(part, name or part, material, points, flat, faces, (smooth,) * len(faces))


def _axes(along: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    a = along / np.linalg.norm(along)
    helper = np.array([0.0, 0.0, 1.0]) if abs(a[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    x = np.cross(helper, a)
    x /= np.linalg.norm(x)
    return x, np.cross(a, x), a


def bar(label: str, start: tuple, end: tuple, width: float, steps: int) -> Patch:
    """A square bar, open at its ends; its four sides unroll into one strip."""
    p, q = np.array(start), np.array(end)
    x, y, _ = _axes(q - p)
    h = width / 2
    ring = np.array(
        [h * (sx * x + sy * y) for sx, sy in ((1, -1), (1, 1), (-1, 1), (-1, -1), (1, -1))]
    )
    share = np.linspace(0.0, 1.0, steps + 1)
    points = ring[:, None, :] + (p + share[:, None] * (q - p))[None, :, :]
    flat = np.zeros((5, steps + 1, 2))
    flat[..., 0] = (np.arange(5) * width)[:, None]
    flat[..., 1] = (share * np.linalg.norm(q - p))[None, :]
    return _patch(label, "brass", points, flat)


def tube(
    label: str, material: str, radius: float, bottom: tuple, height: float, **cut: int
) -> Patch:
    """Part of an upright cylinder's wall: facets `first` to `last` of SIDES, in `steps` rows."""
    first, last, steps = cut.get("first", 0), cut.get("last", SIDES), cut.get("steps", 2)
    angle = np.arange(first, last + 1) * (2 * np.pi / SIDES)
    share = np.linspace(0.0, 1.0, steps + 1)
    # y is up: seen from outside, going counter-clockwise about +y is going towards -z.
    around = np.stack([np.cos(angle), np.zeros_like(angle), -np.sin(angle)], axis=1) * radius
    points = around[:, None, :] + np.array(bottom) + share[None, :, None] * np.array([0, height, 0])
    flat = np.zeros((len(angle), steps + 1, 2))
    flat[..., 0] = (np.arange(len(angle)) * 2 * radius * np.sin(np.pi / SIDES))[:, None]
    flat[..., 1] = (share * height)[None, :]
    return _patch(label, material, points, flat)


FACET = np.pi / SIDES  # a roof facet's angle in the flattening: the whole roof is half a disc
SLANT = np.sin(np.pi / SIDES) / np.sin(FACET / 2)  # slant length over radius


def roof_rise() -> float:
    """Height gained for each metre of radius lost."""
    return float(np.sqrt(SLANT**2 - 1.0))


def cone(
    label: str, *, radius: float, top_radius: float, bottom: float, first: int, last: int
) -> Patch:
    """Part of a cone's wall. Half of it flattens to a quarter of a ring."""
    steps = 6
    index = np.arange(first, last + 1)
    angle, flat_angle = index * (2 * np.pi / SIDES), (index - first) * FACET
    r = np.linspace(radius, top_radius, steps + 1)
    points = np.empty((len(index), steps + 1, 3))
    points[..., 0] = np.cos(angle)[:, None] * r
    points[..., 1] = bottom + (radius - r) * roof_rise()
    points[..., 2] = -np.sin(angle)[:, None] * r
    flat = np.empty((len(index), steps + 1, 2))
    flat[..., 0] = np.cos(flat_angle)[:, None] * r * SLANT
    flat[..., 1] = np.sin(flat_angle)[:, None] * r * SLANT
    return _patch(label, "brass", points, flat)


def disc(label: str, material: str, radius: float, centre: tuple, *, facing: int) -> Patch:
    """A disc of quads round its middle, facing up (+1) or down (-1)."""
    part, _, name = label.partition("/")
    angle = np.arange(SIDES) * (2 * np.pi / SIDES)
    rim = np.stack([np.cos(angle), np.zeros(SIDES), -np.sin(angle)], axis=1) * radius
    points = np.vstack([rim, np.zeros((1, 3))]) + np.array(centre)
    flat = np.vstack(
        [np.stack([np.cos(angle), facing * np.sin(angle)], axis=1) * radius, [[0.0, 0.0]]]
    )
    faces = tuple((SIDES, i, i + 1, (i + 2) % SIDES) for i in range(0, SIDES, 2))
    if facing < 0:
        faces = tuple(tuple(reversed(face)) for face in faces)
    return Patch(part, name or part, material, points, flat, faces, (2,) * len(faces))


def loop(label: str, radius: float, path: Callable[[np.ndarray], np.ndarray], steps: int) -> Patch:
    """A round wire bent along a closed plane `path` of the share 0 to 1, cut open into a strip."""
    sides = 8
    centre = path(np.linspace(0.0, 1.0, steps + 1))
    ahead = np.roll(centre[:-1], -1, axis=0) - np.roll(centre[:-1], 1, axis=0)
    ahead = np.vstack([ahead, ahead[:1]])
    ahead /= np.linalg.norm(ahead, axis=1)[:, None]
    normal = np.cross(centre[1] - centre[0], centre[steps // 3] - centre[0])
    normal /= np.linalg.norm(normal)
    out = np.cross(ahead, normal)
    angle = np.arange(sides + 1) * (2 * np.pi / sides) + np.pi
    points = centre + radius * (
        np.cos(angle)[:, None, None] * out + np.sin(angle)[:, None, None] * np.cross(ahead, out)
    )
    points[-1], points[:, -1] = points[0], points[:, 0]
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(centre, axis=0), axis=1))])
    flat = np.zeros((sides + 1, steps + 1, 2))
    flat[..., 0] = (np.arange(sides + 1) * 2 * radius * np.sin(np.pi / sides))[:, None]
    flat[..., 1] = length[None, :]
    return _patch(label, "brass", points, flat)


def pane(label: str, corner: tuple, across: tuple, height: float) -> Patch:
    """A flat pane of glass, seen from outside."""
    c, a = np.array(corner), np.array(across)
    i, j = np.meshgrid(np.linspace(0, 1, 4), np.linspace(0, 1, 7), indexing="ij")
    points = c + i[..., None] * a + j[..., None] * np.array([0, height, 0])
    flat = np.stack([i * np.linalg.norm(a), j * height], axis=-1)
    return _patch(label, "glass", points, flat)


def _ring(height: float, radius: float) -> Callable[[np.ndarray], np.ndarray]:
    def path(t: np.ndarray) -> np.ndarray:
        a = 2 * np.pi * t
        return np.stack([radius * np.cos(a), height + radius * np.sin(a), 0 * a], axis=1)

    return path


def _link(
    height: float, radius: float, straight: float, turned: bool
) -> Callable[[np.ndarray], np.ndarray]:
    def path(t: np.ndarray) -> np.ndarray:
        a = 2 * np.pi * t
        side, up = (
            radius * np.cos(a),
            height + radius * np.sin(a) + straight / 2 * np.sign(np.sin(a).round(9)),
        )
        return np.stack([0 * a, up, side] if turned else [side, up, 0 * a], axis=1)

    return path


def lantern() -> list[Patch]:
    """Return every patch of the lantern, 0.6 m high with its chain, y up, standing on y = 0."""
    cork, half, tall = 0.09, 0.065, 0.13  # height of the float; half the cage's width; its height
    foot, head = cork + 0.008, cork + 0.008 + tall
    eaves, top = head + 0.01, 0.012
    peak = eaves + (0.1 - top) * roof_rise()
    corners = [(half, half), (-half, half), (-half, -half), (half, -half)]
    parts = [
        tube("base/side front", "cork", 0.1, (0, 0, 0), cork, first=0, last=12),
        tube("base/side back", "cork", 0.1, (0, 0, 0), cork, first=12, last=24),
        disc("base/top", "cork", 0.1, (0, cork, 0), facing=1),
        disc("base/bottom", "cork", 0.1, (0, 0, 0), facing=-1),
        tube("font/wall", "brass", 0.036, (0, cork, 0), 0.03),
        disc("font/lid", "brass", 0.036, (0, cork + 0.03, 0), facing=1),
        tube("wick_tube", "brass", 0.007, (0, cork + 0.03, 0), 0.03),
    ]
    for i, (x, z) in enumerate(corners):
        parts.append(bar(f"rib_{i + 1}", (x, foot, z), (x, head, z), 0.01, 8))
    for i, (x, z) in enumerate(corners):
        x2, z2 = corners[(i + 1) % 4]
        for name, y in (("sill", foot - 0.005), ("lintel", head + 0.005)):
            parts.append(bar(f"{name}_{i + 1}", (x, y, z), (x2, y, z2), 0.01, 6))
    f, d = half + 0.006, 0.05
    parts += [
        bar("door/left stile", (-d, foot + 0.012, f), (-d, head - 0.012, f), 0.008, 8),
        bar("door/right stile", (d, foot + 0.012, f), (d, head - 0.012, f), 0.008, 8),
        bar("door/bottom rail", (-d, foot + 0.008, f), (d, foot + 0.008, f), 0.008, 5),
        bar("door/top rail", (-d, head - 0.008, f), (d, head - 0.008, f), 0.008, 5),
        tube("hinge_lower", "brass", 0.004, (d + 0.008, foot + 0.02, f), 0.02),
        tube("hinge_upper", "brass", 0.004, (d + 0.008, head - 0.04, f), 0.02),
        cone("roof/left", radius=0.1, top_radius=top, bottom=eaves, first=0, last=12),
        cone("roof/right", radius=0.1, top_radius=top, bottom=eaves, first=12, last=24),
        tube("cap/wall", "brass", top, (0, peak, 0), 0.012),
        disc("cap/top", "brass", top, (0, peak + 0.012, 0), facing=1),
        loop("handle", 0.003, _ring(peak + 0.038, 0.024), 32),
    ]
    for i in range(6):
        centre = peak + 0.07 + 0.0215 * i
        parts.append(loop(f"chain_{i + 1}", 0.0018, _link(centre, 0.008, 0.012, i % 2 == 0), 24))
    g = half - 0.005
    for i, ((x, z), name) in enumerate(
        zip(corners, ("door", "port", "back", "starboard"), strict=True)
    ):
        x2, z2 = corners[(i + 1) % 4]
        # Counter-clockwise about +y, as seen from outside, leads from the next corner to this one.
        way = np.array([x - x2, 0.0, z - z2])
        start = np.array([x2, foot, z2]) + way * (0.5 - g / (2 * half))
        parts.append(pane(f"pane_{name}", tuple(start), tuple(way * (g / half)), tall))
    return parts
