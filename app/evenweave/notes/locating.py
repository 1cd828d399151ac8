"""Finding noted places again in another pass: by where the surface lies, then by its shape."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from evenweave.arrays import FloatArray, IntArray, floats, ints
from evenweave.compare.matching.sampling import REACH_SHARE
from evenweave.compare.matching.surface import Surface, surface_of
from evenweave.layout.layout import Layout
from evenweave.notes.fingerprint import Fingerprint, fingerprints
from evenweave.notes.store import Note

LEAST_VOTES = 0.5
"""An island is found again where at least so many of its kept points lie on it."""

SHAPE_SLACK = 0.01
"""Islands of one name are the same where area and spread agree within this share."""


@dataclass(frozen=True)
class Spot:
    """Where a place is now. layout, island, triangle, face : indices of that layout's own."""

    layout: int
    island: int
    triangle: int
    face: int
    point_m: tuple[float, float, float]
    uv: tuple[float, float]


@dataclass(frozen=True)
class FoundNote:
    """A note and where it is now; `spot` is None where it is adrift: its surface is gone."""

    note: Note
    spot: Spot | None

    @property
    def is_adrift(self) -> bool:
        """Tell whether the noted place could not be found."""
        return self.spot is None


class Finder:
    """Finds places in the layouts of one review. Make one a review; it keeps a search tree.

    The first search takes about 0.3 s per million triangles, later ones milliseconds.
    """

    def __init__(self, layouts: Sequence[Layout]) -> None:
        self.layouts = tuple(layouts)

    @cached_property
    def _surface(self) -> Surface:
        return surface_of(self.layouts)

    @cached_property
    def _names(self) -> tuple[str, ...]:
        return tuple(name for one in self.layouts for name in one.island_name)

    @cached_property
    def _by_name(self) -> dict[str, list[int]]:
        places: dict[str, list[int]] = {}
        for number, name in enumerate(self._names):
            places.setdefault(name, []).append(number)
        return places

    def notes(self, notes: Sequence[Note]) -> tuple[FoundNote, ...]:
        """Find the places of notes, in their order."""
        if not notes:
            return ()
        island = [note.place.island for note in notes]
        point = floats([note.place.point_m for note in notes])
        normal = floats([note.place.normal for note in notes])
        found = self._near(point, normal, floats([_reach(one) for one in island]))
        likely = self._votes(island)
        spots = []
        for row, note in enumerate(notes):
            triangle = self._choice(found[row], likely[row], note.place.island)
            where = point[row]
            if triangle < 0:
                triangle, where = self._moved(note)
            spots.append(self._spot(triangle, where))
        return tuple(FoundNote(note, spot) for note, spot in zip(notes, spots, strict=True))

    def islands(self, wanted: Sequence[Fingerprint]) -> tuple[tuple[int, int] | None, ...]:
        """Find islands: for each its layout and number there, None where it is gone."""
        if not wanted:
            return ()
        votes = self._votes(wanted)
        out: list[tuple[int, int] | None] = []
        for one, counts in zip(wanted, votes, strict=True):
            best = self._most_voted(one, counts)
            number = self._alike(one) if best < 0 else best
            out.append(self._own_number(number) if number >= 0 else None)
        return tuple(out)

    def _near(self, point: FloatArray, normal: FloatArray, reach: FloatArray) -> IntArray:
        """Return (N, K) triangles nearest to points, one an island, -1 for none."""
        found, _ = self._surface.nearest(point, normal, reach)
        return found

    def _votes(self, wanted: Sequence[Fingerprint]) -> list[dict[int, float]]:
        """Return for each fingerprint the shares of its points that lie on islands."""
        counts = [len(one.sample_m) for one in wanted]
        found = self._near(
            floats([point for one in wanted for point in one.sample_m]),
            floats([way for one in wanted for way in one.sample_normal]),
            floats(np.repeat([_reach(one) for one in wanted], counts)),
        )
        island = np.append(self._surface.island, -1)[found]
        out, first = [], 0
        for count in counts:
            numbers, times = np.unique(island[first : first + count], return_counts=True)
            out.append({int(n): t / count for n, t in zip(numbers, times, strict=True) if n >= 0})
            first += count
        return out

    def _likeness(self, number: int, wanted: Fingerprint) -> tuple[bool, float]:
        """Return what is to be larger in the likelier of islands that lie in one place."""
        is_named = self._names[number] == wanted.name
        own = float(self._surface.island_area_m2[number])
        return is_named, -abs(own - wanted.area_m2)

    def _most_voted(self, wanted: Fingerprint, votes: dict[int, float]) -> int:
        enough = {number: share for number, share in votes.items() if share >= LEAST_VOTES}
        if not enough:
            return -1
        return max(enough, key=lambda n: (round(enough[n], 2), *self._likeness(n, wanted)))

    def _choice(self, triangles: IntArray, votes: dict[int, float], wanted: Fingerprint) -> int:
        """Return which of triangles that lie in one place is the noted island's."""
        here = [int(triangle) for triangle in triangles if triangle >= 0]
        if not here:
            return -1
        number = {triangle: int(self._surface.island[triangle]) for triangle in here}
        return max(
            here,
            key=lambda t: (votes.get(number[t], 0.0), *self._likeness(number[t], wanted)),
        )

    def _alike(self, wanted: Fingerprint) -> int:
        """Return the only island of this name, area and spread, wherever it lies, or -1."""
        named = [n for n in self._by_name.get(wanted.name, []) if self._has_area(n, wanted)]
        fitting = [n for n in named if _has_shape(self._fingerprint(n), wanted)]
        return fitting[0] if len(fitting) == 1 else -1

    def _has_area(self, number: int, wanted: Fingerprint) -> bool:
        own = float(self._surface.island_area_m2[number])
        return abs(own - wanted.area_m2) <= SHAPE_SLACK * wanted.area_m2

    def _moved(self, note: Note) -> tuple[int, FloatArray]:
        """Look for the note's island elsewhere on the object; the pin moves with it."""
        place = note.place
        number = self._alike(place.island)
        if number < 0:
            return -1, np.zeros(3)
        new = self._fingerprint(number)
        shift = np.subtract(new.centre_m, place.island.centre_m)
        point = np.asarray(place.point_m) + shift
        found = self._near(floats([point]), floats([place.normal]), floats([_reach(new)]))[0]
        same = [int(t) for t in found if t >= 0 and self._surface.island[t] == number]
        if same:
            return same[0], point
        if note.kind != "island":
            return -1, point
        first = int(np.flatnonzero(self._surface.island == number)[0])
        return first, self._surface.corner_m[first].mean(axis=0)

    def _own_number(self, number: int) -> tuple[int, int]:
        start = self._surface.layout_island
        layout = int(np.searchsorted(start, number, side="right")) - 1
        return layout, number - int(start[layout])

    def _fingerprint(self, number: int) -> Fingerprint:
        layout, island = self._own_number(number)
        return fingerprints(self.layouts[layout], [island])[0]

    def _spot(self, triangle: int, point: FloatArray) -> Spot | None:
        if triangle < 0:
            return None
        surface = self._surface
        layout, island = self._own_number(int(surface.island[triangle]))
        chosen = ints([triangle])
        u, v = (float(x) for x in surface.uv_at(chosen, floats([point]))[0])
        x, y, z = (float(x) for x in surface.point_at(chosen, floats([point]))[0])
        own = triangle - int(surface.layout_triangle[layout])
        face = int(self.layouts[layout].triangle_face[own])
        return Spot(layout, island, own, face, (x, y, z), (u, v))


def _reach(island: Fingerprint) -> float:
    """Return how far off, in metres, a point still lies on the island's surface."""
    # The diagonal of a box is at least twice the root mean square distance from its middle.
    return max(2 * REACH_SHARE * island.radius_m, 1e-9)


def _has_shape(own: Fingerprint, wanted: Fingerprint) -> bool:
    return abs(own.radius_m - wanted.radius_m) <= SHAPE_SLACK * wanted.radius_m
