"""Packing keeps shapes, padding and margin, whatever is asked of it; what is told was placed."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.trial.layouts import TILE, Corners, box, ell, layout, polygons, ring, rooms

from evenweave.errors import Cancelled
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.stacks.stacks import find_stacks
from evenweave.trial.nest.blocks import blocks, turn_matrix
from evenweave.trial.nest.kernels import find_place, runs, stamp, take
from evenweave.trial.pack.bound import fit_at_any_turn, fit_at_turns, largest_scale
from evenweave.trial.pack.pack import Packing, PackOptions, pack
from evenweave.trial.uvs.retexture import retextured
from evenweave.trial.work.worker import NoAdvice


def packed(one: Layout, tile: Tile = TILE, **options: object) -> tuple[Packing, Layout]:
    asked = {"padding_px": 8.0, "margin_px": 4.0, "seconds": 20.0, "passes": 6, **options}
    found = pack(one, tile, PackOptions(**asked), stacks=find_stacks(one, tile))  # type: ignore[arg-type]
    return found, retextured(one, found.change)


def mixed(count: int = 24, seed: int = 0) -> Layout:
    random = np.random.default_rng(seed)
    found = []
    for k in range(count):
        size = float(np.exp(random.normal(-2.0, 0.5)))
        at = (k % 6 + 0.2, k // 6 + 0.3)
        kinds = (box(size, size * 2, at), ring(size / 2, at=at), ell(size, size / 3, at))
        angle = float(random.uniform(0, 360))
        found.append((kinds[k % 3] - at) @ turn_matrix(angle) + at)
    return layout(found)


@pytest.fixture(scope="module")
def mixture() -> tuple[Layout, Packing, Layout]:
    one = mixed()
    found, after = packed(one)
    return one, found, after


def test_padding_margin_and_coverage_are_what_is_told(
    mixture: tuple[Layout, Packing, Layout],
) -> None:
    _, found, after = mixture
    padding, margin, overlap = rooms(after)
    assert overlap == 0
    assert found.padding_px == padding >= 8.0
    assert found.margin_px == margin >= 4.0
    # shapely as reference
    shapes = [shapely.Polygon(one * 1024) for one in polygons(after)]
    tree = shapely.STRtree(shapes)
    near, gap = tree.query_nearest(shapes, exclusive=True, return_distance=True)
    assert gap.min() == pytest.approx(padding, abs=1e-3)
    assert near.shape[1] >= len(shapes)
    assert found.coverage == pytest.approx(sum(s.area for s in shapes) / 1024**2, abs=2e-3)
    assert 0.55 < found.coverage < found.bound < 1


def test_islands_keep_their_shapes_at_one_common_scale(
    mixture: tuple[Layout, Packing, Layout],
) -> None:
    one, found, after = mixture
    for old, new in zip(polygons(one), polygons(after), strict=True):
        a, b = old - old.mean(axis=0), new - new.mean(axis=0)
        turn = np.linalg.lstsq(a, b, rcond=None)[0]
        np.testing.assert_allclose(a @ turn, b, atol=2**-22)
        assert np.linalg.det(turn) == pytest.approx(found.scale**2, rel=1e-3)
        assert np.abs(turn / found.scale).max() == pytest.approx(1, abs=1e-3)


def test_the_same_packing_comes_again(mixture: tuple[Layout, Packing, Layout]) -> None:
    one, found, _ = mixture
    np.testing.assert_array_equal(packed(one)[0].change.uv, found.change.uv)


def test_without_turns_islands_only_move() -> None:
    one = mixed(9)
    found, after = packed(one, turns="none")
    for old, new in zip(polygons(one), polygons(after), strict=True):
        shift = new - old * found.scale
        np.testing.assert_allclose(shift, shift[:1].repeat(len(shift), axis=0), atol=2**-20)
    assert rooms(after)[0] >= 8


def test_free_turns_lay_tilted_boxes_straight_and_pack_better() -> None:
    tilted = [box(0.3, 0.1) @ turn_matrix(17.0 + 13 * k) + [2 * k, 0] for k in range(8)]
    one = layout(tilted)
    free, after = packed(one, turns="free")
    for polygon in polygons(after):
        edge = np.abs(np.diff(polygon, axis=0))
        assert (edge.min(axis=1) < 1e-6).all()
    assert free.coverage > packed(one, turns="none")[0].coverage + 0.1


def test_on_the_texel_grid_boxes_start_on_whole_texels_and_lie_along_it() -> None:
    tilted = [box(0.3, 0.1) @ turn_matrix(5.0 * k) + [2 * k, 0] for k in range(6)]
    _, after = packed(layout(tilted), on_texel_grid=True, margin_px=4.5)
    for polygon in polygons(after):
        low = polygon.min(axis=0) * 1024
        np.testing.assert_allclose(low, np.round(low), atol=1e-3)
        assert (np.abs(np.diff(polygon, axis=0)).min(axis=1) < 1e-6).all()
    padding, margin, _ = rooms(after)
    assert padding >= 8 - 1e-3
    assert margin >= 4.5


def test_stacks_stay_stacks() -> None:
    one = layout([box(0.2, 0.1), box(0.2, 0.1), ell(0.3, 0.1, (1, 1)), ring(0.1, at=(3, 3))])
    _, after = packed(one)
    assert find_stacks(after, TILE).group == ((0, 1),)
    assert rooms(after)[0] >= 8


def test_pinned_islands_stay_and_nothing_grows() -> None:
    one = layout([box(0.5, 0.5, (0.25, 0.25)), *[box(0.1, 0.1, (2 + k, 0)) for k in range(6)]])
    found, after = packed(one, pinned=(0,))
    np.testing.assert_array_equal(polygons(after)[0], polygons(one)[0])
    assert found.scale == pytest.approx(1.0)
    padding, margin, overlap = rooms(after)
    assert (padding >= 8, margin >= 4, overlap) == (True, True, 0)


def test_islands_round_a_pinned_one_shrink_only_as_far_as_they_must() -> None:
    one = layout([box(0.9, 0.8, (0.05, 0.05)), box(0.9, 0.2, (2, 0))])
    found, after = packed(one, pinned=(0,), turns="none", passes=40)
    # 0.15 of the tile is left above, less 8 texels below and 4 above it.
    assert found.scale == pytest.approx((0.15 - 12 / 1024) / 0.2, rel=0.02)
    assert rooms(after)[0] >= 8


def test_holes_are_used() -> None:
    t = np.linspace(0, 2 * np.pi, 40)
    circle = np.stack([np.cos(t), np.sin(t)], axis=1)
    frame = np.vstack([0.5 * circle, 0.42 * circle[::-1]]) + 0.5
    found, after = packed(layout([frame, *[ring(0.2, at=(2 + k, 0)) for k in range(2)]]))
    outer = shapely.Polygon(polygons(after)[0][:40])
    assert all(outer.contains(shapely.Polygon(one)) for one in polygons(after)[1:])
    assert found.scale > 0.9


def test_several_tiles_are_used_and_none_is_crossed() -> None:
    one = layout([box(0.3, 0.3, (2 * k, 0)) for k in range(18)])
    found, after = packed(one, tiles=((0, 0), (1, 0)))
    homes = set()
    for polygon in polygons(after):
        low, high = np.floor(polygon.min(axis=0)), np.floor(polygon.max(axis=0))
        np.testing.assert_array_equal(low, high)
        homes.add(tuple(low.tolist()))
    assert homes == {(0.0, 0.0), (1.0, 0.0)}
    # Nine squares a tile, three in a row.
    side = (1024 - 2 * 4 - 2 * 8) / 3 / 1024
    assert found.scale * 0.3 == pytest.approx(side, rel=0.01)
    assert found.coverage == pytest.approx(9 * side**2, rel=0.02)


def test_more_important_islands_are_placed_first() -> None:
    one = layout([box(0.2, 0.2, (2 * k, 0)) for k in range(9)])
    _, after = packed(one, importance=(1.0,) * 8 + (5.0,), passes=0)
    first = polygons(after)[8]
    np.testing.assert_allclose(first.min(axis=0) * 1024, [4, 4], atol=1e-3)


def test_a_tile_need_not_be_square() -> None:
    wide = Tile(1024, 256)
    one = layout([box(0.05, 0.2, (k, 0)) for k in range(12)])
    found, after = packed(one, wide)
    padding, margin, overlap = rooms(after, wide)
    assert (padding >= 8, margin >= 4, overlap) == (True, True, 0)
    for old, new in zip(polygons(one), polygons(after), strict=True):
        size = np.sort(np.ptp(old * [1024, 256], axis=0)) * found.scale
        np.testing.assert_allclose(np.sort(np.ptp(new * [1024, 256], axis=0)), size, rtol=1e-4)


def test_one_island_fills_its_room() -> None:
    found, after = packed(layout([box(3.0, 0.5)]), passes=60)
    assert found.padding_px == np.inf
    assert np.ptp(polygons(after)[0], axis=0).max() * 1024 == pytest.approx(1016, rel=2e-3)
    assert found.coverage == pytest.approx(found.bound, rel=5e-3)


def test_a_largest_scale_is_kept() -> None:
    found, _ = packed(layout([box(0.1, 0.1), box(0.1, 0.1, (1, 0))]), most_scale=1.5, passes=60)
    assert found.scale == pytest.approx(1.5)


@settings(deadline=None, max_examples=15, derandomize=True)
@given(
    st.lists(
        st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1)), min_size=3, max_size=7),
        min_size=1,
        max_size=8,
    ),
    st.sampled_from(["none", "quarter", "free"]),
    st.booleans(),
)
def test_any_polygons_are_kept_apart(
    shapes: list[list[tuple[float, float]]], turns: str, on_grid: bool
) -> None:
    """Crossing, collapsed and needle polygons too."""
    corners: list[Corners] = [np.array(one) + np.array([3 * k, 0]) for k, one in enumerate(shapes)]
    one = layout(corners)
    found, after = packed(one, turns=turns, on_texel_grid=on_grid, passes=2, most_scale=4.0)
    padding, margin, _ = rooms(after)
    assert min(padding, 64) >= 8 - 1e-3
    assert margin >= 4 - 1e-3
    assert found.coverage <= found.bound + 5e-3


def test_thousands_of_tiny_islands_are_packed() -> None:
    one = layout([box(0.004, 0.006, (k % 50 / 40, k // 50 / 40)) for k in range(2000)])
    found, after = packed(one, padding_px=4.0, seconds=0.5)
    padding, margin, overlap = rooms(after)
    assert (padding >= 4, margin >= 4, overlap) == (True, True, 0)
    assert found.coverage > 0.1


def test_an_island_much_larger_than_the_tile_sets_the_scale() -> None:
    found, after = packed(layout([box(40.0, 1.0), box(0.5, 0.5, (0, 5))]), passes=40)
    assert np.ptp(polygons(after)[0], axis=0).max() * 1024 == pytest.approx(1016, rel=5e-3)
    assert found.bound == pytest.approx(40.25 * (1016 / 1024 / 40) ** 2, rel=1e-3)


def test_no_room_is_said() -> None:
    one = layout([box(0.01, 0.01, (k, 0)) for k in range(400)])
    with pytest.raises(NoAdvice, match="padding alone"):
        packed(one, padding_px=64.0)
    with pytest.raises(NoAdvice, match="margin leaves no room"):
        packed(one, margin_px=600.0)
    with pytest.raises(NoAdvice, match="no islands to move"):
        packed(layout([box(0.1, 0.1)]), pinned=(0,))
    full = layout([box(1.0, 1.0), box(0.5, 0.5, (3, 3))])
    with pytest.raises(NoAdvice, match="not enough room"):
        packed(full, pinned=(0,))


def test_packing_can_be_cancelled() -> None:
    def stop(share: float, doing: str) -> None:
        raise Cancelled

    one = mixed(60)
    with pytest.raises(Cancelled):
        pack(
            one,
            TILE,
            PackOptions(8.0, 4.0, passes=1000),
            stacks=find_stacks(one, TILE),
            progress=stop,
        )


def test_better_packings_are_told_as_they_come() -> None:
    one = mixed()
    told: list[float] = []
    options = PackOptions(8.0, 4.0, seconds=20.0, passes=25)
    last = pack(
        one, TILE, options, stacks=find_stacks(one, TILE), hear=lambda p: told.append(p.scale)
    )
    assert told == sorted(told)
    assert told[-1] == last.scale


def test_the_bound_is_that_of_grown_areas() -> None:
    """shapely's buffer as reference: at the bound's scale the grown shapes fill the room."""
    one = mixed()
    every = blocks(one, TILE, find_stacks(one, TILE))
    scale = largest_scale(every, room_px=(1016.0, 1016.0), tiles=1, padding_px=8.0)
    grown = sum(
        shapely.Polygon(p * 1024 * scale).buffer(4.0, quad_segs=64).area for p in polygons(one)
    )
    assert grown == pytest.approx(1024**2, rel=2e-3)


def test_a_bar_that_may_lie_at_any_turn_may_become_as_long_as_the_diagonal() -> None:
    (bar,) = blocks(one := layout([box(0.5, 0.01)]), TILE, find_stacks(one, TILE))
    room = (1000.0, 1000.0)
    assert fit_at_turns([bar.turned(0.0)], room) == pytest.approx(1000 / 512)
    chord = 1024 * np.hypot(0.5, 0.01)
    assert fit_at_any_turn(bar, room) == pytest.approx(1000 * np.sqrt(2) / chord)
    (disk,) = blocks(one := layout([ring(0.2)]), TILE, find_stacks(one, TILE))
    assert fit_at_any_turn(disk, room) == pytest.approx(1000 / (0.4 * 1024), rel=0.02)


def test_the_bound_counts_what_stays() -> None:
    one = layout([box(0.5, 0.5, (0.25, 0.25)), *[box(0.1, 0.1, (2 + k, 0)) for k in range(6)]])
    found, _ = packed(one, pinned=(0,))
    assert found.coverage == pytest.approx(0.31, abs=1e-3)
    assert found.bound == pytest.approx(0.31)


@pytest.mark.kernels
@settings(deadline=None, max_examples=40, derandomize=True)
@given(
    st.lists(st.tuples(st.floats(0, 12), st.floats(0, 9)), min_size=3, max_size=6),
    st.floats(0, 3),
)
def test_a_stamp_is_the_cells_within_reach(
    corners: list[tuple[float, float]], radius: float
) -> None:
    """shapely's distance to every cell as reference."""
    ring_xy = np.array(corners)
    line = np.hstack([ring_xy, np.roll(ring_xy, -1, axis=0)])
    weight = np.ones(len(line), np.int32)
    mask = stamp(line, line, weight, radius, (4.0, 4.0), (18, 21))
    path = shapely.LinearRing(ring_xy + 4)
    rows, columns = np.indices(mask.shape)
    cell = shapely.box(columns, rows, columns + 1, rows + 1)
    gap = shapely.distance(cell, path)
    inside = _winding(ring_xy + 4, columns + 0.5, rows + 0.5) != 0
    is_sure = np.abs(gap - radius) > 1e-6
    wanted = (gap <= radius) | inside
    np.testing.assert_array_equal(mask[is_sure] == 1, wanted[is_sure])


def _winding(ring_xy: Corners, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    total = np.zeros(x.shape)
    for a, b in zip(ring_xy, np.roll(ring_xy, -1, axis=0), strict=True):
        ax, ay, bx, by = a[0] - x, a[1] - y, b[0] - x, b[1] - y
        total += np.arctan2(ax * by - ay * bx, ax * bx + ay * by)
    return np.rint(total / (2 * np.pi))


@pytest.mark.kernels
@settings(deadline=None, max_examples=40, derandomize=True)
@given(st.integers(0, 10_000), st.floats(0, 1))
def test_a_place_is_the_best_free_one(seed: int, fullness: float) -> None:
    """Trying every place as reference."""
    random = np.random.default_rng(seed)
    wide, high = 150, 20
    tile = (random.random((high, wide)) < 0.15 * fullness).astype(np.uint8)
    mask = (random.random((random.integers(1, 6), random.integers(1, 90))) < 0.8).astype(np.uint8)
    mask[0, 0] = 1
    levels = np.zeros((7, high, (wide + 63) // 64 + 2), np.uint64)
    take(levels, tile, 0, 0)
    lean, height = float(random.choice([0.1, 0.3, 1.0])), float(random.integers(0, 12))
    rows, columns = mask.shape
    best = np.array([np.inf, np.inf, -1.0, -1.0])
    size, room = (float(columns), float(rows)), (float(wide), float(high))
    is_better, lowest = find_place(levels, runs(mask), size, room, lean, height, 0, best)
    free = [
        (max(height, y + rows), lean * x + y, x, y)
        for y in range(high - rows + 1)
        for x in range(wide - columns + 1)
        if not (tile[y : y + rows, x : x + columns] & mask).any()
    ]
    assert is_better == bool(free)
    if free:
        assert tuple(best) == pytest.approx(min(free)[:4])
        assert lowest <= min(y for *_, y in free)
