"""`Limits`: everything a studio may decide about what is acceptable. Pure data with ranges."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, fields, replace
from fnmatch import fnmatchcase
from typing import Any, Literal

from evenweave.limits.range import Range
from evenweave.limits.sets import SetLimits, SetUse, changes_in, use_of

Purpose = Literal["unique", "tiling"]
RuleKind = Literal["material", "part", "island"]

PURPOSES: tuple[Purpose, ...] = ("unique", "tiling")
SEVERITY_WORDS = ("off", "note", "warning", "fault")
RULE_KINDS: tuple[RuleKind, ...] = ("material", "part", "island")
LARGEST_TILE = 16384


def _setting(default: Any, group: str, meaning: str, **span: Any) -> Any:
    return field(default=default, metadata={"range": Range(group, meaning, **span)})


@dataclass(frozen=True)
class Importance:
    """A factor for what a rule's name matches: an exact name, or a pattern with * and ?."""

    kind: RuleKind
    name: str
    factor: float


@dataclass(frozen=True)
class Limits:
    """What is acceptable. A value exactly at its limit is accepted.

    sets : what is other in some UV sets.
    Every plain setting carries a `Range` (see `range_of`). purposes, severities : pairs of
    (layout name or pattern, purpose) and (check id, word of SEVERITY_WORDS).
    Raises ValueError where a value is out of its range.
    """

    tile_width: int = _setting(
        2048, "Texture", "Size of one tile.", unit="texels", least=1, most=LARGEST_TILE
    )
    tile_height: int = _setting(
        2048, "Texture", "Size of one tile.", unit="texels", least=1, most=LARGEST_TILE
    )
    tile_from_texture: bool = _setting(
        True, "Texture", "Where a texture's image is found, a tile of 2048 takes its size."
    )
    udim: bool = _setting(
        False, "Texture", "Islands may lie in any UDIM tile, not only in the first."
    )
    target_density: float | None = _setting(
        None,
        "Texel density",
        "What every island is compared with; the median is the layout's own, weighted by surface.",
        unit="texels per metre",
        least=0.001,
        most=1_000_000,
        word="median",
    )
    density_unit: str = _setting(
        "m", "Texel density", "Densities are written per metre or per centimetre.",
        choices=("m", "cm"),
    )  # fmt: skip
    density_octaves: float = _setting(
        0.25,
        "Texel density",
        "How far an island may be from its target; one octave is twice or half the density.",
        unit="octaves",
        least=0,
        most=16,
    )
    density_range_octaves: float = _setting(
        0.5,
        "Texel density",
        "How far density may spread inside one island, 5th to 95th percentile.",
        unit="octaves",
        least=0,
        most=16,
    )
    layout_density_octaves: float = _setting(
        0.75, "Texel density", "How far layouts of one asset may be from each other.",
        unit="octaves", least=0, most=16,
    )  # fmt: skip
    density_step_octaves: float = _setting(
        0.25, "Texel density", "How far density may jump across a seam.",
        unit="octaves", least=0, most=16,
    )  # fmt: skip
    stretch_p95: float = _setting(
        1.5,
        "Stretch",
        "Scale along over scale across, which 95 % of an island's surface must not exceed.",
        least=1,
        most=1000,
    )
    stretch_median: float = _setting(
        1.15, "Stretch", "The same for half of an island's surface.", least=1, most=1000
    )
    mirrored: bool = _setting(
        False, "Stretch", "Whole islands may be mirrored; they are then a note."
    )
    overlap_px2: float = _setting(
        1e-3, "Room", "Texture that may be claimed twice.",
        unit="square texels", least=0,
    )  # fmt: skip
    padding_px: float | None = _setting(
        None,
        "Room",
        "Room between islands; auto is the larger side of the tile over 128, at most 64.",
        unit="texels",
        least=0,
        most=64,
        word="auto",
    )
    margin_px: float | None = _setting(
        None,
        "Room",
        "Room to the edge of the tile; auto is the larger side of the tile over 256, at most 64.",
        unit="texels",
        least=0,
        most=64,
        word="auto",
    )
    mip_level: int | None = _setting(
        None,
        "Room",
        "Highest mip level at which islands must still be apart; off asks nothing.",
        least=0,
        most=14,
        word="off",
    )
    coverage: float = _setting(
        0.7, "Use of space", "Share of the texels that islands must cover.", least=0, most=1
    )
    tiny_px: float = _setting(
        4.0, "Use of space", "Least shorter side of an island.",
        unit="texels", least=0, most=LARGEST_TILE,
    )  # fmt: skip
    fragment_surface: float = _setting(
        0.002, "Seams", "An island smaller than this share of the layout's surface is a fragment…",
        least=0, most=1,
    )  # fmt: skip
    fragment_outline: float = _setting(
        0.3, "Seams", "…if it shares at least this much of its outline with one neighbour.",
        least=0, most=1,
    )  # fmt: skip
    hard_edge_m: float = _setting(
        0.0, "Seams", "Length of hard edges that may run through islands.",
        unit="metres", least=0,
    )  # fmt: skip
    bow: float = _setting(
        0.02, "Seams", "How far a strip may bend, as a share of its length.", least=0, most=1
    )
    purposes: tuple[tuple[str, Purpose], ...] = ()
    severities: tuple[tuple[str, str], ...] = ()
    importance: tuple[Importance, ...] = ()
    sets: tuple[SetLimits, ...] = ()

    def __post_init__(self) -> None:
        for setting in fields(self):
            if "range" in setting.metadata and (
                wrong := complaint(setting.name, getattr(self, setting.name))
            ):
                raise ValueError(f"{setting.name}: {wrong}")
        for one in self.sets:
            for name, value in one.changes:
                if wrong := complaint(name, value):
                    raise ValueError(f"{name} of set {one.name}: {wrong}")
        for rule in self.importance:
            if not 0 < rule.factor < math.inf:
                raise ValueError(f"importance of {rule.name}: a number above 0")

    def in_set(self, uv_set: str) -> Limits:
        """Return the limits for layouts in a UV set."""
        changes = changes_in(self.sets, uv_set)
        return replace(self, **changes) if changes else self

    def use_of(self, uv_set: str) -> SetUse:
        """Return what a UV set is for."""
        return use_of(self.sets, uv_set)

    @property
    def takes_tile_from_texture(self) -> bool:
        """Whether nobody gave the size of a tile."""
        return self.tile_from_texture and (self.tile_width, self.tile_height) == (2048, 2048)

    @property
    def required_padding_px(self) -> float:
        """Texels between islands. Tile size over 128 is common practice, no source."""
        if self.padding_px is not None:
            return self.padding_px
        return min(max(self.tile_width, self.tile_height) / 128, 64.0)

    @property
    def required_margin_px(self) -> float:
        """Texels to the tile's edge. Half the padding is common practice, no source."""
        if self.margin_px is not None:
            return self.margin_px
        return min(max(self.tile_width, self.tile_height) / 256, 64.0)

    def purpose_of(self, layout: str) -> Purpose:
        """Return the purpose stated for a layout (exact name before patterns), else "unique"."""
        return self._stated_purpose(layout) or "unique"

    def states_purpose_of(self, layout: str) -> bool:
        """Tell whether somebody decided on the purpose of this layout."""
        return self._stated_purpose(layout) is not None

    def _stated_purpose(self, layout: str) -> Purpose | None:
        exact = [purpose for name, purpose in self.purposes if name == layout]
        fitting = [purpose for name, purpose in self.purposes if fnmatchcase(layout, name)]
        stated = exact or fitting
        return stated[-1] if stated else None

    def severity_of(self, check: str) -> str | None:
        """Return the severity word this check was given, or None where it keeps its own."""
        return dict(self.severities).get(check)

    def importance_of(
        self, island: str, *, layout: str, parts: Iterable[str], materials: Iterable[str]
    ) -> float:
        """Return an island's factor.

        A rule for the island (its name, or "layout/name") goes before one for its part, and
        that before one for its material; among equals an exact name before a pattern, then
        the later rule. Of an island's several parts the most important counts.
        """
        own = self.own_importance_of(island, layout)
        return self.shared_importance_of(parts, materials) if own is None else own

    def own_importance_of(self, island: str, layout: str) -> float | None:
        """Return the factor that rules for islands give; None where none fits."""
        return _factor(self._rules("island"), (island, f"{layout}/{island}"))

    def shared_importance_of(self, parts: Iterable[str], materials: Iterable[str]) -> float:
        """Return the factor that rules for parts and materials give; 1 where none fits."""
        for rules, names in ((self._rules("part"), parts), (self._rules("material"), materials)):
            factors = [found for name in names if (found := _factor(rules, (name,))) is not None]
            if factors:
                return max(factors)
        return 1.0

    def _rules(self, kind: RuleKind) -> list[Importance]:
        return [rule for rule in self.importance if rule.kind == kind]


def _factor(rules: Sequence[Importance], names: Sequence[str]) -> float | None:
    exact = [rule.factor for rule in rules if rule.name in names]
    fitting = [rule.factor for rule in rules if any(fnmatchcase(name, rule.name) for name in names)]
    found = exact or fitting
    return found[-1] if found else None


_FIELDS = {setting.name: setting for setting in fields(Limits) if "range" in setting.metadata}
SETTINGS = tuple(_FIELDS)
"""Names of the plain settings, in the order in which they are written and shown."""


def range_of(setting: str) -> Range:
    """Return what a plain setting may be."""
    span: Range = _FIELDS[setting].metadata["range"]
    return span


def kind_of(setting: str) -> type:
    """Return bool, int, float or str: the kind of a plain setting where it is not None."""
    declared = str(_FIELDS[setting].type).split(" | ")[0]
    return {"bool": bool, "int": int, "float": float, "str": str}[declared]


def complaint(setting: str, value: object) -> str:
    """Say what a plain setting must be if the value is not allowed; "" if it is."""
    span, kind = range_of(setting), kind_of(setting)
    wanted = f"must be {span.allowed(kind)}"
    if value is None:
        return "" if span.word else wanted
    if kind is bool or kind is str:
        fits = isinstance(value, kind) and (kind is bool or value in span.choices)
        return "" if fits else wanted
    numbers = (int,) if kind is int else (int, float)
    if isinstance(value, bool) or not isinstance(value, numbers):
        return wanted
    return "" if span.least <= value <= span.most and math.isfinite(value) else wanted


DEFAULT = Limits()
