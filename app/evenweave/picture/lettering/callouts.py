"""Callouts on pictures: marks and labels beside the places they mean, none over another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from evenweave.arrays import BoolArray, FloatArray
from evenweave.picture.lettering.lettering import width, wrapped

Style = Literal["warning", "to do", "done", "deliberate"]
Box = tuple[float, float, float, float]

MARK_PX, TEXT_PX = 12, 12  # sizes of lettering on a plain display
BADGE_PX = 20
LABEL_PX = 168  # a label's greatest width
LINES = 2
_PAD_PX = 5
_CLEAR_PX = 3  # between two callouts
_SPOT_PX = 4  # half a side of what must stay in sight round a place
_RADII_PX = (22, 32, 44, 60, 80, 104, 132, 168, 210)
_TURNS = 20
_SAMPLES = np.linspace(0.04, 0.96, 12)


@dataclass(frozen=True)
class Callout:
    """Something to write beside a place of a picture.

    x, y : the place in pixels; mark : a number or letter; text : the label, "" for none
    """

    x: float
    y: float
    mark: str
    text: str = ""
    style: Style = "warning"


@dataclass(frozen=True)
class Placed:
    """A callout, the box (x0, y0, x1, y1) that it stands in, and its label's lines."""

    callout: Callout
    box: Box
    badge_width: float
    lines: tuple[str, ...]

    @property
    def foot(self) -> tuple[float, float]:
        """The point of the box nearest to the place, where the arrow begins."""
        x0, y0, x1, y1 = self.box
        return min(max(self.callout.x, x0), x1), min(max(self.callout.y, y0), y1)


@dataclass(frozen=True)
class Arrangement:
    """Callouts put in their places, in the order given, and those there was no room for."""

    placed: tuple[Placed, ...]
    left_out: tuple[Callout, ...]


def arrange(callouts: Sequence[Callout], size: tuple[int, int], unit: float) -> Arrangement:
    """Find a place for each callout in a picture of (width, height) pixels.

    No callout covers another or the place another means; arrows cross as little as may be.
    unit : pixels per pixel of a plain display. Earlier callouts choose first.
    """
    seen = [one for one in callouts if 0 <= one.x <= size[0] and 0 <= one.y <= size[1]]
    spots = np.array([(one.x, one.y) for one in seen]).reshape(-1, 2)
    reach = _SPOT_PX * unit
    taken = np.concatenate((spots - reach, spots + reach), axis=1)
    boxes, arrows = np.zeros((0, 4)), np.zeros((0, 4))
    placed, left_out = [], []
    for one in seen:
        badge, lines, box_size = _measured(one, unit)
        obstacles = np.concatenate((taken, boxes))
        found = _near(one, box_size, size, obstacles=obstacles, boxes=boxes, arrows=arrows,
                      unit=unit)  # fmt: skip
        if found is None:
            found = _anywhere(one, box_size, size, obstacles=obstacles, unit=unit)
        if found is None:
            left_out.append(one)
            continue
        put = Placed(one, found, badge, lines)
        placed.append(put)
        boxes = np.concatenate((boxes, [found]))
        arrows = np.concatenate((arrows, [(one.x, one.y, *put.foot)]))
    return Arrangement(tuple(placed), tuple(left_out))


def _measured(callout: Callout, unit: float) -> tuple[float, tuple[str, ...], tuple[float, float]]:
    """Return the width of the badge, the label's lines, and the size of the whole."""
    mark = round(MARK_PX * unit)
    badge = max(BADGE_PX * unit, width(callout.mark, mark, "bold") + 2 * _PAD_PX * unit)
    if not callout.text:
        return badge, (), (badge, BADGE_PX * unit)
    text = round(TEXT_PX * unit)
    lines = tuple(wrapped(callout.text, LABEL_PX * unit, text, lines=LINES))
    long = max((width(line, text) for line in lines), default=0.0)
    tall = max(BADGE_PX * unit, (len(lines) * 1.3 * TEXT_PX + 6) * unit)
    return badge, lines, (badge + long + 2 * _PAD_PX * unit, tall)


def _near(
    callout: Callout,
    box_size: tuple[float, float],
    size: tuple[int, int],
    *,
    obstacles: FloatArray,
    boxes: FloatArray,
    arrows: FloatArray,
    unit: float,
) -> Box | None:
    """Return the best of the places round the spot, None where all are taken."""
    turn = np.arange(_TURNS) * (2 * np.pi / _TURNS) - np.pi / 4  # up and to the right first
    radius, turn = (grid.ravel() for grid in np.meshgrid(np.array(_RADII_PX) * unit, turn))
    middle = np.column_stack((callout.x + radius * np.cos(turn), callout.y + radius * np.sin(turn)))
    # Boxes are put beyond the radius, so that long labels keep as clear of the spot as short.
    side = np.column_stack((np.cos(turn), np.sin(turn))) * np.array(box_size) / 2
    box = _box_round(middle + side, box_size)
    is_free = _is_inside(box, size) & ~_touches(box, obstacles, _CLEAR_PX * unit).any(axis=1)
    box, cost = box[is_free], radius[is_free]
    if len(box) == 0:
        return None
    spot = np.array((callout.x, callout.y))
    foot = np.clip(spot, box[:, :2], box[:, 2:])
    cost = cost + 60 * unit * _crossings(spot, foot, arrows)
    cost = cost + 120 * unit * _passings(spot, foot, boxes)
    cost = cost + 120 * unit * _covers(box, arrows)
    return _as_box(box[int(np.argmin(cost))])


def _anywhere(
    callout: Callout,
    box_size: tuple[float, float],
    size: tuple[int, int],
    *,
    obstacles: FloatArray,
    unit: float,
) -> Box | None:
    """Return the free place nearest to the spot in the whole picture."""
    step = BADGE_PX * unit / 2
    x = np.arange(box_size[0] / 2, size[0] - box_size[0] / 2, step)
    y = np.arange(box_size[1] / 2, size[1] - box_size[1] / 2, step)
    middle = np.array(np.meshgrid(x, y)).reshape(2, -1).T
    middle = middle[np.argsort(((middle - (callout.x, callout.y)) ** 2).sum(axis=1), kind="stable")]
    for first in range(0, len(middle), 512):
        box = _box_round(middle[first : first + 512], box_size)
        is_free = _is_inside(box, size) & ~_touches(box, obstacles, _CLEAR_PX * unit).any(axis=1)
        if is_free.any():
            return _as_box(box[int(np.argmax(is_free))])
    return None


def _box_round(middle: FloatArray, box_size: tuple[float, float]) -> FloatArray:
    half = np.array(box_size) / 2
    return np.concatenate((middle - half, middle + half), axis=1)


def _as_box(row: FloatArray) -> Box:
    x0, y0, x1, y1 = (float(value) for value in row)
    return x0, y0, x1, y1


def _is_inside(box: FloatArray, size: tuple[int, int]) -> BoolArray:
    return np.asarray((box[:, :2] >= 1).all(axis=1) & (box[:, 2:] <= np.array(size) - 1).all(1))


def _touches(box: FloatArray, other: FloatArray, gap: float) -> BoolArray:
    """Return (K, M): whether boxes come closer to others than the gap."""
    low = np.maximum(box[:, None, :2], other[None, :, :2])
    high = np.minimum(box[:, None, 2:], other[None, :, 2:])
    return np.asarray((low < high + gap).all(axis=2))


def _crossings(spot: FloatArray, foot: FloatArray, arrows: FloatArray) -> FloatArray:
    """Return (K,) how many arrows the ways from the spot to each foot cross."""
    a, b = arrows[None, :, :2], arrows[None, :, 2:]
    p, q = spot[None, None, :], foot[:, None, :]
    is_across = (_side(p, q, a) * _side(p, q, b) < 0) & (_side(a, b, p) * _side(a, b, q) < 0)
    return np.asarray(is_across.sum(axis=1), dtype=np.float64)


def _side(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    return np.asarray(
        (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1])
        - (b[..., 1] - a[..., 1]) * (c[..., 0] - a[..., 0])
    )


def _passings(spot: FloatArray, foot: FloatArray, boxes: FloatArray) -> FloatArray:
    """Return (K,) how many boxes the ways from the spot to each foot pass through."""
    way = spot + (foot[:, None, :] - spot) * _SAMPLES[:, None]
    is_in = _holds(way[:, :, None], boxes[None, None]).any(axis=1)
    return np.asarray(is_in.sum(axis=1), dtype=np.float64)


def _covers(box: FloatArray, arrows: FloatArray) -> FloatArray:
    """Return (K,) how many arrows each box would cover."""
    way = arrows[:, None, :2] + (arrows[:, None, 2:] - arrows[:, None, :2]) * _SAMPLES[:, None]
    is_in = _holds(way[None], box[:, None, None]).any(axis=2)
    return np.asarray(is_in.sum(axis=1), dtype=np.float64)


def _holds(point: FloatArray, box: FloatArray) -> BoolArray:
    return np.asarray(((point > box[..., :2]) & (point < box[..., 2:])).all(axis=-1))
