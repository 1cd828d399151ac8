"""`Pin`: what is to be called out, in the texture and on the object, before it is drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray
from evenweave.check.finding import Finding
from evenweave.check.numbers import printable
from evenweave.notes.locating import FoundNote, Spot
from evenweave.notes.place import place_of_island
from evenweave.picture.lettering.callouts import Callout, Style
from evenweave.picture.scene.places import lift
from evenweave.pipeline import LayoutReview
from evenweave.raster.camera import FlatView, Orbit
from evenweave.raster.solid.solid import SolidMesh, SolidRenderer

MOST_PINS = 99
_SEEN_SLACK = 0.01


@dataclass(frozen=True)
class Pin:
    """A mark at a place. uv : in the texture; point_m : on the object, None if not known."""

    mark: str
    text: str
    style: Style
    uv: tuple[float, float]
    point_m: tuple[float, float, float] | None


def letters(number: int) -> str:
    """Return the letters that stand for 0, 1, 2...

    >>> letters(0), letters(25), letters(26), letters(701), letters(702)
    ('A', 'Z', 'AA', 'ZZ', 'AAA')
    """
    text = ""
    number += 1
    while number > 0:
        number, digit = divmod(number - 1, 26)
        text = chr(65 + digit) + text
    return text


def note_pins(located: Sequence[FoundNote], layout_index: int, *, labels: bool) -> tuple[Pin, ...]:
    """Return pins for the notes on one layout; notes bear letters in the order of the store.

    labels : whether the notes' texts are written beside them
    """
    return tuple(
        _note_pin(one, one.spot, letters(number), labels)
        for number, one in enumerate(located)
        if one.spot is not None and one.spot.layout == layout_index
    )[:MOST_PINS]


def _note_pin(located: FoundNote, spot: Spot, mark: str, has_label: bool) -> Pin:
    text = printable(" ".join(located.note.text.split())) if has_label else ""
    return Pin(mark, text, located.note.state, spot.uv, spot.point_m)


def finding_pins(
    layout_review: LayoutReview, findings: Sequence[Finding] | None = None, *, labels: bool
) -> tuple[Pin, ...]:
    """Return pins for a layout's warnings, numbered from 1; those of the whole layout have none.

    warnings : by default all of the layout's. labels : whether their titles are written
    """
    findings = layout_review.findings if findings is None else findings
    shown = [
        (number, w, spot)
        for number, w in enumerate(findings, 1)
        if (spot := _spot(layout_review, w))
    ]
    shown = shown[:MOST_PINS]
    points: list[tuple[float, float, float] | None] = []
    for _, finding, uv in shown:
        place, is_found = lift(layout_review.layout, np.array([uv]), finding.islands)
        x, y, z = (float(value) for value in place[0])
        points.append((x, y, z) if is_found[0] else None)
    return tuple(
        Pin(str(number), finding.title if labels else "", "warning", uv, point)
        for (number, finding, uv), point in zip(shown, points, strict=True)
    )


def _spot(layout_review: LayoutReview, finding: Finding) -> tuple[float, float] | None:
    """Return where to pin a warning: its worst place, else inside its worst island."""
    island = finding.worst
    if len(finding.points):
        point = finding.points
        if island >= 0 and len(point) > 1:
            u0, v0, u1, v1 = layout_review.measures.island.bounds[island]
            inside = (point >= (u0 - 1e-9, v0 - 1e-9)) & (point <= (u1 + 1e-9, v1 + 1e-9))
            point = point[inside.all(axis=1)] if inside.all(axis=1).any() else point
        return float(point[0, 0]), float(point[0, 1])
    return place_of_island(layout_review.layout, island).uv if island >= 0 else None


def flat_callouts(pins: Sequence[Pin], view: FlatView) -> tuple[Callout, ...]:
    """Return the pins as callouts of a flat view."""
    pixel = view.to_pixel(np.array([pin.uv for pin in pins]).reshape(-1, 2))
    return tuple(
        Callout(float(x), float(y), pin.mark, pin.text, pin.style)
        for pin, (x, y) in zip(pins, pixel, strict=True)
    )


def solid_callouts(
    pins: Sequence[Pin], mesh: SolidMesh, camera: Orbit, size: tuple[int, int]
) -> tuple[Callout, ...]:
    """Return the pins that can be seen on the object as callouts of its picture."""
    return seen_callouts(pins, SolidRenderer(mesh), camera, size)


def seen_callouts(
    pins: Sequence[Pin], renderer: SolidRenderer, camera: Orbit, size: tuple[int, int]
) -> tuple[Callout, ...]:
    """Return the same by a renderer, which keeps what it has drawn from this camera."""
    known = [pin for pin in pins if pin.point_m is not None]
    if not known:
        return ()
    point = np.array([pin.point_m for pin in known]).reshape(-1, 3)
    pixel, distance = projected(point, camera, *size)
    is_seen = distance <= _surface_distance(renderer, camera, pixel, size) * (1 + _SEEN_SLACK)
    is_seen &= distance > 0
    return tuple(
        Callout(float(x), float(y), pin.mark, pin.text, pin.style)
        for pin, (x, y), shown in zip(known, pixel, is_seen, strict=True)
        if shown
    )


def projected(
    point_m: FloatArray, camera: Orbit, width: int, height: int
) -> tuple[FloatArray, FloatArray]:
    """Return pixel coordinates (N, 2) of points (N, 3), and their distance along the view (N,).

    NaN, and a distance not above 0, for points behind the camera.
    """
    right, up, ahead = ((point_m - camera.eye()) @ camera.axes().T * (1, 1, -1)).T
    focal = camera.focal_px(height)
    with np.errstate(divide="ignore", invalid="ignore"):
        x, y = width / 2 + focal * right / ahead, height / 2 - focal * up / ahead
    pixel = np.column_stack((x, y))
    pixel[ahead <= 0] = np.nan
    return pixel, np.asarray(ahead, dtype=np.float64)


def _surface_distance(
    renderer: SolidRenderer, camera: Orbit, pixel: FloatArray, size: tuple[int, int]
) -> FloatArray:
    """Return (N,) how far along the view the surface seen at pixels is; inf where there is none.

    NaN for pixels outside the picture.
    """
    ids = renderer.ids(camera, *size)
    width, height = size
    distance = np.full(len(pixel), np.nan)
    for row, (x, y) in enumerate(pixel):
        if not (0 <= x < width and 0 <= y < height):
            continue
        triangle = int(ids[int(y), int(x)])
        if triangle < 0:
            distance[row] = np.inf
            continue
        a, b, c = renderer.mesh.point[renderer.mesh.triangle[triangle]]
        normal = np.cross(b - a, c - a)
        eye, way = camera.ray(x, y, width, height)
        slope = float(normal @ way)
        # The ray's direction has length 1 along the view.
        distance[row] = float(normal @ (a - eye)) / slope if slope else np.inf
    return distance
