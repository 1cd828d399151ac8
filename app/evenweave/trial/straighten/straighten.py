"""Straighten strips that bow: what it costs in stretch, and what it gains in the tile."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np

from evenweave.arrays import FloatArray, IntArray
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.outline.residual import residual_edges
from evenweave.measure.results import Stacks
from evenweave.measure.stacks.stacks import find_stacks
from evenweave.progress import Progress, silent, within
from evenweave.trial.flatten.island_mesh import IslandMesh, aspect_of, island_meshes
from evenweave.trial.pack.pack import Packing, PackOptions, pack
from evenweave.trial.straighten.solver import (
    FULL_BOX,
    LEAST_BOW,
    StraightStrip,
    straight_strip,
)
from evenweave.trial.uvs.corner_uvs import CornerUvs
from evenweave.trial.uvs.retexture import joined, retextured
from evenweave.trial.work.in_order import Job, in_order
from evenweave.trial.work.worker import NoAdvice, Wanted, Worker

SECONDS = 10.0
MOST_ADDED = 0.15  # mean stretch that straightening may add
LEAST_FILL_GAIN = 0.1  # of its box, below which a strip may stay as it is
CLEAN_ADDED, CLEAN_FILL = 0.02, 0.995  # a grid of quads is made clean where that costs nothing
TAPER = 2.0  # ratio of opposite sides from which on a strip is a taper
SIDE_SHARE, USUAL_COVERAGE = 0.8, 0.65  # a strip longer than this share of the tile sets its scale


class StraightenVerdict(Enum):
    """What to do about a strip."""

    STRAIGHTEN = "straighten"
    TAPER = "taper"
    COSTLY = "costly"
    LONG = "long"
    STACKED = "stacked"
    STRAIGHT = "straight"


@dataclass(frozen=True, eq=False)
class StraightenAdvice:
    """A strip and its straight version.

    added_stretch : mean stretch beyond that of the best flattening with the same seams
    taper : ratio of the longer to the shorter of opposite sides, the greater of the two
    length_px, width_px : of the straight version at the present density
    change : the straight version in place, its lowest corner on whole texels
    """

    island: int
    verdict: StraightenVerdict
    strip: StraightStrip
    added_stretch: float
    taper: float
    length_px: float
    width_px: float
    change: CornerUvs

    @property
    def words(self) -> str:
        """Say in a few words what to do."""
        # What is less than none, by rounding of two solvers, is none.
        cost = f"{max(round(100 * self.added_stretch), 0)} % stretch"
        return {
            StraightenVerdict.STRAIGHTEN: f"straighten, costs {cost}",
            StraightenVerdict.TAPER: f"taper, straightening costs {cost}",
            StraightenVerdict.COSTLY: f"straightening costs {cost}",
            StraightenVerdict.LONG: "straight it would be longer than the tile has room for",
            StraightenVerdict.STACKED: "bowed, but in a stack, which only moves together",
            StraightenVerdict.STRAIGHT: "straight as it is",
        }[self.verdict]


def straighten(
    layout: Layout,
    tile: Tile,
    islands: Sequence[int],
    worker: Worker,
    *,
    stacks: Stacks | None = None,
    most_added: float = MOST_ADDED,
    progress: Progress = silent,
) -> Iterator[StraightenAdvice | None]:
    """Yield advice for each of some islands, None for what is no strip or cannot be told.

    stacks : of the layout; islands in them share texels on purpose and are left alone
    most_added : mean stretch that straightening may add. Raises Cancelled where `progress` does.
    """
    stacked = {island for group in stacks.group for island in group} if stacks else set()
    aspect = aspect_of(tile)
    side = _tile_side(layout, aspect)
    done = 0

    def look() -> None:
        progress(done / max(len(islands), 1), "looking for strips")

    jobs = (_job(mesh, worker) for mesh in island_meshes(layout, islands, aspect=aspect))
    for island, (corner, strip) in zip(islands, in_order(worker, jobs, look), strict=True):
        done += 1
        advice = None
        if strip is not None:
            verdict = _verdict(strip, side, most_added)
            if island in stacked and verdict is not StraightenVerdict.STRAIGHT:
                verdict = StraightenVerdict.STACKED
            change = CornerUvs.of(corner, _on_texels(strip.corner_uv, tile))
            advice = StraightenAdvice(
                island=island,
                verdict=verdict,
                strip=strip,
                added_stretch=_added(strip),
                taper=_taper(strip),
                length_px=strip.length * tile.height,
                width_px=strip.width * tile.height,
                change=change,
            )
        yield advice


def _job(mesh: IslandMesh, worker: Worker) -> Job[tuple[IntArray, StraightStrip | None]]:
    def run(is_wanted: Wanted) -> tuple[IntArray, StraightStrip | None]:
        try:
            strip = worker.call(straight_strip, mesh, SECONDS, seconds=SECONDS, is_wanted=is_wanted)
        except NoAdvice:
            return mesh.corner, None
        return mesh.corner, strip

    return run


def _added(strip: StraightStrip) -> float:
    return strip.straight.mean_stretch - strip.free.mean_stretch


def _taper(strip: StraightStrip) -> float:
    pairs = (strip.sides_m[0::2], strip.sides_m[1::2])
    return max(max(pair) / max(min(pair), 1e-300) for pair in pairs)


def _verdict(strip: StraightStrip, side: float, most_added: float) -> StraightenVerdict:
    """Decide; a taper is told as such whatever it costs, for it is meant to be wider at one end."""
    added = _added(strip)
    cleans = strip.is_grid and added <= CLEAN_ADDED and strip.fill_now < CLEAN_FILL
    gains = strip.fill_straight - min(strip.fill, strip.fill_now)
    is_bent = strip.bow_now > LEAST_BOW or strip.fill_now < FULL_BOX
    if not cleans and (not is_bent or gains < LEAST_FILL_GAIN):
        return StraightenVerdict.STRAIGHT
    if _taper(strip) >= TAPER:
        return StraightenVerdict.TAPER
    if added > most_added:
        return StraightenVerdict.COSTLY
    if strip.length >= SIDE_SHARE * side:
        return StraightenVerdict.LONG
    return StraightenVerdict.STRAIGHTEN


def _tile_side(layout: Layout, aspect: float) -> float:
    """Return the side, in heights of the tile, that the layout would need at its present scale."""
    area = float(residual_edges(layout).area.sum()) * aspect
    return math.sqrt(area / USUAL_COVERAGE)


def _on_texels(uv: FloatArray, tile: Tile) -> FloatArray:
    """Move coordinates by less than a texel, so that the lowest corner lies on whole texels."""
    size = np.array([tile.width, tile.height], dtype=np.float64)
    low = uv.min(axis=0) * size
    return np.asarray(uv + (np.round(low) - low) / size)


@dataclass(frozen=True, eq=False)
class StraightenGain:
    """Two packings in the same time and order: of the layout as it is, and with strips straight."""

    before: Packing
    after: Packing

    @property
    def coverage(self) -> float:
        """Share of the tile gained; negative where the straight version packs worse."""
        return self.after.coverage - self.before.coverage


def packing_gain(
    layout: Layout,
    tile: Tile,
    advice: Sequence[StraightenAdvice],
    options: PackOptions,
    *,
    stacks: Stacks,
    progress: Progress = silent,
) -> StraightenGain:
    """Pack the layout without and with some strips straightened.

    Raises NoAdvice where the layout cannot be packed, Cancelled where `progress` does.
    """
    before = pack(layout, tile, options, stacks=stacks, progress=within(progress, 0.0, 0.5))
    straight = retextured(layout, joined(one.change for one in advice))
    after = pack(
        straight, tile, options, stacks=find_stacks(straight, tile),
        progress=within(progress, 0.5, 1.0),
    )  # fmt: skip
    return StraightenGain(before, after)
