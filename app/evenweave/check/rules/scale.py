"""Do sizes agree: layouts of one asset with each other, the unit and the target with the asset."""

from __future__ import annotations

import math

import numpy as np

from evenweave.check.finding import Severity
from evenweave.check.numbers import density, number
from evenweave.check.rules.islands import SLACK
from evenweave.check.subject import Check, Hit, Subject

LARGEST_M, SMALLEST_M = 100.0, 0.001
_UNITS = (
    (1e-6, "micrometre"),
    (0.001, "millimetre"),
    (0.01, "centimetre"),
    (0.0254, "inch"),
    (0.1, "decimetre"),
    (0.3048, "foot"),
    (1.0, "metre"),
    (1000.0, "kilometre"),
)
_USUAL_M = 1.0
_MIXED_UP = (100.0, 1000.0)
_NEAR_OCTAVES = 0.75


def _layout_density(subject: Subject) -> list[Hit]:
    """Compare the layout's density with that of the whole asset, each over its importance."""
    wanted, own = subject.asset_density, subject.own_density
    if subject.target_is == "given" or not (wanted > 0 and own > 0):
        return []
    octaves, limit = math.log2(own / wanted), subject.limits.layout_density_octaves
    if not abs(octaves) > limit + SLACK:
        return []
    tile = subject.measures.tile
    sides = [_power_of_two(side * 2.0**-octaves) for side in (tile.width, tile.height)]
    has_size = sides != [tile.width, tile.height] and max(sides) <= 16384 and min(sides) >= 16
    unit = subject.limits.density_unit
    return [
        Hit(
            value=octaves,
            limit=limit,
            variant="tile" if has_size else "",
            words={
                "layout": subject.layout.name or "no material",
                "density": density(own, unit),
                "wanted": density(wanted, unit),
                "octaves": number(abs(octaves)),
                "side": "above" if octaves > 0 else "below",
                "limit": number(limit),
                "scale": number(2.0**-octaves),
                "tile": f"{tile.width} × {tile.height}",
                "match": f"{sides[0]} × {sides[1]}",
            },
        )
    ]


def _power_of_two(side: float) -> int:
    return int(2 ** round(math.log2(max(side, 1.0))))


def _unit(subject: Subject) -> list[Hit]:
    return _odd_size(subject) + _odd_target(subject) if subject.is_first else []


def _odd_size(subject: Subject) -> list[Hit]:
    """Ask once about an asset that is very large or very small for a prop."""
    asset = subject.asset
    is_used = np.zeros(len(asset.position), dtype=np.bool_)
    is_used[asset.corner_position] = True
    used = asset.position[is_used]
    units = float(np.ptp(used, axis=0).max()) if len(used) else 0.0
    size = units * asset.unit.metres
    if not 0 < size < math.inf or SMALLEST_M <= size <= LARGEST_M:
        return []
    metres, name = min(
        _UNITS, key=lambda unit: abs(math.log(max(units * unit[0], 1e-300) / _USUAL_M))
    )
    return [
        Hit(
            value=size,
            limit=LARGEST_M if size > LARGEST_M else SMALLEST_M,
            variant="" if asset.unit.is_stated else "assumed",
            words={
                "size": _length(size),
                "unit": number(asset.unit.metres),
                "name": name,
                "other": _length(units * metres),
            },
        )
    ]


def _length(metres: float) -> str:
    """Write a length in metres or millimetres.

    >>> _length(300.0), _length(0.0002)
    ('300 m', '0.2 mm')
    """
    return f"{number(metres)} m" if metres >= 0.01 else f"{number(metres * 1000)} mm"


def _odd_target(subject: Subject) -> list[Hit]:
    """Ask about a stated density that is off by a factor people mix units up with."""
    target, own = subject.limits.target_density, subject.measures.whole.density_median
    if target is None or not own > 0:
        return []
    octaves = math.log2(own / target)
    for factor in _MIXED_UP:
        if abs(abs(octaves) - math.log2(factor)) <= _NEAR_OCTAVES:
            unit = subject.limits.density_unit
            return [
                Hit(
                    value=own,
                    limit=target,
                    variant="target",
                    words={
                        "density": density(own, unit),
                        "target": density(target, unit),
                        "factor": number(factor),
                        "times": number(2.0 ** abs(octaves)),
                        "side": "more" if octaves > 0 else "less",
                    },
                )
            ]
    return []


LAYOUT_DENSITY = Check(
    "layout-density", Severity.WARNING, "octaves", _layout_density, of_lightmaps=False
)
UNIT_HINT = Check("unit-hint", Severity.NOTE, "metres", _unit)
