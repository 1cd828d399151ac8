"""A sound layout made of plain numbers, to be broken one number at a time.

Four square islands, 0 1 below and 2 3 above, each one quad of 1 m x 1 m on 0.45 of a tile of
2048 texels: density 921.6 texels per metre, no stretch, 102.4 texels of room between them, 51.2
to the edges. Islands 0 and 1 share a seam of 1 m.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from tests import shapes

from evenweave.arrays import floats, frozen, ints
from evenweave.check.finding import Finding
from evenweave.check.guess import guess_purpose, with_udim
from evenweave.check.run import judge
from evenweave.check.subject import Subject
from evenweave.check.target import (
    density_octaves,
    island_importance,
    target_density,
)
from evenweave.layout.layout import Edges, Layout, Tile
from evenweave.limits.limits import Limits
from evenweave.measure.results import (
    Coverage,
    Gaps,
    IslandMeasures,
    LayoutMeasures,
    Measures,
    Mips,
    Overlap,
    Seams,
    Shape,
    Stacks,
    TriangleMeasures,
)

NAMES = ("door", "roof", "ring", "base")
SIDE = 0.45
DENSITY = SIDE * 2048
ORIGIN = np.array([(0.025, 0.025), (0.525, 0.025), (0.025, 0.525), (0.525, 0.525)])
SQUARE = np.array([(0, 0), (1, 0), (1, 1), (0, 1)])


def sound(limits: Limits | None = None, **changes: Any) -> Subject:
    """Return the sound layout; `changes` as in `broken`."""
    return broken(_subject(_layout(), _measures(), limits or Limits()), **changes)


def broken(subject: Subject, /, **changes: Any) -> Subject:
    """Return the subject with tables changed: `island={"stretch_p95": {2: 1.7}}`.

    A mapping of island to number changes those islands only; anything else replaces.
    """
    measures = subject.measures
    layout = replace(subject.layout, **changes.pop("layout", {}))
    beside = changes.pop("subject", {})
    for table, columns in changes.items():
        old = getattr(measures, table)
        new = {name: _changed(getattr(old, name), value) for name, value in columns.items()}
        measures = replace(measures, **{table: replace(old, **new)})
    return replace(_subject(layout, measures, subject.limits), **beside)


def under(subject: Subject, limits: Limits) -> Subject:
    """Return the same layout under other limits."""
    return _subject(subject.layout, subject.measures, limits)


def found(subject: Subject, check: str) -> list[Finding]:
    """Return the warnings of one check."""
    return [finding for finding in judge(subject) if finding.check == check]


def one(subject: Subject, check: str) -> Finding:
    """Return the only warning of one check."""
    (finding,) = found(subject, check)
    return finding


def _changed(old: Any, value: Any) -> Any:
    if not isinstance(value, Mapping):
        return value
    new = np.array(old)
    for index, number in value.items():
        new[index] = number
    return frozen(new)


def _subject(layout: Layout, measures: Measures, limits: Limits) -> Subject:
    asset = shapes.asset(
        np.column_stack([np.tile(SQUARE, (4, 1)), np.repeat(range(4), 4)]),
        np.arange(16).reshape(4, 4),
        face_part=range(4),
        parts=NAMES,
        materials=("brass",),
    )
    importance = island_importance(asset, layout, limits)
    target = target_density(measures, limits, importance)
    limits, udim_is_guess = with_udim(layout, measures, limits)
    return Subject(
        asset=asset,
        layout=layout,
        measures=measures,
        limits=limits,
        purpose=limits.purpose_of(layout.name),
        target_density=target,
        target_is="median" if limits.target_density is None else "given",
        importance=importance,
        octaves=density_octaves(measures, target, importance),
        guess=guess_purpose(layout, measures, limits),
        udim_is_guess=udim_is_guess,
    )


def _layout() -> Layout:
    first = 4 * np.arange(4)[:, None]
    nothing = ints([])
    return Layout(
        name="brass",
        materials=("brass",),
        uv_set="uv",
        asset_face=ints(range(4)),
        missing_face=nothing,
        unusable_face=nothing,
        face_start=ints(4 * np.arange(5)),
        corner_point=ints(range(16)),
        corner_uv=ints(range(16)),
        point_m=floats(np.column_stack([np.tile(SQUARE, (4, 1)), np.repeat(range(4), 4)])),
        uv=floats((ORIGIN[:, None] + SIDE * SQUARE).reshape(-1, 2)),
        triangle_corner=ints((first[:, None] + np.array([(0, 1, 2), (0, 2, 3)])).reshape(-1, 3)),
        triangle_face=ints(np.repeat(range(4), 2)),
        face_island=ints(range(4)),
        island_name=NAMES,
        island_parts=tuple((part,) for part in range(4)),
        edges=Edges(
            seam=ints([(1, 7)]), border=nothing, nonmanifold=nothing, outline=ints(range(16))
        ),
    )


def _each(value: float, count: int = 4) -> NDArray[np.float64]:
    return floats(np.full(count, value))


def _measures() -> Measures:
    area_px = DENSITY**2 / 2
    count = ints(np.zeros(4))
    return Measures(
        tile=Tile(2048, 2048),
        triangle=TriangleMeasures(
            s1=_each(DENSITY, 8),
            s2=_each(DENSITY, 8),
            area_m2=_each(0.5, 8),
            area_px=_each(area_px, 8),
            is_degenerate=frozen(np.zeros(8, dtype=bool)),
        ),
        island=IslandMeasures(
            faces=ints(np.ones(4)),
            triangles=ints(np.full(4, 2)),
            surface_m2=_each(1.0),
            area_uv=_each(SIDE**2),
            bounds=floats(np.hstack([ORIGIN, ORIGIN + SIDE])),
            tile=ints(np.zeros((4, 2))),
            crosses_tile=frozen(np.zeros(4, dtype=bool)),
            density_median=_each(DENSITY),
            density_p5=_each(DENSITY),
            density_p95=_each(DENSITY),
            density_min=_each(DENSITY),
            density_max=_each(DENSITY),
            stretch_median=_each(1.0),
            stretch_p95=_each(1.0),
            stretch_max=_each(1.0),
            stretch_l2=_each(1.0),
            stretch_linf=_each(1.0),
            dirichlet=_each(4.0),
            flipped_triangles=count,
            flipped_share=_each(0.0),
            degenerate_triangles=count,
        ),
        whole=LayoutMeasures(
            surface_m2=4.0,
            area_uv=4 * SIDE**2,
            density_median=DENSITY,
            density_p5=DENSITY,
            density_p95=DENSITY,
            stretch_median=1.0,
            stretch_p95=1.0,
            stretch_max=1.0,
            stretch_l2=1.0,
            stretch_linf=1.0,
        ),
        overlap=Overlap(
            pair=ints(np.zeros((0, 2))),
            pair_area_px=floats([]),
            pair_point=floats(np.zeros((0, 2))),
            pair_patch=(),
            outline=floats(np.zeros((0, 2, 2))),
            area_px=0.0,
            counted_at=0,
        ),
        stacks=Stacks(
            group=(),
            misaligned=(),
            shareable=((0, 1, 2, 3),),
            is_mirrored=frozen(np.zeros(4, dtype=bool)),
            congruent=ints(np.zeros(4)),
        ),
        gaps=Gaps(
            padding_px=_each(np.inf),
            padding_to=ints(np.full(4, -1)),
            padding_points=floats(np.zeros((4, 2, 2))),
            margin_px=_each(51.2),
            margin_points=floats(np.zeros((4, 2, 2))),
            reach_px=64.0,
        ),
        coverage=Coverage(tile=ints([(0, 0)]), share=floats([0.81]), total=0.81),
        mips=Mips(safe_mip=ints(np.full(4, 6))),
        seams=Seams(
            length_m=floats([1.0]),
            island=ints([(0, 1)]),
            density_step_octaves=floats([0.0]),
            turn_degrees=floats([0.0]),
            is_hard=frozen(np.zeros(1, dtype=bool)),
            fold_degrees=floats([0.0]),
            hard_inside=ints([]),
            hard_inside_m=floats([]),
            island_seam_m=floats([1.0, 1.0, 0.0, 0.0]),
            island_border_m=floats([3.0, 3.0, 4.0, 4.0]),
            fragment=ints([1, 0, -1, -1]),
            fragment_share=floats([0.25, 0.25, 0.0, 0.0]),
        ),
        shape=Shape(
            strip_length_px=_each(np.nan),
            strip_width_px=_each(np.nan),
            bow=_each(np.nan),
            grid_angle_degrees=_each(0.0),
            short_side_px=_each(DENSITY),
        ),
    )
