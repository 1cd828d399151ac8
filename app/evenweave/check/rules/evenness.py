"""Is texture handed out evenly: stretch, density, density-range, density-step."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import BoolArray, FloatArray
from evenweave.check.finding import Severity
from evenweave.check.numbers import density, number, sharpness, told_apart
from evenweave.check.rules.islands import exceeds, on_islands
from evenweave.check.rules.where import edge_lines
from evenweave.check.rules.where_kernels import stretch_beyond
from evenweave.check.subject import Check, Hit, Subject

CURED_SHARE, FEWEST_CURED = 0.5, 3


def octaves(ratio: FloatArray) -> FloatArray:
    """Return log2 of ratios; NaN where a ratio is not above zero."""
    result: FloatArray = np.log2(np.where(ratio > 0, ratio, np.nan))
    return result


def _stretch(subject: Subject) -> list[Hit]:
    island, limits, triangle = subject.measures.island, subject.limits, subject.measures.triangle
    is_far = exceeds(island.stretch_p95, limits.stretch_p95)
    is_all_over = exceeds(island.stretch_median, limits.stretch_median) & ~is_far
    found = _squeezed(subject, is_far | is_all_over)
    if found and subject.squeeze is not None:
        is_far &= exceeds(subject.squeeze.stretch_p95, limits.stretch_p95)
        is_all_over &= exceeds(subject.squeeze.stretch_median, limits.stretch_median)
    for is_failing, value, limit, variant in (
        (is_far, island.stretch_p95, limits.stretch_p95, ""),
        (is_all_over, island.stretch_median, limits.stretch_median, "median"),
    ):
        if not is_failing.any():
            continue
        weight = stretch_beyond(
            triangle.s1, triangle.s2, triangle.area_m2, subject.triangle_island, is_failing, limit
        )
        found += on_islands(
            subject,
            is_failing,
            value=value,
            badness=value,
            limit=limit,
            variant=variant,
            triangle_weight=weight,
            faces=subject.faces_of(np.flatnonzero(weight).astype(np.int32)),
        )
    return found


def _squeezed(subject: Subject, is_failing: BoolArray) -> list[Hit]:
    """Tell once of a layout that is scaled along one axis, if that is what most islands lack."""
    squeeze, limits = subject.squeeze, subject.limits
    if squeeze is None or not max(squeeze.ratio, 1 / squeeze.ratio) > limits.stretch_median:
        return []
    stays = exceeds(squeeze.stretch_p95, limits.stretch_p95)
    stays |= exceeds(squeeze.stretch_median, limits.stretch_median)
    surface = subject.measures.island.surface_m2
    cured = is_failing & ~stays
    if cured.sum() < FEWEST_CURED or not surface[cured].sum() > CURED_SHARE * surface.sum():
        return []
    tile = subject.measures.tile
    shape = tile.width / tile.height / squeeze.ratio
    across = squeeze.ratio > 1
    value = np.full(len(surface), max(squeeze.ratio, 1 / squeeze.ratio))
    return on_islands(
        subject,
        cured,
        value=value,
        badness=surface,
        limit=limits.stretch_median,
        variant="squeezed",
        words={
            "ratio": number(max(squeeze.ratio, 1 / squeeze.ratio)),
            "longer": "along u" if across else "along v",
            "shape": f"{number(shape)} : 1" if shape >= 1 else f"1 : {number(1 / shape)}",
            "tile": f"{tile.width} × {tile.height}",
            "all": f"{subject.layout.island_count:,}",
        },
    )


def _density(subject: Subject) -> list[Hit]:
    off, limits = subject.octaves, subject.limits
    is_failing = exceeds(np.abs(off), limits.density_octaves)
    if not is_failing.any():
        return []
    badness = np.abs(off)
    worst = int(np.flatnonzero(is_failing)[np.argmax(badness[is_failing])])
    wanted = subject.target_density * float(subject.importance[worst])
    shown, limit = told_apart(float(badness[worst]), limits.density_octaves)
    return on_islands(
        subject,
        is_failing,
        value=off,
        badness=badness,
        limit=limits.density_octaves,
        words={
            "octaves": f"{shown} octave" if shown == "1" else f"{shown} octaves",
            "side": "above" if off[worst] > 0 else "below",
            "sharp": sharpness(float(off[worst])),
            "density": density(
                float(subject.measures.island.density_median[worst]), limits.density_unit
            ),
            "wanted": density(wanted, limits.density_unit),
            "limit": limit,
            "target": _target(subject, worst),
            "scale": number(2.0 ** float(-off[worst])),
        },
    )


def _target(subject: Subject, island: int) -> str:
    source = "the target you set" if subject.target_is == "given" else "this layout's median"
    importance = float(subject.importance[island])
    return source if importance == 1.0 else f"{source} times importance {number(importance)}"


def _density_range(subject: Subject) -> list[Hit]:
    island, limits = subject.measures.island, subject.limits
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = octaves(island.density_p95 / island.density_p5)
    is_failing = exceeds(spread, limits.density_range_octaves)
    if not is_failing.any():
        return []
    worst = int(np.flatnonzero(is_failing)[np.argmax(spread[is_failing])])
    return on_islands(
        subject,
        is_failing,
        value=spread,
        badness=spread,
        limit=limits.density_range_octaves,
        words={
            "low": number(_in_unit(subject, float(island.density_p5[worst]))),
            "high": density(float(island.density_p95[worst]), limits.density_unit),
        },
    )


def _in_unit(subject: Subject, texels_per_metre: float) -> float:
    return texels_per_metre / 100 if subject.limits.density_unit == "cm" else texels_per_metre


def _density_step(subject: Subject) -> list[Hit]:
    seams, limit = subject.measures.seams, subject.limits.density_step_octaves
    if len(seams.length_m) == 0:
        return []
    asked = np.abs(np.diff(np.log2(subject.importance[seams.island]), axis=1))[:, 0]
    step = seams.density_step_octaves - asked
    failing = np.flatnonzero(exceeds(step, limit))
    if len(failing) == 0:
        return []
    worst = int(failing[np.argmax(step[failing])])
    one, other = (int(side) for side in seams.island[worst])
    per_island = np.full(subject.layout.island_count, -np.inf)
    for side in (0, 1):
        np.maximum.at(per_island, seams.island[failing, side], step[failing])
    islands = np.flatnonzero(np.isfinite(per_island))
    value, shown_limit = told_apart(float(step[worst]), limit)
    lines = [edge_lines(subject, subject.layout.edges.seam[failing, side]) for side in (0, 1)]
    worst_line = edge_lines(subject, subject.layout.edges.seam[worst])
    return [
        Hit(
            value=float(step[worst]),
            limit=limit,
            islands=tuple(islands.tolist()),
            worst=one,
            values=per_island[islands],
            variant="inside" if one == other else "",
            words={
                "one": subject.name(one),
                "other": subject.name(other),
                "value": value,
                "limit": shown_limit,
                "length": number(float(seams.length_m[failing].sum())),
            },
            points=worst_line.mean(axis=1),
            segments=np.concatenate(lines),
        )
    ]


STRETCH = Check("stretch", Severity.WARNING, "ratio", _stretch)
DENSITY = Check("density", Severity.WARNING, "octaves", _density)
DENSITY_RANGE = Check("density-range", Severity.WARNING, "octaves", _density_range)
DENSITY_STEP = Check("density-step", Severity.NOTE, "octaves", _density_step, of_lightmaps=False)
