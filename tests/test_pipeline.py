"""The pipeline: an asset under limits becomes a review, and is judged again cheaply."""

from dataclasses import replace

import numpy as np
import pytest
from tests import shapes

from evenweave.check.finding import Severity
from evenweave.errors import Cancelled
from evenweave.limits.limits import DEFAULT, Importance, Limits
from evenweave.mesh.asset import Asset, Unit
from evenweave.pipeline import Grouping, Review, rejudge, review

LOOSE = Limits(padding_px=0.0, margin_px=0.0, severities=(("margin", "off"),))


@pytest.fixture(scope="module")
def pieces() -> Asset:
    return shapes.cube_pieces()


@pytest.fixture(scope="module")
def judged(pieces: Asset) -> Review:
    return review(pieces, DEFAULT)


def test_a_review_holds_one_judged_layout_a_material(judged: Review) -> None:
    (one,) = judged.layouts
    assert one.layout.island_count == 6
    assert one.purpose == "unique"
    assert one.target_is == "median"
    assert one.target_density == one.measures.whole.density_median
    assert one.island_density_octaves == pytest.approx(np.zeros(6), abs=1e-6)


def test_warnings_come_gravest_first(judged: Review) -> None:
    severities = [finding.severity for one in judged.layouts for finding in one.findings]
    assert severities == sorted(severities, reverse=True)


def test_judging_again_keeps_layouts_and_measures_where_the_tile_stays(judged: Review) -> None:
    again = rejudge(judged, Limits(target_density=64.0))
    assert again.layouts[0].measures is judged.layouts[0].measures
    assert again.layouts[0].target_density == 64.0
    assert again.layouts[0].target_is == "given"
    assert {w.check for w in again.layouts[0].findings} >= {"density"}
    assert again.limits.target_density == 64.0


def test_judging_again_at_another_tile_measures_anew(judged: Review) -> None:
    again = rejudge(judged, Limits(tile_width=1024, tile_height=1024))
    assert again.layouts[0].layout is judged.layouts[0].layout
    assert again.layouts[0].measures.tile.width == 1024
    assert again.layouts[0].target_density == pytest.approx(judged.layouts[0].target_density / 2)


@pytest.mark.parametrize(
    "limits",
    [
        Limits(target_density=512.0, importance=(Importance("part", "*", 2.0),)),
        Limits(tile_width=512, purposes=(("*", "tiling"),)),
        Limits(stretch_p95=1.0, coverage=1.0, padding_px=64.0, mip_level=9),
    ],
)
def test_judging_again_says_the_same_as_reviewing_afresh(
    pieces: Asset, judged: Review, limits: Limits
) -> None:
    again, fresh = rejudge(judged, limits), review(pieces, limits)
    for a, b in zip(again.layouts, fresh.layouts, strict=True):
        assert [w.what for w in a.findings] == [w.what for w in b.findings]
        assert a.island_importance.tolist() == b.island_importance.tolist()


def test_what_is_switched_off_is_not_found(pieces: Asset) -> None:
    everything_off = Limits(
        severities=tuple((w.check, "off") for w in review(pieces, LOOSE).layouts[0].findings)
        + LOOSE.severities
    )
    assert not any(one.findings for one in review(pieces, everything_off).layouts)


def two_materials() -> Asset:
    """Two planes side by side, of materials "a" and "b"."""
    one = shapes.with_material(shapes.plane(1, 1), "a")
    other = shapes.moved(shapes.with_material(shapes.plane(1, 1), "b"), np.eye(3), (0, 0, 1))
    return shapes.together(one, other)


def test_merged_materials_share_one_layout() -> None:
    two = two_materials()
    assert len(review(two, DEFAULT).layouts) == 2
    (one,) = review(two, DEFAULT, Grouping(merged=(("a", "b"),))).layouts
    assert one.layout.materials == ("a", "b")


def test_importance_by_material_reaches_every_island_of_it() -> None:
    two = two_materials()
    limits = Limits(importance=(Importance("material", "b", 3.0),))
    (one,) = review(two, limits, Grouping(merged=(("a", "b"),))).layouts
    assert sorted(one.island_importance.tolist()) == [1.0, 3.0]


def test_an_object_without_uvs_is_one_fault_and_nothing_else() -> None:
    bare = replace(shapes.cube(), uv_sets=())
    (one,) = review(bare, DEFAULT).layouts
    (finding,) = one.findings
    assert (finding.check, finding.severity) == ("no-uvs", Severity.FAULT)
    assert finding.value == bare.face_count


def test_a_single_island_has_room_all_round_and_stacks_with_nobody() -> None:
    half = shapes.textured(shapes.plane(1, 1), lambda uv: 0.25 + 0.5 * uv)
    (one,) = review(half, DEFAULT).layouts
    assert one.measures.gaps.padding_px.tolist() == [np.inf]
    assert one.measures.stacks.group == ()
    assert [w.check for w in one.findings] == ["coverage"]


def test_the_unit_sets_the_density(pieces: Asset) -> None:
    in_cm = review(replace(pieces, unit=Unit(0.01, is_stated=True)), DEFAULT)
    assert in_cm.layouts[0].target_density == pytest.approx(
        100 * review(pieces, DEFAULT).layouts[0].target_density
    )


def test_progress_rises_to_the_end_and_can_cancel(pieces: Asset) -> None:
    shares: list[float] = []
    review(pieces, DEFAULT, progress=lambda share, _: shares.append(share))
    assert shares == sorted(shares)
    assert shares[-1] == 1.0

    def stop(share: float, doing: str) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        review(pieces, DEFAULT, progress=stop)
