"""What is other for layouts in some UV sets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Any, Literal

SetUse = Literal["texture", "lightmap"]
SET_USES: tuple[SetUse, ...] = ("texture", "lightmap")
_LIGHTMAP = {"tile_width": 256, "tile_height": 256, "tile_from_texture": False}


@dataclass(frozen=True)
class SetLimits:
    """What is other for layouts in the UV sets that a name or pattern fits.

    changes : pairs of a plain setting and its value there
    """

    name: str
    use: SetUse = "texture"
    changes: tuple[tuple[str, Any], ...] = ()


def changes_in(rules: Sequence[SetLimits], uv_set: str) -> dict[str, Any]:
    """Return the settings that are other in a UV set; later rules go before earlier ones.

    A lightmap is small, and no texture decides on its tile.
    """
    changes: dict[str, Any] = dict(_LIGHTMAP) if use_of(rules, uv_set) == "lightmap" else {}
    for rule in _fitting(rules, uv_set):
        changes |= dict(rule.changes)
    return changes


def use_of(rules: Sequence[SetLimits], uv_set: str) -> SetUse:
    """Return what a UV set is for."""
    fitting = _fitting(rules, uv_set)
    return fitting[-1].use if fitting else "texture"


def _fitting(rules: Sequence[SetLimits], uv_set: str) -> list[SetLimits]:
    return [one for one in rules if one.name == uv_set or fnmatchcase(uv_set, one.name)]
