"""Where a border goes on at the opposite edge of the tile nothing foreign is beyond it."""

from __future__ import annotations

import numpy as np
import pytest
from tests import shapes

from evenweave.check.finding import Severity
from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Tile
from evenweave.limits.limits import Limits
from evenweave.measure.measure import measure
from evenweave.measure.seams.continuing import Continuing, continuing
from evenweave.mesh.asset import Asset
from evenweave.pipeline import review


def ring(low: float, high: float, *, sides: int = 8, is_closed: bool = True) -> Asset:
    """Return a tube, or the same sheet laid flat, round the tile between two heights."""
    position, uv = [], []
    for k in range(sides + 1):
        angle = 2 * np.pi * k / sides
        for v in (low, high):
            x, y = (np.cos(angle), np.sin(angle)) if is_closed else (angle, 0.0)
            position.append((x, y, v))
            uv.append((k / sides, v))
    point = [2 * (k % sides if is_closed else k) + j for k in range(sides + 1) for j in (0, 1)]
    corners = [(2 * k, 2 * k + 2, 2 * k + 3, 2 * k + 1) for k in range(sides)]
    return shapes.asset(
        position, [[point[c] for c in face] for face in corners], uv, uv_faces=corners
    )


def found(asset: Asset) -> Continuing:
    (layout,) = build_layouts(asset)
    return continuing(layout, measure(layout, asset, Tile(64, 64)).island)


def margins(asset: Asset) -> list[tuple[str, Severity]]:
    (layout,) = review(asset, Limits()).layouts
    return [(f.variant, f.severity) for f in layout.findings if f.check == "margin"]


def test_a_tube_round_the_tile_is_sewn_to_itself_and_raises_nothing() -> None:
    tube = ring(0.2, 0.8)
    assert found(tube).goes_on.tolist() == [[True, False]]
    assert found(tube).is_sewn.tolist() == [[True, False]]
    assert margins(tube) == []


def test_a_tube_too_close_to_the_other_edges_is_told_of_those() -> None:
    assert margins(ring(0.0, 0.8)) == [("bleeding", Severity.FAULT)]
    assert margins(ring(0.002, 0.8)) == [("", Severity.WARNING)]


def test_a_floor_that_fills_the_tile_is_a_remark() -> None:
    floor = ring(0.2, 0.8, is_closed=False)
    assert found(floor).goes_on.tolist() == [[True, False]]
    assert not found(floor).is_sewn.any()
    assert margins(floor) == [("continues", Severity.NOTE)]
    both = shapes.plane()
    assert found(both).goes_on.tolist() == [[True, True]]
    assert margins(both) == [("continues", Severity.NOTE)]


@pytest.mark.parametrize(
    "corners",
    [
        [(0, 0.2), (1, 0.3), (1, 0.7), (0, 0.8)],  # unlike stretches of the two edges
        [(0, 0.2), (0.9, 0.2), (0.9, 0.8), (0, 0.8)],  # one edge only
        [(0, 0.5), (0.5, 0.2), (1, 0.5), (0.5, 0.8)],  # corners alone
    ],
)
def test_borders_that_do_not_meet_stay_faults(corners: list[tuple[float, float]]) -> None:
    sheet = shapes.asset(np.column_stack([corners, np.zeros(4)]), [range(4)], corners)
    assert not found(sheet).goes_on.any()
    assert margins(sheet) == [("bleeding", Severity.FAULT)]
