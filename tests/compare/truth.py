"""What a matching says against what is known of an edit."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from tests.compare.edits import Edit

from evenweave.compare.matching.matching import IslandMatch, match_surfaces
from evenweave.compare.matching.surface import surface_of
from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout
from evenweave.mesh.asset import Asset


def islands_of_faces(layouts: tuple[Layout, ...], count: int) -> NDArray[Any]:
    """(F,) the island, numbered over all layouts, of every face of the asset; -1 for none."""
    face_island, first = np.full(count, -1), 0
    for layout in layouts:
        face_island[layout.asset_face] = layout.face_island + first
        first += layout.island_count
    return face_island


def matched(old: Asset, new: Asset) -> IslandMatch:
    layouts = build_layouts(old), build_layouts(new)
    names = tuple(tuple(n for one in some for n in one.island_name) for some in layouts)
    return match_surfaces(
        surface_of(layouts[0], old), surface_of(layouts[1], new), names=(names[0], names[1])
    )


def told_apart(old: Asset, edit: Edit) -> tuple[int, int, int]:
    """Return how many islands are matched rightly, matched wrongly, and how many there are.

    An island is rightly matched to any new island that holds faces of it, and where it has no
    face left, to none.
    """
    match = matched(old, edit.asset)
    before = islands_of_faces(build_layouts(old), old.face_count)
    after = islands_of_faces(build_layouts(edit.asset), edit.asset.face_count)
    there = (after >= 0) & (edit.old_face >= 0)
    pairs = set(zip(before[edit.old_face[there]].tolist(), after[there].tolist(), strict=True))
    has = {a for a, _ in pairs}
    right = wrong = 0
    for island, new in enumerate(match.new_of_old.tolist()):
        if new < 0:
            right += island not in has
        else:
            right += (island, new) in pairs
            wrong += (island, new) not in pairs
    return right, wrong, len(match.new_of_old)
