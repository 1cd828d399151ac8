"""How near attainable energies are to those of libigl's SLIM in fifty sweeps, island by island.

    python tests/benchmarks/attainable.py FILE [FILE ...] [--islands 200] [--all]

For each island, worst first, the attainable energy within the usual time stands beside the least
that libigl's SLIM reaches from the present layout and from Tutte's, where they have no flips.
Islands whose attainable energy is more than 1 % above it are listed with the reason: `overlap` is
the share of SLIM's result that lies on itself, which the attainable one must not.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import igl
import numpy as np

from evenweave.limits.limits import Limits
from evenweave.mesh.read import read
from evenweave.pipeline import review
from evenweave.trial.advice.advice import ISLAND_SECONDS, worst_first
from evenweave.trial.flatten.attainable import SOFT_SHARE
from evenweave.trial.flatten.flatten import Flattening, best_flattening, scored
from evenweave.trial.flatten.island_mesh import aspect_of, island_meshes
from evenweave.trial.flatten.solvers import tutte
from evenweave.trial.flatten.surface import Surface, pieces

SWEEPS = 50
BAR = 1.01


def slim(surface: Surface) -> Flattening | None:
    """Return libigl's best from two starts; None where it has none or its result is no number."""
    found = []
    for start in (surface.uv, tutte(surface.solid_m, surface.triangle, surface.rims)):
        now = scored(surface, start)
        if now.energy.flips or not np.isfinite(now.energy.scale):
            continue
        data = igl.slim_precompute(
            np.asfortranarray(surface.solid_m), np.asfortranarray(surface.triangle),
            np.asfortranarray(now.uv), igl.SYMMETRIC_DIRICHLET, np.zeros(0, np.int32),
            np.zeros((0, 2), order="F"), 0.0,
        )  # fmt: skip
        uv = np.ascontiguousarray(igl.slim_solve(data, SWEEPS))
        if np.isfinite(uv).all():
            found.append(scored(surface, uv))
    return min(found, key=lambda one: one.energy.rank, default=None)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("files", nargs="+", type=Path)
    parser.add_argument("--islands", type=int, default=200, help="of each layout, worst first")
    parser.add_argument("--all", action="store_true", help="list every island")
    arguments = parser.parse_args()
    count = above = lying = 0
    seen: set[str] = set()
    for path in arguments.files:
        for judged in review(read(path), Limits()).layouts:
            order = worst_first(judged)[: arguments.islands]
            meshes = island_meshes(judged.layout, order, aspect=aspect_of(judged.measures.tile))
            for island, mesh in zip(order, meshes, strict=True):
                if mesh.digest in seen:
                    continue
                seen.add(mesh.digest)
                try:
                    surfaces = pieces(mesh)
                except ValueError:
                    continue
                for surface in surfaces:
                    if surface.obstacle or not (theirs := slim(surface)):
                        continue
                    began = time.monotonic()
                    ours = best_flattening(surface, deadline=began + SOFT_SHARE * ISLAND_SECONDS)
                    count += 1
                    is_above = (
                        ours.energy.flips > theirs.energy.flips
                        or ours.energy.value > BAR * theirs.energy.value
                    )
                    above += is_above
                    lying += is_above and theirs.overlap > 0
                    if is_above or arguments.all:
                        print(
                            f"{path.name:24} {judged.layout.island_name[island]:28}"
                            f" {len(surface.triangle):6} ours {ours.energy.value:8.4f}"
                            f" overlap {ours.overlap:6.4f}  slim {theirs.energy.value:8.4f}"
                            f" overlap {theirs.overlap:6.4f}  {time.monotonic() - began:5.1f} s"
                        )
    print(
        f"{count} surfaces; {above} more than 1 % above SLIM, of which"
        f" {lying} where SLIM's result lies on itself"
    )


if __name__ == "__main__":
    main()
