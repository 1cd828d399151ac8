"""Islands of two passes matched by the surface they share, whatever their names and numbers."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import BoolArray, FloatArray, IntArray, frozen, ints
from evenweave.compare.matching.identical import identical_triangles
from evenweave.compare.matching.registration import carried_islands, registered
from evenweave.compare.matching.sampling import Landing, land, land_again, votes
from evenweave.compare.matching.surface import Surface, surface_of
from evenweave.layout.layout import Layout

LEAST_SHARE = 0.5
"""An island is found again where at least so much of its surface is."""

PIECE_SHARE = 0.1
"""Islands share a piece where it is so much of one of them; less is rounding along seams."""

LITTLE_FOUND = 0.2
"""Where less of the whole surface is found, all of it may lie elsewhere."""

SAME_SHARE = 0.9
OVERCLAIM = 1.1


@dataclass(frozen=True, eq=False)
class IslandMatch:
    """Which islands of two passes are the same surface. Islands are numbered over all layouts.

    new_of_old : (I,) int32 the island that holds most of each old one; -1 where it is lost
    old_of_new : (J,) int32 the same the other way
    share : (I,) how much of each old island's surface is on new islands, 0 to 1
    new_share : (J,) how much of each new island's surface was on old islands
    piece : (K, 2) int32 pairs (old, new) that share surface, ascending; piece_m2 : (K,) how much
    is_recut : (I,) the surface is now on several islands, or on one together with others
    is_carried : (I,) it lies elsewhere in space
    old_landing, new_landing : the samples all this is told from
    old, new : the surfaces compared, what was carried where it is now
    """

    new_of_old: IntArray
    old_of_new: IntArray
    share: FloatArray
    new_share: FloatArray
    piece: IntArray
    piece_m2: FloatArray
    is_recut: BoolArray
    is_carried: BoolArray
    old_landing: Landing
    new_landing: Landing
    old: Surface
    new: Surface

    def pieces_of_old(self, island: int) -> IntArray:
        """Return the new islands that an old one's surface is on."""
        return np.asarray(self.piece[self.piece[:, 0] == island, 1])

    def pieces_of_new(self, island: int) -> IntArray:
        """Return the old islands that a new one's surface was on."""
        return np.asarray(self.piece[self.piece[:, 1] == island, 0])


def match_islands(old: Layout, new: Layout) -> IslandMatch:
    """Match the islands of two layouts by surface; about 0.3 s per million triangles."""
    return match_surfaces(
        surface_of([old]), surface_of([new]), names=(old.island_name, new.island_name)
    )


def match_surfaces(old: Surface, new: Surface, *, names: Names) -> IslandMatch:
    """Match the islands of two surfaces.

    Two islands share surface as far as samples of each lie on the other: within 2 % of the
    island's size, normals within 60 degrees, no other island nearer. A surface that lies in
    one place twice is told apart by `names`, the islands' names, and by its coordinates.
    Where little is found the whole is tried the other way up and at the other's size; then what
    is lost is looked for elsewhere in space.
    """
    match = _matched(old, new, names)
    if _found_share(match) < LITTLE_FOUND and (moved := registered(old, new)) is not None:
        other = _matched(moved, new, names)
        if _found_share(other) > _found_share(match):
            match = replace(other, is_carried=frozen(np.ones(len(other.share), dtype=bool)))
    lost = match.new_of_old < 0, match.old_of_new < 0
    if lost[0].any() and lost[1].any():
        carried = carried_islands(match.old, new, lost, names)
        if carried is not None:
            is_carried = match.is_carried.copy()
            is_carried[carried[1]] = True
            match = replace(_matched(carried[0], new, names), is_carried=frozen(is_carried))
    return match


def _found_share(match: IslandMatch) -> float:
    """Return the share of the old surface that is on new islands."""
    area = match.old.island_area_m2
    return float((area * match.share).sum() / max(area.sum(), 1e-300))


def _matched(old: Surface, new: Surface, names: Names) -> IslandMatch:
    """Match the islands of two surfaces as they lie."""
    old_twin, new_twin = identical_triangles(old, new)
    landings = land(old, new, old_twin), land(new, old, new_twin)
    piece, area = _pieces(old, new, landings, names)
    landings, (more, more_area) = _found_later(old, new, landings, names, piece=piece, area=area)
    piece, area = np.concatenate([piece, more]), np.concatenate([area, more_area])
    old_area, new_area = _areas(old), _areas(new)
    share, new_share = _total(piece[:, 0], area, old_area), _total(piece[:, 1], area, new_area)
    is_recut = np.bincount(piece[:, 0], minlength=len(old_area)) > 1
    is_many = np.bincount(piece[:, 1], minlength=len(new_area)) > 1
    is_recut[piece[is_many[piece[:, 1]], 0]] = True
    return IslandMatch(
        new_of_old=_largest(piece[:, 0], piece[:, 1], area, share),
        old_of_new=_largest(piece[:, 1], piece[:, 0], area, new_share),
        share=frozen(share),
        new_share=frozen(new_share),
        piece=frozen(piece),
        piece_m2=frozen(area),
        is_recut=frozen(is_recut & (share >= LEAST_SHARE)),
        is_carried=frozen(np.zeros(len(old_area), dtype=bool)),
        old_landing=landings[0],
        new_landing=landings[1],
        old=old,
        new=new,
    )


Names = tuple[tuple[str, ...], tuple[str, ...]]
Landings = tuple[Landing, Landing]
Pieces = tuple[IntArray, FloatArray]
Votes = tuple[IntArray, IntArray, FloatArray]


def _pieces(old: Surface, new: Surface, landings: Landings, names: Names) -> Pieces:
    """Return the pairs of islands that share surface, ascending, and how much."""
    piece, area = _shared(votes(old, new, landings[0]), votes(new, old, landings[1]))
    old_area, new_area = _areas(old), _areas(new)
    doubtful = _doubtful(piece, area, old_area, new_area)
    is_kept = np.ones(len(piece), dtype=bool)
    if len(doubtful):
        likeness = _likeness(piece[doubtful], old, new, names)
        is_kept[doubtful] = _without_doubles(
            piece[doubtful], area[doubtful], areas=(old_area, new_area), likeness=likeness
        )
    is_kept &= area >= PIECE_SHARE * np.minimum(old_area[piece[:, 0]], new_area[piece[:, 1]])
    return piece[is_kept], area[is_kept]


def _found_later(
    old: Surface,
    new: Surface,
    landings: Landings,
    names: Names,
    *,
    piece: IntArray,
    area: FloatArray,
) -> tuple[Landings, Pieces]:
    """Look further away for what is not found, among what is not found."""
    sought = (
        old.triangles_of(_total(piece[:, 0], area, _areas(old)) < LEAST_SHARE),
        new.triangles_of(_total(piece[:, 1], area, _areas(new)) < LEAST_SHARE),
    )
    if not (len(sought[0]) and len(sought[1])):
        return landings, (piece[:0], area[:0])
    rows = tuple(
        np.flatnonzero(np.isin(landing.triangle, triangle)).astype(np.int32)
        for landing, triangle in zip(landings, sought, strict=True)
    )
    left = old.only(sought[0]), new.only(sought[1])
    again = (
        _counted_in(land_again(old, left[1], landings[0], rows[0]), sought[1]),
        _counted_in(land_again(new, left[0], landings[1], rows[1]), sought[0]),
    )
    pieces = _pieces(old, new, again, names)
    merged = [_merged(*one) for one in zip(landings, again, rows, strict=True)]
    return (merged[0], merged[1]), pieces


def _counted_in(landing: Landing, triangle: IntArray) -> Landing:
    """Return a landing on some of a surface's triangles as one on the whole surface."""
    found = np.where(landing.found >= 0, triangle[landing.found], np.int32(-1))
    return replace(landing, found=frozen(found))


def _merged(landing: Landing, again: Landing, rows: IntArray) -> Landing:
    found, distance = landing.found.copy(), landing.distance_m.copy()
    found[rows], distance[rows] = again.found, again.distance_m
    return replace(landing, found=frozen(found), distance_m=frozen(distance))


def _shared(old_votes: Votes, new_votes: Votes) -> tuple[IntArray, FloatArray]:
    """Return pairs (K, 2) that both sides agree on, ascending, and the lesser of their areas."""
    key = _key(old_votes[0], old_votes[1])
    new_key = _key(new_votes[1], new_votes[0])
    both, at, new_at = np.intersect1d(key, new_key, assume_unique=True, return_indices=True)
    area = np.minimum(old_votes[2][at], new_votes[2][new_at])
    return ints(np.stack((both >> 32, both & 0xFFFFFFFF), axis=1)), area


def _key(first: IntArray, second: IntArray) -> NDArray[np.int64]:
    return (first.astype(np.int64) << 32) | second


def _areas(surface: Surface) -> FloatArray:
    """Return (I,) the area that samples of each island stand for, never 0."""
    return np.maximum(surface.island_area_m2, 1e-300)


def _total(island: IntArray, area: FloatArray, whole: FloatArray) -> FloatArray:
    total: FloatArray = np.minimum(np.bincount(island, area, len(whole)) / whole, 1.0)
    return total


def _likeness(piece: IntArray, old: Surface, new: Surface, names: Names) -> FloatArray:
    """Return (K,) how alike two islands in one place are: by name, then by coordinates."""
    old_name, new_name = np.array(names[0], dtype=object), np.array(names[1], dtype=object)
    is_named = old_name[piece[:, 0]] == new_name[piece[:, 1]]
    apart = np.linalg.norm(_middle(old)[piece[:, 0]] - _middle(new)[piece[:, 1]], axis=1)
    return np.asarray(is_named.astype(np.float64) + 1 / (2 + apart))


def _middle(surface: Surface) -> FloatArray:
    """Return (I, 2) the mean coordinates of each island."""
    has = surface.island >= 0
    island, count = surface.island[has], surface.island_count
    uses = np.maximum(np.bincount(island, minlength=count), 1)
    middle = surface.corner_uv[has].mean(axis=1)
    return np.stack([np.bincount(island, middle[:, d], count) / uses for d in range(2)], axis=1)


def _doubtful(
    piece: IntArray, area: FloatArray, old_area: FloatArray, new_area: FloatArray
) -> IntArray:
    """Return the pairs of which an island shares more than it has: something lies there twice."""
    claimed = np.bincount(piece[:, 0], area, len(old_area)) > OVERCLAIM * old_area
    wanted = np.bincount(piece[:, 1], area, len(new_area)) > OVERCLAIM * new_area
    return np.flatnonzero(claimed[piece[:, 0]] | wanted[piece[:, 1]]).astype(np.int32)


def _without_doubles(
    piece: IntArray,
    area: FloatArray,
    *,
    areas: tuple[FloatArray, FloatArray],
    likeness: FloatArray,
) -> BoolArray:
    """Tell which pairs to keep where islands lie in one place: the likest first, one to one."""
    is_kept = np.zeros(len(piece), dtype=bool)
    share = np.minimum(area / areas[0][piece[:, 0]], area / areas[1][piece[:, 1]])
    share[share >= SAME_SHARE] = 1.0
    left = [areas[0].copy(), areas[1].copy()]
    for i in np.lexsort((-likeness, -share)).tolist():
        a, b = piece[i]
        fits = area[i] <= left[0][a] + (OVERCLAIM - 1) * areas[0][a]
        fits &= area[i] <= left[1][b] + (OVERCLAIM - 1) * areas[1][b]
        is_kept[i] = fits
        if fits:
            left[0][a] -= area[i]
            left[1][b] -= area[i]
    return is_kept


def _largest(own: IntArray, other: IntArray, area: FloatArray, share: FloatArray) -> IntArray:
    """Return for each island the other that shares most with it, -1 where too little is found."""
    best = np.full(len(share), -1, dtype=np.int32)
    order = np.argsort(area, kind="stable")
    best[own[order]] = other[order]
    best[share < LEAST_SHARE] = -1
    return frozen(best)
