"""What became of each island from one pass to the next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray, frozen, ints
from evenweave.compare.matching.matching import IslandMatch
from evenweave.compare.motion import TOLERANCE_PX, Motion

State = Literal[
    "unchanged",
    "moved",
    "scaled",
    "turned",
    "mirrored",
    "re-flattened",
    "re-cut",
    "lost",
    "added",
]
STATES: tuple[State, ...] = get_args(State)

_OUTLINE_CHANGE = 0.02


@dataclass(frozen=True, eq=False)
class IslandChanges:
    """One row for each old island, in order, then one for each island added; (K,) each.

    old, new : int32, numbered over all layouts of their pass; -1 where there is none
    state : the gravest of what happened; an island that was turned may be moved and scaled too
    offset_px : (K, 2); scale, turn_degrees, is_mirrored : as in `Motion`
    kept : share of the island that follows one common motion
    has_lost_uvs : the surface is there but without usable coordinates
    """

    old: IntArray
    new: IntArray
    state: tuple[State, ...]
    offset_px: FloatArray
    scale: FloatArray
    turn_degrees: FloatArray
    is_mirrored: BoolArray
    kept: FloatArray
    has_lost_uvs: BoolArray

    def count(self, state: State) -> int:
        """Return how many islands are in a state."""
        return self.state.count(state)


def island_changes(
    match: IslandMatch, moved: Motion, outlines_m: tuple[FloatArray, FloatArray]
) -> IslandChanges:
    """Tell what became of each island.

    outlines_m : length of the outline of each old and each new island
    """
    added = np.flatnonzero(match.old_of_new < 0)
    # A piece of an island that was cut is no new surface.
    added = added[~np.isin(added, match.piece[:, 1])]
    old = np.append(np.arange(len(match.new_of_old)), np.full(len(added), -1))
    states = [STATES[code] for code in _codes(match, moved, outlines_m).tolist()]
    blank = np.full(len(added), np.nan)
    lost = np.append(_bare(match), np.zeros(len(added), dtype=bool))
    return IslandChanges(
        old=ints(old),
        new=ints(np.append(match.new_of_old, added)),
        state=(*states, *(STATES[-1] for _ in added)),
        offset_px=frozen(np.concatenate([moved.offset_px, np.full((len(added), 2), np.nan)])),
        scale=frozen(np.append(moved.scale, blank)),
        turn_degrees=frozen(np.append(moved.turn_degrees, blank)),
        is_mirrored=frozen(np.append(moved.is_mirrored, np.zeros(len(added), dtype=bool))),
        kept=frozen(np.append(moved.kept, blank)),
        has_lost_uvs=frozen(lost),
    )


def _codes(
    match: IslandMatch, moved: Motion, outlines_m: tuple[FloatArray, FloatArray]
) -> IntArray:
    """Return (I,) the index of each old island's state."""
    with np.errstate(invalid="ignore"):
        shift = np.linalg.norm(moved.offset_px, axis=1)
        growth = np.abs(moved.scale - 1) * moved.reach_px
        turn = np.abs(np.radians(moved.turn_degrees)) * moved.reach_px
        code = np.where(shift > TOLERANCE_PX, 1, 0)
        code[growth > TOLERANCE_PX] = 2
        code[turn > TOLERANCE_PX] = 3
    code[moved.is_mirrored] = 4
    code[~moved.is_similar] = 5
    old_m, new_m = outlines_m[0], np.append(outlines_m[1], np.nan)[match.new_of_old]
    with np.errstate(invalid="ignore"):
        is_opened = np.abs(new_m - old_m) > _OUTLINE_CHANGE * old_m
    code[(code == 5) & is_opened & (match.share > 0.99)] = 6
    code[match.is_recut] = 6
    code[match.new_of_old < 0] = 7
    return ints(code)


def _bare(match: IslandMatch) -> BoolArray:
    """Tell for each old island whether most of its surface is now without coordinates."""
    landing, count = match.old_landing, match.old.island_count
    own = match.old.island[landing.triangle]
    first = landing.found[:, 0]
    is_bare = (own >= 0) & (first >= 0) & (np.append(match.new.island, 0)[first] < 0)
    area = np.bincount(own[is_bare], landing.weight_m2[is_bare], count)
    return np.asarray((area > 0.5 * match.old.island_area_m2) & (match.new_of_old < 0))
