"""Names of islands: the part's name, numbered where a part has several."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import FloatArray, IntArray

UNNAMED = "island"


def island_names(part_names: Sequence[str]) -> tuple[str, ...]:
    """Return a unique name for each island from the name of its part.

    The first island of a part bears the part's name, the next "name 2" and so on, leaving
    out numbers that would collide with another part's own name.
    """
    taken = set(part_names)
    next_number: dict[str, int] = {}
    names = []
    for part in part_names:
        base = part or UNNAMED
        if base not in next_number:
            next_number[base] = 2
            names.append(base)
            continue
        number = next_number[base]
        while f"{base} {number}" in taken:
            number += 1
        next_number[base] = number + 1
        names.append(f"{base} {number}")
    return tuple(names)


def parts_of_islands(
    face_island: IntArray,
    face_part: IntArray,
    island_count: int,
    surface: Callable[[NDArray[np.int64]], FloatArray],
) -> tuple[tuple[tuple[int, ...], ...], NDArray[np.int64]]:
    """Return each island's parts (ascending) and its main part, that of the largest surface.

    `surface` gives the area of some faces; it is asked only for islands that span parts.
    """
    main = np.full(island_count, -1, dtype=np.int64)
    main[face_island] = face_part
    parts = [(part,) for part in main.tolist()]
    is_mixed = np.zeros(island_count, dtype=bool)
    is_mixed[face_island[main[face_island] != face_part]] = True
    if is_mixed.any():
        faces = np.flatnonzero(is_mixed[face_island])
        pairs, inverse = np.unique(
            np.column_stack([face_island[faces], face_part[faces]]), axis=0, return_inverse=True
        )
        area = np.bincount(inverse.ravel(), weights=surface(faces), minlength=len(pairs))
        begins = np.flatnonzero(np.diff(pairs[:, 0], prepend=-1))
        for start, end in pairwise([*begins.tolist(), len(pairs)]):
            island = int(pairs[start, 0])
            parts[island] = tuple(pairs[start:end, 1].tolist())
            main[island] = pairs[start + np.argmax(area[start:end]), 1]
    return tuple(parts), main
