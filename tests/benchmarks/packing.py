"""How full tiles become, and how soon, on sets of arcs, disks, rectangles and L shapes.

    python tests/benchmarks/packing.py [--islands 20 60 200] [--seeds 3] [--seconds 1.5]
        [--turns quarter] [--turned] [--longer] [--workers 2]

Sets: 30 % arcs, 20 % disks, 30 % rectangles, 20 % L shapes, sizes log-normal (sigma 0.5), in one
tile of 2048 texels with 8 texels between islands and 4 to the edge. `--turned` turns each shape
at random first; otherwise rectangles and L shapes lie along the grid. Coverage is counted, the
padding measured, on the layout as packed. The closed-form bound is printed beside.
"""

from __future__ import annotations

import argparse
import sys
import time
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.shapes import asset

from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.stacks.stacks import find_stacks
from evenweave.trial.pack.longer import pack_longer
from evenweave.trial.pack.pack import Packing, PackOptions, pack
from evenweave.trial.work.worker import Worker

TILE = Tile(2048, 2048)
Corners = NDArray[np.float64]


def arc(random: np.random.Generator) -> Corners:
    width, angle = random.uniform(0.18, 0.34), np.radians(random.uniform(60, 200))
    t = np.linspace(0, angle, 24)
    ring = np.stack([np.cos(t), np.sin(t)], axis=1)
    return np.vstack([ring * (1 + width / 2), ring[::-1] * (1 - width / 2)])


def disk(_: np.random.Generator) -> Corners:
    t = np.linspace(0, 2 * np.pi, 32, endpoint=False)
    return np.stack([np.cos(t), np.sin(t)], axis=1)


def rectangle(random: np.random.Generator) -> Corners:
    length = random.uniform(1, 4)
    return np.array([[0, 0], [length, 0], [length, 1], [0, 1]], dtype=np.float64)


def angle_piece(random: np.random.Generator) -> Corners:
    a, b = random.uniform(0.6, 1.4, 2)
    c, d = random.uniform(0.2, 0.45, 2)
    return np.array([[0, 0], [a, 0], [a, c], [d, c], [d, b], [0, b]])


KINDS = [arc] * 3 + [disk] * 2 + [rectangle] * 3 + [angle_piece] * 2


def area(corners: Corners) -> float:
    x, y = corners.T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


def shape_set(count: int, seed: int, *, turned: bool) -> list[Corners]:
    """Return outlines, counter-clockwise, of areas whose roots are log-normal."""
    random = np.random.default_rng(seed)
    found = []
    for number in range(count):
        corners = KINDS[number % len(KINDS)](random)
        corners = (corners - corners.mean(axis=0)) / np.sqrt(area(corners))
        corners = corners * np.exp(random.normal(0, 0.5))
        angle = random.uniform(0, 2 * np.pi) if turned else 0.0
        c, s = np.cos(angle), np.sin(angle)
        found.append(corners @ np.array([[c, s], [-s, c]]))
    return found


def layout_of(outlines: list[Corners]) -> Layout:
    """Return a layout of one polygon an island, each in a tile of its own."""
    size = np.sqrt(0.6 / sum(area(one) for one in outlines))
    start = np.cumsum([0, *map(len, outlines)])
    faces = [list(range(a, b)) for a, b in pairwise(start)]
    flat = [one * size for one in outlines]
    solid = [np.column_stack([one, np.full(len(one), k)]) for k, one in enumerate(flat)]
    apart = [one + np.array([k % 32 + 0.5, k // 32 + 0.5]) for k, one in enumerate(flat)]
    return build_layouts(asset(np.vstack(solid), faces, np.vstack(apart)))[0]


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--islands", type=int, nargs="+", default=[20, 60, 200])
    options.add_argument("--seeds", type=int, default=3)
    options.add_argument("--seconds", type=float, default=1.5)
    options.add_argument("--turns", choices=("none", "quarter", "free"), default="quarter")
    options.add_argument("--turned", action="store_true")
    options.add_argument("--longer", action="store_true")
    options.add_argument("--workers", type=int, default=2, help="processes that look longer")
    wished = options.parse_args()
    options = PackOptions(8.0, 4.0, turns=wished.turns, seconds=wished.seconds, passes=1_000_000)
    with Worker(wished.workers) as worker:
        worker.start()

        def run(layout: Layout) -> Packing:
            stacks = find_stacks(layout, TILE)
            if wished.longer:
                return pack_longer(layout, TILE, options, stacks=stacks, worker=worker)
            return pack(layout, TILE, options, stacks=stacks)

        run(layout_of(shape_set(8, 0, turned=False)))
        print("islands  coverage (each seed)          mean  bound  padding px  seconds")
        for count in wished.islands:
            packings, spans = [], []
            for seed in range(wished.seeds):
                layout = layout_of(shape_set(count, seed, turned=wished.turned))
                begun = time.perf_counter()
                packings.append(run(layout))
                spans.append(time.perf_counter() - begun)
            each = " ".join(f"{one.coverage:.3f}" for one in packings)
            mean = np.mean([one.coverage for one in packings])
            bound = np.mean([one.bound for one in packings])
            padding = min(one.padding_px for one in packings)
            figures = f"{mean:.3f}  {bound:.3f}  {padding:10.3f}  {max(spans):7.2f}"
            print(f"{count:7d}  {each:28s}  {figures}", flush=True)


if __name__ == "__main__":
    main()
