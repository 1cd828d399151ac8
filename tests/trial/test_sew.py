"""Where to sew: boxes, staves and stragglers that belong together, and what must stay apart."""

from dataclasses import replace

import numpy as np
import pytest
from tests.shapes import asset, cube_pieces, patch, plane

from evenweave.check.numbers import number
from evenweave.layout.build import build_layouts
from evenweave.limits.limits import Limits
from evenweave.mesh.asset import Asset, UvSet
from evenweave.pipeline import LayoutReview, review
from evenweave.trial.advice.text import explain_sew
from evenweave.trial.sew.chains import point_defects, sewable_runs
from evenweave.trial.sew.sew import SewProposal, apply_sew, propose_sews
from evenweave.trial.work.worker import TooLate, Worker


def judged(one: Asset) -> LayoutReview:
    return review(one, Limits()).layouts[0]


def proposals(one: Asset, worker: Worker) -> tuple[SewProposal, ...]:
    layout = judged(one)
    return propose_sews(layout.layout, layout.measures, worker)


def split_sheet(scale: float = 1.0, at: float = 0.5) -> Asset:
    """A sheet of 2 m x 1 m whose texture is torn in two at a share of its width."""
    columns = 20
    one = plane(2.0, 1.0, columns=columns, rows=4)
    uv = np.repeat(one.uv_sets[0].uv[one.uv_sets[0].corner_uv][:, None], 1, axis=1).reshape(-1, 2)
    uv = uv * [0.4, 0.2]
    middle = one.position[one.corner_position, 0].reshape(-1, 4).mean(axis=1)
    is_right = np.repeat(middle > 2 * at, 4)
    uv[is_right] = uv[is_right] * scale + [0.0, 0.5]
    faces = one.corner_position.reshape(-1, 4).tolist()
    return asset(one.position, faces, uv, uv_faces=np.arange(len(uv)).reshape(-1, 4))


def test_halves_of_a_sheet_are_sewn_along_all_of_their_edge(worker: Worker) -> None:
    (found,) = proposals(split_sheet(), worker)
    assert found.length_m == pytest.approx(1.0)
    assert len(found.seam) == 4
    assert found.energy.value == pytest.approx(1.0, abs=1e-6)
    assert found.added == pytest.approx(0.0, abs=1e-6)
    assert found.fill == pytest.approx(1.0, abs=1e-3)
    assert found.step_octaves == pytest.approx(0.0, abs=1e-6)
    assert "sewn together they have no more stretch than apart" in told(found)
    cheap = replace(found, added=0.0004)
    assert "they have hardly more stretch than apart" in told(cheap)
    costly = replace(found, added=0.0123, energy=replace(found.energy, value=1.0123))
    assert "they have a stretch energy of 1.012, 0.012 more than apart" in told(costly)


def told(found: SewProposal) -> str:
    return explain_sew(found, ("left", "right")).what


@pytest.mark.parametrize("scale", [0.5, 2.0])
def test_a_difference_in_density_is_told_and_scaled_away(scale: float, worker: Worker) -> None:
    one = split_sheet(scale, at=0.6)
    layout = judged(one)
    (found,) = propose_sews(layout.layout, layout.measures, worker)
    assert found.step_octaves == pytest.approx(np.log2(scale), abs=1e-3)
    assert found.scale == pytest.approx(1 / scale, rel=1e-3)
    words = explain_sew(found, layout.layout.island_name)
    assert f"scaled by {number(1 / scale)}" in words.do
    assert "1 m of seam" in words.what
    new = apply_sew(layout.layout, layout.measures, found, worker)
    after = judged(textured(one, layout, new.corner, new.uv))
    assert after.layout.island_count == 1
    host = layout.measures.island.density_median[found.islands[0]]
    assert after.measures.island.density_median[0] == pytest.approx(host, rel=1e-3)


def textured(one: Asset, layout: LayoutReview, corner: np.ndarray, uv: np.ndarray) -> Asset:
    """Return the asset with other coordinates at some corners of the layout."""
    whole = layout.layout.uv[layout.layout.corner_uv].copy()
    whole[corner] = uv
    count = len(whole)
    set_ = UvSet("uv", whole, np.arange(count, dtype=np.int32))
    return type(one)(**{**one.__dict__, "uv_sets": (set_,)})


def test_the_first_island_stays_where_it_is(worker: Worker) -> None:
    layout = judged(split_sheet(0.7, at=0.6))
    (found,) = propose_sews(layout.layout, layout.measures, worker)
    new = apply_sew(layout.layout, layout.measures, found, worker)
    face = np.repeat(np.arange(len(layout.layout.face_island)), np.diff(layout.layout.face_start))
    is_host = layout.layout.face_island[face[new.corner]] == found.islands[0]
    old = layout.layout.uv[layout.layout.corner_uv[new.corner]]
    np.testing.assert_allclose(new.uv[is_host], old[is_host], atol=1e-4)


def test_real_time_that_ran_out_is_never_told_as_an_island_that_does_not_lie_flat(
    worker: Worker, monkeypatch: pytest.MonkeyPatch
) -> None:
    layout = judged(split_sheet())
    (found,) = propose_sews(layout.layout, layout.measures, worker)

    def too_late(*asked: object, **how: object) -> None:
        raise TooLate("it was stopped after 60 seconds")

    monkeypatch.setattr(worker, "call", too_late)
    with pytest.raises(TooLate, match="stopped after 60 seconds"):
        apply_sew(layout.layout, layout.measures, found, worker)


def test_a_box_in_six_pieces_can_be_sewn_until_it_is_one_cross(worker: Worker) -> None:
    """Five sews, as the cross of a cube has five inner edges; corners are never zipped up."""
    one = cube_pieces()
    for left in range(5, 0, -1):
        layout = judged(one)
        assert layout.layout.island_count == left + 1
        best = propose_sews(layout.layout, layout.measures, worker)[0]
        assert best.islands[0] != best.islands[1]
        new = apply_sew(layout.layout, layout.measures, best, worker)
        one = textured(one, layout, new.corner, new.uv)
    layout = judged(one)
    assert layout.layout.island_count == 1
    assert layout.measures.island.dirichlet[0] == pytest.approx(1.0, abs=1e-6)
    assert propose_sews(layout.layout, layout.measures, worker) == ()


def test_a_straggler_comes_first(worker: Worker) -> None:
    one = split_sheet()
    uv = one.uv_sets[0].uv.copy()
    uv[0:4] = uv[0:4] * 0.5 + [0.7, 0.7]
    faces = one.corner_position.reshape(-1, 4).tolist()
    torn = asset(one.position, faces, uv, uv_faces=np.arange(len(uv)).reshape(-1, 4))
    layout = judged(torn)
    limits = Limits(fragment_surface=0.02)
    found = propose_sews(layout.layout, layout.measures, worker, limits=limits)
    assert found[0].is_fragment
    assert found[0].score < found[1].score
    assert found[0].scale == pytest.approx(2.0, rel=1e-3)


def test_a_dart_is_zipped_to_itself(worker: Worker) -> None:
    """A slit into a flat sheet, pulled open a little: one island sewn to itself."""
    one = plane(columns=8, rows=8)
    uv_set = one.uv_sets[0]
    uv = uv_set.uv[uv_set.corner_uv] * 0.5
    place = one.position[one.corner_position]
    middle = np.repeat(place.reshape(-1, 4, 3).mean(axis=1), 4, axis=0)
    on_slit = (np.abs(place[:, 0] - 0.5) < 1e-9) & (place[:, 1] < 0.45) & (middle[:, 0] > 0.5)
    uv[on_slit, 0] += 0.02 * (0.5 - place[on_slit, 1])
    faces = one.corner_position.reshape(-1, 4).tolist()
    slit = asset(one.position, faces, uv, uv_faces=np.arange(len(uv)).reshape(-1, 4))
    (found,) = proposals(slit, worker)
    assert found.islands == (0, 0)
    assert found.length_m == pytest.approx(0.5)
    assert found.energy.value == pytest.approx(1.0, abs=1e-6)


def test_a_tube_is_not_sewn_shut(worker: Worker) -> None:
    """Its seam would leave an annulus that cannot lie flat."""
    from tests.shapes import cylinder

    assert proposals(cylinder(), worker) == ()


def test_what_would_stretch_is_not_sewn(worker: Worker) -> None:
    """Two halves of a long band round a sphere's equator, each nearly flat, joined at one end only
    is fine; the halves of a whole sphere are not."""
    from tests.shapes import sphere_patch

    one = sphere_patch(lambda a, b: (a / 9, b / 9), longitude=(-80, 80), latitude=(-80, 80))
    uv_set = one.uv_sets[0]
    uv = uv_set.uv[uv_set.corner_uv]
    east = np.repeat(one.position[one.corner_position][:, 1].reshape(-1, 3).mean(axis=1) > 0, 3)
    uv[east] += [0.5, 0.5]
    faces = one.corner_position.reshape(-1, 3).tolist()
    halves = asset(one.position, faces, uv, uv_faces=np.arange(len(uv)).reshape(-1, 3))
    assert judged(halves).layout.island_count == 2
    assert proposals(halves, worker) == ()


def test_runs_break_at_corners_of_the_surface() -> None:
    layout = build_layouts(cube_pieces(), None, ())[0]
    runs = sewable_runs(layout)
    assert len(runs) == 12
    assert all(len(run.seam) == 1 for pair in runs.values() for run in pair)


def test_defects_are_those_of_a_cube_and_none_at_a_border() -> None:
    layout = build_layouts(cube_pieces(), None, ())[0]
    np.testing.assert_allclose(point_defects(layout), np.pi / 2)
    sheet = build_layouts(plane(columns=2, rows=2), None, ())[0]
    np.testing.assert_allclose(point_defects(sheet), 0.0, atol=1e-12)


def test_a_ridge_is_sewn_over(worker: Worker) -> None:
    """A fold is no corner: a roof of two slopes lies flat when sewn along its ridge."""
    roof = patch(
        lambda s, t: (s, t, 0.5 - np.abs(s - 0.5)),
        lambda s, t: (s / 3, t / 3),
        columns=2,
    )
    uv_set = roof.uv_sets[0]
    uv = uv_set.uv[uv_set.corner_uv]
    uv[4:] += [0.3, 0.3]
    two = asset(roof.position, roof.corner_position.reshape(-1, 4).tolist(), uv,
                uv_faces=np.arange(8).reshape(2, 4))  # fmt: skip
    (found,) = proposals(two, worker)
    assert found.length_m == pytest.approx(1.0)
