"""What a check looks at (`Subject`), what it says (`Finding`), and what it is (`Check`)."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray, floats, frozen, ints
from evenweave.check.finding import Severity
from evenweave.layout.layout import Layout
from evenweave.limits.limits import Limits, Purpose
from evenweave.measure.islands.squeeze import Squeeze
from evenweave.measure.results import Measures
from evenweave.measure.seams.continuing import Continuing
from evenweave.mesh.asset import Asset

NO_POINTS = floats(np.empty((0, 2)))
NO_SEGMENTS = floats(np.empty((0, 2, 2)))
NO_FACES = ints(np.empty(0))
NO_VALUES = floats(np.empty(0))

ROUNDING_PX = 0.01
"""Lengths closer than this are equal: exporters write six decimals, 0.008 texels at 8192."""


@dataclass(frozen=True)
class Guess:
    """What a layout seems to be made for.

    kind : "outside" (its texture repeats), "bands", "grid", "shared", "piled"; "" for nothing
    share : of the layout that speaks for it
    is_plain : where it is, islands are not asked for places of their own until somebody says
    """

    kind: str = ""
    share: float = 0.0
    is_plain: bool = False


@dataclass(frozen=True, eq=False)
class Subject:
    """One layout with everything a check may need. A check computes no geometry.

    target_density : texels per metre; target_is : "given" or "median"
    importance, octaves : (I,) as in `LayoutReview`
    limits : with UDIM on where the layout uses it; udim_is_guess : nobody said that it does
    is_first : whether it is the asset's first layout, which bears what is said of the asset once
    own_density, asset_density : texels per metre over importance, of this layout and of all; NaN
    where there is nothing to compare
    squeeze : where the layout is stretched by more than is accepted over half of its surface
    continuing : where islands go on at the opposite edge of the tile; None where it was not asked
    guess : what it seems to be made for, where its purpose is not stated
    """

    asset: Asset
    layout: Layout
    measures: Measures
    limits: Limits
    purpose: Purpose
    target_density: float
    target_is: str
    importance: FloatArray
    octaves: FloatArray
    guess: Guess
    udim_is_guess: bool
    is_first: bool = True
    own_density: float = math.nan
    asset_density: float = math.nan
    squeeze: Squeeze | None = None
    continuing: Continuing | None = None

    @property
    def is_lightmap(self) -> bool:
        """Whether its UV set is declared a lightmap."""
        return self.limits.use_of(self.layout.uv_set) == "lightmap"

    @property
    def looks_tiling(self) -> bool:
        """Whether its texture plainly repeats or is shared, so that places say nothing."""
        return self.guess.is_plain

    @cached_property
    def triangle_island(self) -> IntArray:
        """(T,) int32."""
        return frozen(self.layout.face_island[self.layout.triangle_face])

    def triangles_of(self, is_wanted: BoolArray) -> IntArray:
        """Return the triangles of the islands for which `is_wanted`, (I,), is true."""
        return np.flatnonzero(is_wanted[self.triangle_island]).astype(np.int32)

    def faces_of(self, triangles: IntArray) -> IntArray:
        """Return the faces that these triangles belong to, ascending."""
        is_meant = np.zeros(len(self.layout.asset_face), dtype=bool)
        is_meant[self.layout.triangle_face[triangles]] = True
        return ints(np.flatnonzero(is_meant))

    def name(self, island: int) -> str:
        """Return an island's name."""
        return self.layout.island_name[island]


@dataclass(frozen=True, eq=False)
class Hit:
    """What a check found: numbers and places; the words that fill its templates.

    variant : picks `what_<variant>` (and `why_`, `do_`, `how_`, `title_`) where there is one
    severity : where it differs from the check's own
    values : one number per island, in the order of `islands`
    """

    value: float
    limit: float
    islands: tuple[int, ...] = ()
    worst: int = -1
    values: FloatArray = field(default_factory=lambda: NO_VALUES)
    severity: Severity | None = None
    variant: str = ""
    words: Mapping[str, str] = field(default_factory=dict)
    points: FloatArray = field(default_factory=lambda: NO_POINTS)
    segments: FloatArray = field(default_factory=lambda: NO_SEGMENTS)
    faces: IntArray = field(default_factory=lambda: NO_FACES)


@dataclass(frozen=True)
class Check:
    """A question put to a layout.

    needs_own_place : asked only where every texel is to have one place (purpose "unique")
    of_lightmaps : asked of lightmaps too
    texts : templates of title, what, why, do and how, for a check of a studio's own; ours stand
    in `resources/checks.toml`
    """

    id: str
    severity: Severity
    unit: str
    find: Callable[[Subject], Iterable[Hit]]
    needs_own_place: bool = False
    of_lightmaps: bool = True
    texts: Mapping[str, str] = field(default_factory=dict)
