"""What the status line says of a seam under the pointer and of a worst spot."""

from __future__ import annotations

import math

from PySide6.QtCore import QCoreApplication

from evenweave.measure.results import WorstSpot
from evenweave.measure.seams.kinds import is_on_flat
from evenweave.picture.painting.seam_marks import run_length_m
from evenweave.picture.scene.scene import FlatScene
from evenweave.picture.scene.worst import partner
from evenweave.window.parts import figures

_LEAST_STEP = 5e-3  # octaves, below which two sides are called even


def tr(text: str) -> str:
    """Translate a text of this file."""
    return QCoreApplication.translate("Seams", text)


def length_word(metres: float) -> str:
    """Return a length in metres, centimetres or millimetres."""
    if math.isnan(metres):
        return figures.UNKNOWN
    for unit, size in (("m", 1.0), ("cm", 0.01)):
        if metres >= size:
            return figures.measured(metres / size, unit)
    return figures.measured(metres / 0.001, "mm")


def seam_sentence(scene: FlatScene, row: int) -> str:
    """Say between which islands a seam runs, how long it is and what changes across it."""
    seams, names = scene.review.measures.seams, scene.layout.island_name
    first, second = (int(island) for island in seams.island[row])
    if first == second:
        between = tr("Seam within {island}").format(island=names[first])
    else:
        between = tr("Seam {first} – {second}").format(first=names[first], second=names[second])
    length = tr("{edge} of {run}").format(
        edge=length_word(float(seams.length_m[row])), run=length_word(run_length_m(scene, row))
    )
    step = float(seams.density_step_octaves[row])
    density = tr("density steps {value} octaves").format(value=figures.plain(step))
    if step < _LEAST_STEP:
        density = tr("density even")
    turn = tr("turns {value}°").format(value=figures.plain(float(seams.turn_degrees[row]), 0))
    shading = tr("hard") if seams.is_hard[row] else tr("smooth")
    if bool(is_on_flat(seams)[row]):
        shading = tr("smooth on flat ground")
    return ", ".join((between, length, density, turn, shading))


def spot_sentence(scene: FlatScene, spot: WorstSpot, *, number: int, count: int) -> str:
    """Say which of the worst spots this is, what is wrong with it, and where."""
    place = tr("Worst place {number} of {count}").format(number=number, count=count)
    names = scene.layout.island_name
    island, other = names[spot.island], partner(scene.review.measures, spot)
    amount = amount_word(spot)
    where = tr("in {island}").format(island=island)
    if other not in (-1, spot.island):
        where = tr("between {island} and {other}").format(island=island, other=names[other])
    if len(spot.triangles):
        triangles = figures.counted(
            len(spot.triangles), tr("one triangle"), tr("{count} triangles")
        )
        where = tr("over {triangles} of {island}").format(triangles=triangles, island=island)
    return f"{place}: {amount} {where}"


def amount_word(spot: WorstSpot) -> str:
    """Return what is wrong at a spot, with its number."""
    value = spot.value
    return {
        "stretch": lambda: tr("stretch {value}").format(value=figures.plain(2.0**value)),
        "angle": lambda: tr("angles off by {value}°").format(value=figures.plain(value, 1)),
        "density": lambda: tr("density {value} octaves off the median").format(
            value=figures.plain(value)
        ),
        "density-range": lambda: tr("density {value} octaves off its island's median").format(
            value=figures.plain(value)
        ),
        "flipped": lambda: tr("flipped"),
        "degenerate": lambda: tr("without usable area"),
        "overlap": lambda: tr("overlap of {value} square texels").format(
            value=figures.measured(value)
        ),
        "padding": lambda: tr("gap of {value} texels").format(value=figures.measured(value)),
    }[spot.measure]()


def walk_word(measure: str) -> str:
    """Return the name of a measure whose worst places can be walked."""
    return {
        "": tr("What the &colours show"),
        "stretch": tr("&Stretch"),
        "angle": tr("&Angle distortion"),
        "density": tr("Texel &density"),
        "density-range": tr("Density &within an island"),
        "flipped": tr("&Flipped"),
        "degenerate": tr("With&out usable area"),
        "overlap": tr("O&verlap"),
        "padding": tr("&Padding"),
    }[measure]


def kind_word(word: str, *, is_short: bool = True) -> str:
    """Return what a kind of edge is called, in short or with what it means."""
    short, long = {
        "hard edge without a seam": (
            tr("hard, no seam"),
            tr("Hard edges without a seam: a baked normal map shows a gradient across them."),
        ),
        "seam on flat smooth ground": (
            tr("seam on flat"),
            tr("Seams on flat ground that is shaded smoothly: what is painted must meet there."),
        ),
        "edge of more than two faces": (
            tr("over two faces"),
            tr("Edges of more than two faces: nobody can tell how the texture goes on there."),
        ),
    }[word]
    return short if is_short else long
