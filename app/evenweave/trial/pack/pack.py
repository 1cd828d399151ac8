"""Pack the islands of a layout: how full could the tile be, shown by a packing that is."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from evenweave.arrays import ints
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.overlap.overlap import measure_overlap
from evenweave.measure.results import Stacks
from evenweave.measure.space.coverage import measure_coverage
from evenweave.measure.space.gaps import measure_gaps
from evenweave.progress import Progress, silent
from evenweave.trial.nest.blocks import Block, TurnedBlock, blocks
from evenweave.trial.nest.cells import Grid
from evenweave.trial.nest.search import Placed, Search, Task
from evenweave.trial.nest.still import is_within, pinned_cells
from evenweave.trial.pack.bound import fit_at_any_turn, fit_at_turns, largest_scale
from evenweave.trial.pack.counter import Counter
from evenweave.trial.pack.moved import moved_uvs
from evenweave.trial.tighten.tight import loosened, lying, tightened
from evenweave.trial.tighten.tighten import Lying
from evenweave.trial.uvs.corner_uvs import CornerUvs
from evenweave.trial.uvs.retexture import retextured
from evenweave.trial.work.worker import NoAdvice

Turns = Literal["none", "quarter", "free"]

CELLS = 1024  # along the longer side of a tile, at most
FINE_CELLS, FINE_SECONDS = 1536, 5.0  # with that much time
MANY = 4000  # blocks, beyond which cells are larger and fewer turns are tried
START = 0.8  # of the bound's scale; about 0.64 of its coverage
LEAST_STEPS = 3  # of tightening
TIGHTENING = 0.3  # share of the time, for moving blocks off the grid
MOST_AT_ONCE = 400  # blocks that are tightened at once; more take longer than anybody waits
PATIENCE = 20.0  # times the work wished, for a first packing
PLACEMENTS = 4000  # of a block on the grid, that a usual machine does in a second
STEP_SECONDS = 5e-4  # a block, of one step of tightening


@dataclass(frozen=True)
class PackOptions:
    """How to pack.

    padding_px, margin_px : texels kept between islands and to the edge of the tile
    turns : islands are not turned, by quarter turns, or laid straight and then by quarter turns
    on_texel_grid : lowest corners lie on whole texels, and where islands may be turned their
    dominant edges run along the grid
    tiles : column and row of each tile that may be used
    pinned : islands that stay; with them nothing grows, so that all keep one density
    importance : per island; more important ones are placed first. Empty: all alike
    most_scale : islands become at most this many times as large
    seconds, passes : when to stop looking for a better packing, whichever comes first; seconds
    are those of a usual machine, counted by the work done, so that any comes to the same
    """

    padding_px: float
    margin_px: float
    turns: Turns = "quarter"
    on_texel_grid: bool = False
    tiles: tuple[tuple[int, int], ...] = ((0, 0),)
    pinned: tuple[int, ...] = ()
    importance: tuple[float, ...] = ()
    most_scale: float = math.inf
    seconds: float = 1.5
    passes: int = 10_000


@dataclass(frozen=True, eq=False)
class Packing:
    """A packing as it was placed, and as the measures of the checks find it.

    change : the new coordinates; lying : where blocks lie
    scale : how many times larger the islands became
    coverage : share of the texels of all wished tiles that is covered
    bound : coverage that no packing of these islands, padding and margin can exceed
    padding_px, margin_px : the least, measured; inf where there is only one island
    is_cut_short : the machine was so busy that the search ended early; another run may differ
    """

    change: CornerUvs
    lying: Lying
    scale: float
    coverage: float
    bound: float
    padding_px: float
    margin_px: float
    is_cut_short: bool = False


@dataclass(frozen=True, eq=False)
class Job:
    """A layout made ready to be packed. still_px : texels of what stays in the wished tiles."""

    layout: Layout
    tile: Tile
    stacks: Stacks
    options: PackOptions
    moving: tuple[Block, ...]
    task: Task
    origin_px: float
    still_px: float


def pack(
    layout: Layout,
    tile: Tile,
    options: PackOptions,
    *,
    stacks: Stacks,
    progress: Progress = silent,
    hear: Callable[[Packing], None] | None = None,
) -> Packing:
    """Pack a layout with one common scale for all islands; members of a stack move as one.

    found : told each better packing while the search goes on. Raises NoAdvice where there is
    nothing to pack or no room for it, Cancelled where `progress` does.
    """
    job = prepared(layout, tile, options, stacks)
    counter = Counter(options.seconds, progress)
    most = round(PLACEMENTS * options.seconds / _fineness(job))
    start = START * job.task.bound
    first = Search(job.task, start, counter.until(most + round(PATIENCE * most))).first()
    if first is None:
        raise NoAdvice(counter.reason or "there is not enough room in the tiles")
    tell = (lambda one: hear(outcome(job, one))) if hear else (lambda one: None)
    is_loose = may_tighten(job) and len(job.moving) <= MOST_AT_ONCE
    share = 1.0 - TIGHTENING if is_loose else 1.0
    looking = counter.until(round(share * most))
    best = Search(job.task, start, looking).better(first, options.passes, tell)
    if not is_loose:
        return replace(outcome(job, best), is_cut_short=counter.is_late)
    steps = max(round(TIGHTENING * options.seconds / (STEP_SECONDS * len(job.moving))), LEAST_STEPS)
    loose = loosened(job.task, may_turn=False)
    tight = outcome(
        job, tightened(job.task, loose, best, Counter(options.seconds, progress).until(steps))
    )
    if not is_better(tight, best.scale, options):
        return replace(outcome(job, best), is_cut_short=counter.is_late)
    tight = replace(tight, is_cut_short=counter.is_late)
    if hear is not None:
        hear(tight)
    return tight


def _fineness(job: Job) -> float:
    """Return how much more than usual it costs to place a block on this grid."""
    finest = max(job.tile.width, job.tile.height) / CELLS
    return float((finest / job.task.grid.cell_px) ** 1.5)


def may_turn(options: PackOptions) -> bool:
    """Tell whether blocks may lie at any angle; the packer of the grid tries but a few."""
    return options.turns == "free" and not options.on_texel_grid


def may_tighten(job: Job) -> bool:
    """Tell whether blocks may lie anywhere and become larger."""
    return not job.options.on_texel_grid and not job.options.pinned


def is_better(packing: Packing, scale: float, options: PackOptions) -> bool:
    """Tell whether a packing is larger and keeps, as measured, what was wished."""
    keeps = packing.padding_px >= options.padding_px and packing.margin_px >= options.margin_px
    return keeps and packing.scale > scale


def prepared(layout: Layout, tile: Tile, options: PackOptions, stacks: Stacks) -> Job:
    """Return everything that packing needs to know. Raises NoAdvice where nothing can be done."""
    every = blocks(layout, tile, stacks)
    pinned = set(options.pinned)
    moving = tuple(one for one in every if pinned.isdisjoint(one.islands))
    if not moving:
        raise NoAdvice("there are no islands to move")
    cell = _cell_px(tile, len(moving), options)
    origin = math.ceil(options.margin_px - 1e-9) if options.on_texel_grid else options.margin_px
    room_px = (
        tile.width - origin - options.margin_px,
        tile.height - origin - options.margin_px,
    )
    if min(room_px) <= 0:
        raise NoAdvice("the margin leaves no room in the tile")
    turned = [_turned(one, options.turns, options.on_texel_grid, len(moving)) for one in moving]
    most = min(options.most_scale, 1.0 if options.pinned else math.inf)
    bound = largest_scale(
        moving, room_px=room_px, tiles=len(options.tiles), padding_px=options.padding_px
    )
    fits = (
        [fit_at_any_turn(block, room_px) for block in moving]
        if may_turn(options)
        else [fit_at_turns(poses.values(), room_px) for poses in turned]
    )
    bound = min(bound, *fits)
    if bound <= 0:
        raise NoAdvice("padding alone takes more room than there is")
    if math.isinf(bound):
        bound = 1.0
    grid = Grid(
        (room_px[0] / cell, room_px[1] / cell), len(options.tiles), cell, options.padding_px / cell
    )
    still = [one for one in every if not pinned.isdisjoint(one.islands)]
    importance = options.importance or (1.0,) * layout.island_count
    task = Task(
        blocks=moving,
        turned=turned,
        grid=grid,
        rank=[-max(importance[island] for island in one.islands) for one in moving],
        pinned=[
            pinned_cells(still, grid, tile, spot=spot, origin_px=origin) for spot in options.tiles
        ]
        if still
        else [],
        bound=min(bound, most),
    )
    covered = sum(one.area_px for one in still if is_within(one, tile, options.tiles))
    return Job(layout, tile, stacks, options, moving, task, origin, covered)


def _cell_px(tile: Tile, count: int, options: PackOptions) -> float:
    """Return the side of a cell; whole texels where blocks are to lie on them."""
    cells = FINE_CELLS if options.seconds >= FINE_SECONDS else CELLS
    cells = cells if count <= MANY else CELLS // 2
    cell = max(tile.width, tile.height) / cells
    return max(1.0, math.ceil(cell)) if options.on_texel_grid else cell


def _turned(
    block: Block, turns: Turns, on_texel_grid: bool, count: int
) -> dict[float, TurnedBlock]:
    if turns == "none":
        return {0.0: block.turned(0.0)}
    first = 0.0
    if turns == "free":
        first = block.straight_degrees()
    elif on_texel_grid and np.isfinite(block.grid_degrees):
        first = -block.grid_degrees
    quarters = 4 if count <= MANY else 2
    return {first + 90.0 * k: block.turned(first + 90.0 * k) for k in range(quarters)}


def outcome(job: Job, placed: Placed) -> Packing:
    """Return a packing with everything that is told of it measured on the layout as it became."""
    layout, tile, options = job.layout, job.tile, job.options
    change = moved_uvs(layout, tile, job.task, placed, tiles=options.tiles, origin_px=job.origin_px)
    after = retextured(layout, change)
    overlap = measure_overlap(after, tile, job.stacks)
    gaps = measure_gaps(
        after, tile, stacks=job.stacks, overlap=overlap, reach_px=max(64.0, 2 * options.padding_px)
    )
    moved = ints(sorted(island for block in job.moving for island in block.islands))
    coverage = measure_coverage(after, tile)
    wished = {tuple(one) for one in options.tiles}
    covered = sum(
        float(share)
        for spot, share in zip(coverage.tile.tolist(), coverage.share, strict=True)
        if tuple(spot) in wished
    )
    area = sum(block.area_px for block in job.moving)
    whole = len(options.tiles) * tile.width * tile.height
    return Packing(
        change=change,
        lying=lying(job.task, placed),
        scale=placed.scale,
        coverage=covered / len(options.tiles),
        bound=min(1.0, (area * job.task.bound**2 + job.still_px) / whole),
        padding_px=float(gaps.padding_px[moved].min(initial=np.inf)),
        margin_px=float(gaps.margin_px[moved].min(initial=np.inf)),
    )
