"""Strips are told from other shapes, straightened at the price foretold, or left with reasons."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.shapes import Asset, asset, moved, plane, textured, together
from tests.trial import solids

from evenweave.errors import Cancelled
from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.stacks.stacks import find_stacks
from evenweave.trial.pack.pack import PackOptions
from evenweave.trial.straighten.straighten import (
    StraightenAdvice,
    StraightenVerdict,
    packing_gain,
    straighten,
)
from evenweave.trial.uvs.retexture import retextured
from evenweave.trial.work.worker import Worker

Points = NDArray[np.float64]
TILE = Tile(1024, 1024)
ANY, MUCH = 1.0, 40  # stretch that may be added; a crowd round a strip


def sheet(surface: Callable[..., tuple[Points, ...]], size: tuple[int, int]) -> Asset:
    return solids.grid(surface, size, closed=(False, False), texture=lambda p: p[:, :2] / 16 + 0.5)


def ribbon(degrees: float) -> Asset:
    """0.6 wide, bent at a radius of 3.3."""

    def surface(s: Points, t: Points) -> tuple[Points, ...]:
        angle, reach = np.radians(degrees) * s, 3.3 + 0.6 * (t - 0.5)
        return reach * np.cos(angle), reach * np.sin(angle), 0 * s

    return sheet(surface, (48, 4))


def frustum(top: float) -> Asset:
    def surface(s: Points, t: Points) -> tuple[Points, ...]:
        angle, reach = 6.2 * s, 0.5 + (top - 0.5) * t
        return reach * np.cos(angle), reach * np.sin(angle), t

    return sheet(surface, (48, 8))


def s_hose() -> Asset:
    """Two half rings, one bent left, one bent right."""

    def surface(s: Points, t: Points) -> tuple[Points, ...]:
        angle, first = 2 * np.pi * np.where(s < 0.5, s, s - 0.5), s < 0.5
        reach = np.where(first, 2 + 0.6 * (t - 0.5), 2 - 0.6 * (t - 0.5))
        # From (0, 0) over the top to (-4, 0); then below to (-8, 0), bent the other way.
        x = np.where(first, -2 + reach * np.cos(angle), -6 + reach * np.cos(angle))
        y = np.where(first, reach * np.sin(angle), -reach * np.sin(angle))
        return x, y, 0 * s

    return sheet(surface, (96, 6))


def triangles(one: Asset) -> Asset:
    quad = one.corner_position.reshape(-1, 4)
    faces = np.vstack([quad[:, [0, 1, 2]], quad[:, [0, 2, 3]]])
    return asset(one.position, faces.tolist(), one.uv_sets[0].uv)


def crowded(one: Asset) -> Layout:
    """Among other islands, so that the strip is not the longest thing by far."""
    return build_layouts(together(one, *others()))[0]


def others() -> list[Asset]:
    return [textured(plane(4, 4), lambda uv, k=k: uv / 4 + [k + 2, 0]) for k in range(MUCH)]


def crowd_of(one: Asset, count: int) -> Asset:
    return together(*(moved(one, np.eye(3), [0, 0, 9.0 * k]) for k in range(count)))


def advice(one: Asset, worker: Worker, most_added: float = ANY) -> StraightenAdvice | None:
    (found,) = straighten(crowded(one), TILE, [0], worker, most_added=most_added)
    return found


# A bend of width w and radius R cannot be straightened below a mean stretch of 1 + w / (4 R):
# lengths at the radius r are r da instead of R da. The hose bends at 2, the ribbons at 3.3.
@pytest.mark.parametrize(
    ("strip", "fill", "most_stretch"),
    [
        (ribbon(30), 0.792, 1.046),
        (ribbon(90), 0.413, 1.051),
        (ribbon(180), 0.240, 1.056),
        (frustum(0.4), 0.77, 1.06),
        (s_hose(), 0.288, 1.085),
    ],
    ids=["ribbon 30", "ribbon 90", "ribbon 180", "frustum", "hose"],
)
def test_strips_of_triangles_become_nearly_rectangles(
    strip: Asset, fill: float, most_stretch: float, worker: Worker
) -> None:
    found = advice(triangles(strip), worker)
    assert found is not None
    assert found.verdict is StraightenVerdict.STRAIGHTEN
    assert not found.strip.is_grid
    assert found.strip.fill_straight > 0.97
    assert 1 < found.strip.straight.mean_stretch < most_stretch
    assert found.strip.fill == pytest.approx(fill, abs=0.02)


@pytest.mark.parametrize("degrees", [30, 90, 180])
def test_a_ribbon_of_quads_becomes_a_clean_rectangle_at_the_price_in_closed_form(
    degrees: float, worker: Worker
) -> None:
    found = advice(ribbon(degrees), worker)
    assert found is not None
    assert found.strip.is_grid
    assert found.strip.fill_straight == pytest.approx(1)
    # Length along r is r da instead of R da: mean of max(t, 1/t) is 1 + w / (4 R).
    assert found.strip.straight.mean_stretch == pytest.approx(1 + 0.6 / (4 * 3.3), abs=0.01)
    assert found.added_stretch == pytest.approx(found.strip.straight.mean_stretch - 1, abs=1e-3)
    assert found.length_px / found.width_px == pytest.approx(
        np.radians(degrees) * 3.3 / 0.6, rel=0.02
    )


def test_rows_and_columns_run_along_whole_texels_from_the_lowest_corner(worker: Worker) -> None:
    one = ribbon(90)
    found = advice(one, worker)
    assert found is not None
    uv = found.change.uv * 1024
    assert len(np.unique(np.round(uv[:, 0], 4))) in (5, 49)
    assert len(np.unique(np.round(uv[:, 1], 4))) in (5, 49)
    np.testing.assert_allclose(uv.min(axis=0), np.round(uv.min(axis=0)), atol=1e-6)


def test_a_straight_island_keeps_density_and_handedness(worker: Worker) -> None:
    for mirror in (1.0, -1.0):
        one = textured(ribbon(90), lambda uv, m=mirror: uv * [m, 1.0] + 3.0)
        layout = crowded(one)
        (found,) = straighten(layout, TILE, [0], worker, most_added=ANY)
        assert found is not None
        before, after = _signed_area(layout), _signed_area(retextured(layout, found.change))
        assert after == pytest.approx(before, rel=0.01)


def _signed_area(layout: Layout) -> float:
    total = 0.0
    for k in np.flatnonzero(layout.face_island == 0):
        x, y = layout.uv[layout.corner_uv[layout.face_start[k] : layout.face_start[k + 1]]].T
        total += float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2
    return total


def test_tapers_are_named_and_not_urged(worker: Worker) -> None:
    found = advice(frustum(0.2), worker)
    assert found is not None
    assert found.verdict is StraightenVerdict.TAPER
    assert found.taper == pytest.approx(2.5, rel=0.01)
    assert found.words.startswith("taper, straightening costs ")


def test_what_costs_too_much_is_not_advised(worker: Worker) -> None:
    found = advice(triangles(s_hose()), worker, most_added=0.02)
    assert found is not None
    assert found.verdict is StraightenVerdict.COSTLY


def test_a_strip_longer_than_the_tile_has_room_for_is_left_bent(worker: Worker) -> None:
    layout = build_layouts(triangles(ribbon(180)))[0]
    (found,) = straighten(layout, TILE, [0], worker)
    assert found is not None
    assert found.verdict is StraightenVerdict.LONG


def disk() -> Asset:
    def surface(s: Points, t: Points) -> tuple[Points, ...]:
        return t * np.cos(2 * np.pi * s), t * np.sin(2 * np.pi * s), 0 * s

    return solids.grid(surface, (32, 6))


@pytest.mark.parametrize(
    "one", [disk(), solids.tube(), solids.sphere(), solids.mobius()],
    ids=["disk", "tube", "sphere", "one-sided"],
)  # fmt: skip
def test_what_is_no_strip_gets_no_advice(one: Asset, worker: Worker) -> None:
    layout = build_layouts(one)[0]
    assert list(straighten(layout, TILE, [0], worker)) == [None]


def test_a_straight_strip_is_straight_as_it_is(worker: Worker) -> None:
    found = advice(textured(plane(6, 1), lambda uv: uv * [0.6, 0.1] + 3), worker)
    assert found is None or found.verdict is StraightenVerdict.STRAIGHT


def test_the_gain_is_that_of_two_packings(worker: Worker) -> None:
    ribbons = [
        textured(triangles(ribbon(180)), lambda uv, k=k: uv + np.array([k, 0])) for k in range(8)
    ]
    others = [textured(plane(2, 2), lambda uv, k=k: uv / 4 + [k, 3]) for k in range(15)]
    layout = build_layouts(together(*ribbons, *others))[0]
    found = [
        one
        for one in straighten(layout, TILE, range(8), worker)
        if one is not None and one.verdict is StraightenVerdict.STRAIGHTEN
    ]
    assert len(found) == 8
    gain = packing_gain(
        layout, TILE, found, PackOptions(8.0, 4.0, seconds=20.0, passes=6),
        stacks=find_stacks(layout, TILE),
    )  # fmt: skip
    assert gain.coverage == gain.after.coverage - gain.before.coverage
    assert gain.coverage > 0.03
    assert min(gain.before.padding_px, gain.after.padding_px) >= 8


def test_looking_for_strips_can_be_cancelled(worker: Worker) -> None:
    def stop(share: float, doing: str) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        list(straighten(crowded(ribbon(30)), TILE, range(8), worker, progress=stop))


def test_a_strip_in_a_stack_is_left_alone_and_that_is_said(worker: Worker) -> None:
    """Two ribbons that share their texels; without the stack each would be straightened."""
    layout = build_layouts(together(crowd_of(ribbon(90), 2), *others()))[0]
    stacks = find_stacks(layout, TILE)
    assert (0, 1) in stacks.group
    alone = list(straighten(layout, TILE, (0, 1), worker, most_added=ANY))
    stacked = list(straighten(layout, TILE, (0, 1), worker, stacks=stacks, most_added=ANY))
    assert [one.verdict for one in alone if one] == [StraightenVerdict.STRAIGHTEN] * 2
    assert [one.verdict for one in stacked if one] == [StraightenVerdict.STACKED] * 2
    assert "stack" in next(one for one in stacked if one).words


def test_less_than_no_stretch_is_told_as_none(worker: Worker) -> None:
    found = advice(ribbon(90), worker)
    assert found is not None
    assert "costs 0 % stretch" in replace(found, added_stretch=-0.004).words
