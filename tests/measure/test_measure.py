"""Everything measured at once: complete, cancellable, the same however often it runs."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np
import pytest
from tests import shapes

from evenweave.errors import Cancelled
from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Tile
from evenweave.measure.islands.shape import measure_shape
from evenweave.measure.measure import measure
from evenweave.measure.space.coverage import measure_coverage
from evenweave.measure.space.gaps import measure_gaps
from evenweave.measure.space.mips import measure_mips
from evenweave.mesh.asset import Asset

pytestmark = pytest.mark.kernels

TILE = Tile(512, 256)


def busy_asset() -> Asset:
    """Sheets side by side, a stack of two, and an overlap."""
    strip = shapes.plane(2, 1, columns=4, bounds=(0.55, 0.02, 0.6, 0.04), part="stacked")
    over = shapes.plane(1, 1, bounds=(0.02, 0.02, 0.2, 0.2), part="over")
    return shapes.together(
        shapes.textured(shapes.tori(9), lambda uv: uv * 0.5),
        shapes.moved(strip, np.eye(3), (9, 0, 0)),
        shapes.moved(strip, np.eye(3), (9, 9, 0)),
        shapes.moved(over, np.eye(3), (0, 9, 0)),
    )


def assert_same(one: Any, other: Any) -> None:
    assert type(one) is type(other)
    if is_dataclass(one):
        for field in fields(one):
            assert_same(getattr(one, field.name), getattr(other, field.name))
    elif isinstance(one, tuple):
        assert len(one) == len(other)
        for a, b in zip(one, other, strict=True):
            assert_same(a, b)
    else:
        np.testing.assert_array_equal(one, other)


def assert_read_only(result: Any) -> None:
    if is_dataclass(result):
        for field in fields(result):
            assert_read_only(getattr(result, field.name))
    elif isinstance(result, np.ndarray):
        assert not result.flags.writeable


def test_all_parts_are_there_and_are_what_each_gives_alone() -> None:
    asset = busy_asset()
    layout = build_layouts(asset)[0]
    found = measure(layout, asset, TILE)
    assert found.tile == TILE
    assert found.stacks.group == ((9, 10),)
    given = {"stacks": found.stacks, "overlap": found.overlap}
    assert_same(found.gaps, measure_gaps(layout, TILE, **given))
    assert_same(found.mips, measure_mips(layout, TILE, **given))
    assert_same(found.coverage, measure_coverage(layout, TILE))
    assert_same(found.shape, measure_shape(layout, TILE))
    assert len(found.island.faces) == layout.island_count == 12
    assert (found.gaps.padding_px[[0, 11]] == 0.0).all()


def test_measuring_twice_gives_the_same_to_the_last_bit() -> None:
    asset = busy_asset()
    layout = build_layouts(asset)[0]
    assert_same(measure(layout, asset, TILE), measure(layout, asset, TILE))


def test_results_are_read_only() -> None:
    asset = busy_asset()
    assert_read_only(measure(build_layouts(asset)[0], asset, TILE))


def test_a_layout_without_faces_has_empty_tables() -> None:
    asset = replace(shapes.plane(), uv_sets=())
    layout = build_layouts(asset)[0]
    found = measure(layout, asset, TILE)
    assert len(found.triangle.s1) == 0
    assert len(found.gaps.padding_px) == len(found.mips.safe_mip) == len(found.shape.bow) == 0
    assert found.coverage.total == 0.0
    assert found.overlap.area_px == 0.0


def test_progress_rises_to_one_and_says_what_is_done() -> None:
    asset = busy_asset()
    told: list[tuple[float, str]] = []
    measure(build_layouts(asset)[0], asset, TILE, lambda share, what: told.append((share, what)))
    shares = [share for share, _ in told]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert all(what for _, what in told)


def test_progress_can_cancel() -> None:
    asset = busy_asset()

    def cancel(share: float, doing: str) -> None:
        if share > 0.3:
            raise Cancelled

    with pytest.raises(Cancelled):
        measure(build_layouts(asset)[0], asset, TILE, cancel)


@pytest.mark.parametrize("seed", [1, 2])
def test_the_order_of_faces_does_not_matter(seed: int) -> None:
    asset = busy_asset()
    layout = build_layouts(asset)[0]
    shuffled, old_face = shapes.shuffled(asset, seed)
    other = build_layouts(shuffled)[0]
    here, there = measure(layout, asset, TILE), measure(other, shuffled, TILE)
    island = np.empty(layout.island_count, dtype=int)
    island[other.face_island] = layout.face_island[old_face[other.asset_face]]
    for one, two in (
        (here.gaps.padding_px, there.gaps.padding_px),
        (here.gaps.margin_px, there.gaps.margin_px),
        (here.mips.safe_mip, there.mips.safe_mip),
        (here.shape.short_side_px, there.shape.short_side_px),
        (here.shape.grid_angle_degrees, there.shape.grid_angle_degrees),
    ):
        np.testing.assert_allclose(two, one[island], rtol=1e-9, atol=1e-9)
    assert there.coverage.total == here.coverage.total
