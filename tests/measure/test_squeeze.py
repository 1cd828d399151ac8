"""The squeeze of a layout: worked out by hand, and the same however islands are turned."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests import shapes

from evenweave.arrays import frozen
from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Tile
from evenweave.limits.limits import Limits
from evenweave.measure.distortion.jacobian import measure_triangles
from evenweave.measure.islands.squeeze import squeeze
from evenweave.mesh.asset import Asset
from evenweave.pipeline import review


def squeezed(asset: Asset, across: float, up: float) -> Asset:
    (one,) = asset.uv_sets
    return replace(asset, uv_sets=(replace(one, uv=frozen(one.uv * [across, up])),))


def turned_pieces() -> Asset:
    """Return six squares of the tile, each turned by another angle, without any stretch."""
    pieces = []
    for number in range(6):
        angle = 0.3 * number
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        square = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * 0.1
        uv = square @ turn.T + (0.17 + 0.33 * (number % 3), 0.25 + 0.5 * (number // 3))
        position = np.column_stack([square, np.full(4, number)])
        pieces.append(shapes.asset(position, [range(4)], uv, parts=(f"piece {number}",)))
    return shapes.together(*pieces)


@pytest.mark.parametrize(("across", "up"), [(0.5, 1.0), (1.0, 0.4), (0.7, 0.7)])
def test_the_ratio_is_found_whatever_way_islands_are_turned(across: float, up: float) -> None:
    (layout,) = build_layouts(squeezed(turned_pieces(), across, up))
    tile = Tile(2048, 2048)
    found = squeeze(layout, tile, measure_triangles(layout, tile))
    assert found.ratio == pytest.approx(across / up, rel=1e-5)
    np.testing.assert_allclose(found.stretch_p95, 1.0, atol=1e-5)
    np.testing.assert_allclose(found.stretch_median, 1.0, atol=1e-5)


def stretches(asset: Asset) -> list[tuple[str, int, str]]:
    (layout,) = review(asset, Limits()).layouts
    return [
        (finding.variant, len(finding.islands), finding.what)
        for finding in layout.findings
        if finding.check == "stretch"
    ]


def test_a_layout_made_for_a_wide_tile_is_told_once_with_its_shape() -> None:
    ((variant, islands, what),) = stretches(squeezed(turned_pieces(), 0.5, 1.0))
    assert (variant, islands) == ("squeezed", 6)
    assert "2 times more along v, as if made for a tile of 2 : 1 and not 2048 × 2048" in what


def test_an_island_that_is_stretched_besides_is_named_besides() -> None:
    asset = squeezed(turned_pieces(), 0.5, 1.0)
    (one,) = asset.uv_sets
    uv = one.uv.copy()
    uv[:4] = (uv[:4] - uv[:4].mean(axis=0)) * [1.0, 0.2] + uv[:4].mean(axis=0)
    told = stretches(replace(asset, uv_sets=(replace(one, uv=frozen(uv)),)))
    assert [(variant, islands) for variant, islands, _ in told] == [("squeezed", 5), ("", 1)]


def test_sound_layouts_and_one_stretched_island_are_no_squeeze() -> None:
    assert stretches(turned_pieces()) == []
    asset = turned_pieces()
    (one,) = asset.uv_sets
    uv = one.uv.copy()
    uv[:4, 0] = uv[:4, 0] * 0.4
    told = stretches(replace(asset, uv_sets=(replace(one, uv=frozen(uv)),)))
    assert [(variant, islands) for variant, islands, _ in told] == [("", 1)]


def test_two_islands_are_named_and_not_called_the_whole() -> None:
    pair = shapes.together(shapes.plane(part="a"), shapes.plane(part="b"))
    told = stretches(squeezed(pair, 0.25, 1.0))
    assert [(variant, islands) for variant, islands, _ in told] == [("", 2)]


def test_nothing_measurable_has_no_ratio() -> None:
    flat = shapes.asset([(0, 0, 0), (1, 0, 0), (0, 1, 0)], [(0, 1, 2)], [(0, 0)] * 3)
    (layout,) = build_layouts(flat)
    tile = Tile(64, 64)
    assert squeeze(layout, tile, measure_triangles(layout, tile)) is None
