"""Every check there is, in the order in which warnings of one severity are listed."""

from __future__ import annotations

from evenweave.check.own import OWN_CHECK, own_checks
from evenweave.check.rules.baking import LIGHTMAP_STACK, MIRRORED_BAKE
from evenweave.check.rules.budget import BUDGET
from evenweave.check.rules.edges import HARD_EDGE
from evenweave.check.rules.evenness import DENSITY, DENSITY_RANGE, DENSITY_STEP, STRETCH
from evenweave.check.rules.orientation import FLIPPED
from evenweave.check.rules.place import CROSSES_TILE, OUTSIDE_TILE, TILING_HINT, UDIM_HINT
from evenweave.check.rules.room import MARGIN, MIP, PADDING
from evenweave.check.rules.scale import LAYOUT_DENSITY, UNIT_HINT
from evenweave.check.rules.shape import BOWED
from evenweave.check.rules.sharing import OVERLAP, SELF_OVERLAP, STACK
from evenweave.check.rules.size import COVERAGE, FRAGMENT, TINY
from evenweave.check.rules.textures import TEXTURE_SIZE
from evenweave.check.rules.usable import DEGENERATE, NO_UVS, NOT_FINITE
from evenweave.check.subject import Check

CHECKS = (
    NO_UVS,
    NOT_FINITE,
    DEGENERATE,
    TILING_HINT,
    UDIM_HINT,
    UNIT_HINT,
    TEXTURE_SIZE,
    OUTSIDE_TILE,
    CROSSES_TILE,
    OVERLAP,
    SELF_OVERLAP,
    LIGHTMAP_STACK,
    PADDING,
    MARGIN,
    MIP,
    STRETCH,
    DENSITY,
    LAYOUT_DENSITY,
    DENSITY_RANGE,
    DENSITY_STEP,
    BUDGET,
    FLIPPED,
    TINY,
    COVERAGE,
    HARD_EDGE,
    FRAGMENT,
    BOWED,
    STACK,
    MIRRORED_BAKE,
    OWN_CHECK,
)

CHECK_IDS = tuple(check.id for check in CHECKS)


def all_checks() -> tuple[Check, ...]:
    """Return our checks and those of installed packages, ours first."""
    return (*CHECKS, *(check for check in own_checks() if check.id not in CHECK_IDS))
