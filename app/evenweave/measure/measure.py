"""Everything measured of one layout, in the order its parts allow."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from typing import Any

from evenweave.layout.layout import Layout, Tile
from evenweave.measure.distortion.jacobian import measure_triangles
from evenweave.measure.islands.islands import measure_islands
from evenweave.measure.islands.shape import island_shapes
from evenweave.measure.outline.outline import outlines
from evenweave.measure.overlap.overlap import measure_overlap
from evenweave.measure.results import Measures
from evenweave.measure.seams.seams import measure_seams
from evenweave.measure.space.coverage import covered_share
from evenweave.measure.space.gaps import gaps_between
from evenweave.measure.space.mips import safe_levels
from evenweave.measure.stacks.stacks import find_stacks
from evenweave.mesh.asset import Asset
from evenweave.progress import Progress, silent
from evenweave.threads import cores


def measure(layout: Layout, asset: Asset, tile: Tile, progress: Progress = silent) -> Measures:
    """Return all measures of a layout at one tile size; an empty layout has empty tables.

    Parts that do not need one another run side by side. `progress` is told after each, and may
    cancel: parts already running are then awaited, the others dropped.
    """
    pool = ThreadPoolExecutor(cores(), thread_name_prefix="measure")
    try:
        return _measure(layout, asset, tile, pool, progress)
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _measure(
    layout: Layout, asset: Asset, tile: Tile, pool: ThreadPoolExecutor, progress: Progress
) -> Measures:
    # Parts wait for parts submitted before them only, so that the pool can never lock up.
    run = pool.submit
    stacks = run(find_stacks, layout, tile)
    triangle = run(measure_triangles, layout, tile)
    lines = run(outlines, layout)
    overlap = run(lambda: measure_overlap(layout, tile, stacks.result()))
    islands = run(lambda: measure_islands(layout, tile, triangle.result()))
    seams = run(lambda: measure_seams(layout, asset, triangle.result(), tile))
    coverage = run(lambda: covered_share(layout, lines.result(), tile))
    shape = run(lambda: island_shapes(lines.result(), tile))
    gaps = run(
        lambda: gaps_between(lines.result(), tile, stacks=stacks.result(), overlap=overlap.result())
    )
    mips = run(
        lambda: safe_levels(lines.result(), tile, stacks=stacks.result(), overlap=overlap.result())
    )
    _await(
        {
            triangle: "measuring triangles",
            lines: "tracing outlines",
            islands: "measuring islands",
            stacks: "looking for stacks",
            overlap: "looking for overlap",
            gaps: "measuring gaps",
            mips: "looking through the mip levels",
            coverage: "measuring coverage",
            seams: "following seams",
            shape: "measuring shapes",
        },
        progress,
    )
    island, whole = islands.result()
    return Measures(
        tile=tile,
        triangle=triangle.result(),
        island=island,
        whole=whole,
        overlap=overlap.result(),
        stacks=stacks.result(),
        gaps=gaps.result(),
        coverage=coverage.result(),
        mips=mips.result(),
        seams=seams.result(),
        shape=shape.result(),
    )


def _await(parts: Mapping[Future[Any], str], progress: Progress) -> None:
    """Wait for all parts, telling after each one which is still under way."""
    waiting = set(parts)
    while waiting:
        under_way = next(part for part in parts if part in waiting)
        progress(1.0 - len(waiting) / len(parts), parts[under_way])
        done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
        for part in done:
            part.result()
    progress(1.0, "measured")
