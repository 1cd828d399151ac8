"""What is to be mended without an artist's judgement, and what a layout's findings ask for."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from evenweave.pipeline import LayoutReview

JUDGEMENT = frozenset({"no-uvs", "not-finite", "flipped", "stack", "fragment", "hard-edge"})
"""Checks that only an artist can answer: what is missing, meant, or a matter of seams."""

OF_SIZE = frozenset({"density", "density-step", "budget", "tiny"})
OF_PLACE = frozenset({"overlap", "outside-tile", "crosses-tile", "padding", "margin", "coverage"})

PACK_SECONDS = 3.0


class Placing(Enum):
    """When islands are packed."""

    NEVER = "never"
    AFTER_CHANGES = "after changes"
    ALWAYS = "always"


@dataclass(frozen=True)
class FixOptions:
    """What to do.

    is_guarded : what would be worse than before is not kept
    seconds : how long to look for a packing of each layout
    """

    unwrap: bool
    straighten: bool
    level: bool
    pack: Placing
    is_guarded: bool = True
    seconds: float = PACK_SECONDS


def asked_for(judged: LayoutReview, seconds: float = PACK_SECONDS) -> FixOptions:
    """Return what a layout's findings ask for; nothing where none can be mended safely."""
    checks = {one.check for one in judged.findings} - JUDGEMENT
    return FixOptions(
        unwrap=bool(checks),
        straighten="bowed" in checks,
        level=bool(checks & OF_SIZE),
        pack=Placing.ALWAYS if checks & OF_PLACE else Placing.AFTER_CHANGES,
        seconds=seconds,
    )
