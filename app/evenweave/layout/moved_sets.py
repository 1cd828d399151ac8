"""UV sets as textures read them through their transforms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from evenweave.arrays import frozen
from evenweave.layout.reading import Reading
from evenweave.mesh.asset import Asset, UvSet


def with_moved_sets(
    asset: Asset, groups: Sequence[Sequence[Reading]]
) -> tuple[Asset, list[int | None]]:
    """Return the asset with a set more for each group that has a transform, and its number.

    None stands for a group that reads its sets as they are stored.
    """
    names = [one.name for one in asset.uv_sets]
    sets = list(asset.uv_sets)
    numbers: list[int | None] = []
    for group in groups:
        is_moved = any(reading.transform is not None for reading in group)
        if is_moved and group[0].uv_set in names:
            numbers.append(len(sets))
            sets.append(_moved_set(asset, asset.uv_sets[names.index(group[0].uv_set)], group))
        else:
            numbers.append(None)
    return (replace(asset, uv_sets=tuple(sets)) if len(sets) > len(names) else asset), numbers


def _moved_set(asset: Asset, stored: UvSet, group: Sequence[Reading]) -> UvSet:
    """Return a set in which the corners of each material have its own transform applied."""
    transforms = list(dict.fromkeys(reading.transform for reading in group))
    place = np.zeros(len(asset.material_names), dtype=np.int32)
    for reading in group:
        place[reading.material] = transforms.index(reading.transform)
    rows = [stored.uv if one is None else one.applied(stored.uv) for one in transforms]
    face_first = place[asset.face_material] * np.int32(len(stored.uv))
    corner_first = np.repeat(face_first, np.diff(asset.face_start))
    corner_uv = np.where(stored.corner_uv < 0, np.int32(-1), stored.corner_uv + corner_first)
    return UvSet(stored.name, frozen(np.vstack(rows)), frozen(corner_uv.astype(np.int32)))
