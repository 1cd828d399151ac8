"""Every check there is, in the order in which warnings of one severity are listed."""

from __future__ import annotations

from evenweave.check.rules.budget import BUDGET
from evenweave.check.rules.edges import HARD_EDGE
from evenweave.check.rules.evenness import DENSITY, DENSITY_RANGE, DENSITY_STEP, STRETCH
from evenweave.check.rules.orientation import FLIPPED
from evenweave.check.rules.place import CROSSES_TILE, OUTSIDE_TILE, TILING_HINT
from evenweave.check.rules.room import MARGIN, MIP, PADDING
from evenweave.check.rules.shape import BOWED
from evenweave.check.rules.sharing import OVERLAP, SELF_OVERLAP, STACK
from evenweave.check.rules.size import COVERAGE, FRAGMENT, TINY
from evenweave.check.rules.usable import DEGENERATE, NO_UVS, NOT_FINITE

CHECKS = (
    NO_UVS,
    NOT_FINITE,
    DEGENERATE,
    TILING_HINT,
    OUTSIDE_TILE,
    CROSSES_TILE,
    OVERLAP,
    SELF_OVERLAP,
    PADDING,
    MARGIN,
    MIP,
    STRETCH,
    DENSITY,
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
)

CHECK_IDS = tuple(check.id for check in CHECKS)
