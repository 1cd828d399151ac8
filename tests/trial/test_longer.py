"""Looking longer never gives less than the first packing, and cancelling keeps the best."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.trial.layouts import TILE, box, ell, layout, ring, rooms
from tests.trial.test_pack import mixed

from evenweave.errors import Cancelled
from evenweave.layout.layout import Layout
from evenweave.measure.stacks.stacks import find_stacks
from evenweave.trial.nest.blocks import blocks
from evenweave.trial.nest.outline import MOST_CORNERS, block_outline
from evenweave.trial.pack.longer import pack_longer
from evenweave.trial.pack.pack import Packing, PackOptions
from evenweave.trial.uvs.retexture import retextured
from evenweave.trial.work.worker import NoAdvice, Worker


def looked(one: Layout, worker: Worker, **options: object) -> tuple[Packing, list[Packing]]:
    asked = {"padding_px": 8.0, "margin_px": 4.0, "seconds": 2.0, **options}
    told: list[Packing] = []
    best = pack_longer(
        one, TILE, PackOptions(**asked), stacks=find_stacks(one, TILE),  # type: ignore[arg-type]
        worker=worker, hear=told.append,
    )  # fmt: skip
    return best, told


@pytest.mark.parametrize(
    "options", [{"turns": "free"}, {"turns": "quarter", "on_texel_grid": True, "margin_px": 6.0}]
)
def test_what_is_found_keeps_padding_and_margin(worker: Worker, options: dict[str, object]) -> None:
    one = mixed(12)
    best, told = looked(one, worker, **options)
    assert told[-1] is best
    scales = [packing.scale for packing in told]
    assert scales == sorted(scales)
    padding, margin, overlap = rooms(retextured(one, best.change))
    assert overlap == 0
    assert padding >= 8 - 0.01
    assert margin >= float(str(options.get("margin_px", 4.0))) - 0.01
    assert best.coverage <= best.bound


def test_the_strip_solver_finds_what_the_grid_does_not(worker: Worker) -> None:
    """Half disks interlock at turns that the grid does not try."""
    t = np.linspace(0, np.pi, 16)
    half = np.stack([np.cos(t), np.sin(t)], axis=1) * 0.2
    one = layout([half + np.array([k, 0]) for k in range(11)])
    best, told = looked(one, worker, turns="free", seconds=4.0)
    grid = max(packing.scale for packing in told if _is_by_quarters(one, packing))
    assert best.scale > grid


def _is_by_quarters(one: Layout, packing: Packing) -> bool:
    after = retextured(one, packing.change)
    edge = after.uv[after.corner_uv[15::16]] - after.uv[after.corner_uv[0::16]]
    return bool((np.abs(edge).min(axis=1) < 1e-5).all())


def test_cancelling_keeps_the_best(worker: Worker) -> None:
    told: list[Packing] = []

    def stop(share: float, doing: str) -> None:
        if told:
            raise Cancelled

    one = mixed(30)
    best = pack_longer(
        one, TILE, PackOptions(8.0, 4.0, seconds=30.0), stacks=find_stacks(one, TILE),
        worker=worker, progress=stop, hear=told.append,
    )  # fmt: skip
    assert best is told[-1]


def test_cancelling_before_there_is_a_packing_is_cancelled(worker: Worker) -> None:
    def stop(share: float, doing: str) -> None:
        raise Cancelled

    one = mixed(90)
    with pytest.raises(Cancelled):
        pack_longer(
            one, TILE, PackOptions(8.0, 4.0), stacks=find_stacks(one, TILE), worker=worker,
            progress=stop,
        )  # fmt: skip


def test_pinned_islands_and_several_tiles_are_left_to_the_grid(worker: Worker) -> None:
    one = layout([box(0.4, 0.4, (0.3, 0.3)), *[ell(0.2, 0.1, (2 + k, 0)) for k in range(5)]])
    best, _ = looked(one, worker, pinned=(0,), tiles=((0, 0), (1, 0)), seconds=1.0)
    after = retextured(one, best.change)
    np.testing.assert_array_equal(after.uv[after.corner_uv[:4]], one.uv[one.corner_uv[:4]])
    assert rooms(after)[0] >= 8


def test_no_room_is_said(worker: Worker) -> None:
    with pytest.raises(NoAdvice, match="margin leaves no room"):
        looked(layout([box(0.1, 0.1)]), worker, margin_px=600.0)


def test_an_outline_with_few_corners_holds_a_jagged_block() -> None:
    t = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    jagged = np.stack([np.cos(t), np.sin(t)], axis=1) * (0.2 + 0.001 * np.sin(60 * t))[:, None]
    (block,) = _blocks(layout([jagged]))
    outline = shapely.Polygon(block_outline(block))
    assert outline.is_valid
    assert len(outline.exterior.coords) <= MOST_CORNERS + 1
    assert outline.covers(
        shapely.multilinestrings(shapely.linestrings(block.line_px.reshape(-1, 2, 2)))
    )
    assert outline.area < 1.1 * block.area_px


@settings(deadline=None, max_examples=30, derandomize=True)
@given(st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1)), min_size=3, max_size=8))
def test_any_block_lies_within_its_outline(corners: list[tuple[float, float]]) -> None:
    """Crossing and collapsed polygons too."""
    (block,) = _blocks(layout([np.array(corners)]))
    outline = shapely.Polygon(block_outline(block))
    assert outline.is_valid
    lines = shapely.multilinestrings(shapely.linestrings(block.line_px.reshape(-1, 2, 2)))
    assert outline.buffer(0.01).covers(lines)


def test_the_outline_of_a_ring_has_no_hole() -> None:
    t = np.linspace(0, 2 * np.pi, 40)
    circle = np.stack([np.cos(t), np.sin(t)], axis=1)
    (block,) = _blocks(layout([np.vstack([0.4 * circle, 0.3 * circle[::-1]])]))
    assert shapely.Polygon(block_outline(block)).area == pytest.approx(
        np.pi * (0.4 * 1024) ** 2, rel=0.02
    )
    assert len(_blocks(layout([ring(0.1)]))) == 1


def _blocks(one: Layout) -> tuple:  # type: ignore[type-arg]
    return blocks(one, TILE, find_stacks(one, TILE))
