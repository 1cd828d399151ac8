"""Verdicts on constructed islands whose best flattening is known, and honest refusals."""

from contextlib import suppress

import numpy as np
import pytest
from tests.shapes import Asset, asset, cylinder, patch, plane, textured, together, tori
from tests.trial import solids

from evenweave.layout.layout import Tile
from evenweave.limits.limits import Limits
from evenweave.pipeline import LayoutReview, review
from evenweave.trial.advice.advice import IslandAdvice, advise, advise_island, worst_first
from evenweave.trial.advice.text import explain_island
from evenweave.trial.advice.verdict import Verdict
from evenweave.trial.cut.cut import apply_cut
from evenweave.trial.flatten import attainable as attainable_module
from evenweave.trial.flatten import flatten
from evenweave.trial.flatten.attainable import apply_unmirror, apply_unwrap, attainable, time_for
from evenweave.trial.flatten.energy import energy
from evenweave.trial.flatten.flatten import best_flattening
from evenweave.trial.flatten.island_mesh import IslandMesh, island_mesh
from evenweave.trial.flatten.placing import uv_areas
from evenweave.trial.flatten.surface import pieces
from evenweave.trial.uvs.corner_uvs import CornerUvs
from evenweave.trial.work.worker import NoAdvice, Worker

GOOD, UNWRAP, SEAM, MIRRORED = Verdict.GOOD, Verdict.UNWRAP, Verdict.SEAM, Verdict.MIRRORED


def unrolled(change: list[list[float]]) -> Asset:
    return textured(cylinder(), lambda uv: uv @ np.array(change))


def folded(uv: np.ndarray) -> np.ndarray:
    return np.where(uv[:, :1] > 0.6, [1.2, 0], 0) + uv * np.where(uv[:, :1] > 0.6, [-1, 1], 1)


def well_unwrapped(one: Asset) -> Asset:
    (surface,) = pieces(solids.island(one))
    uv = np.zeros((len(one.position), 2))
    flat = best_flattening(surface, sweeps=40).uv
    nearest = np.linalg.norm(one.position[:, None] - surface.point_m[None], axis=2).argmin(axis=1)
    uv[:] = flat[nearest]
    return textured(one, lambda _: uv / 4 + 0.5)


CASES = {
    "squashed tube": (unrolled([[1, 0], [0, 0.5]]), {UNWRAP}),
    "sheared tube": (unrolled([[1, 0], [0.8, 1]]), {UNWRAP}),
    "tube folded over": (textured(cylinder(), folded), {UNWRAP}),
    "tube unrolled": (cylinder(), {GOOD}),
    "tube unrolled, mirrored": (unrolled([[-1, 0], [0, 1]]), {MIRRORED}),
    "hemisphere well unwrapped": (well_unwrapped(solids.cap()), {SEAM}),
    "hemisphere planar": (solids.cap(), {SEAM, UNWRAP}),
    "hemisphere noisy": (solids.cap(texture=solids.crumpled), {SEAM, UNWRAP}),
    "cone well unwrapped": (well_unwrapped(solids.cone()), {SEAM}),
    "cone planar": (solids.cone(), {SEAM, UNWRAP}),
    "tube uncut, planar": (solids.tube(), {SEAM}),
}

SAFE = {"squashed tube", "sheared tube", "hemisphere planar", "hemisphere noisy", "cone planar"}


@pytest.mark.parametrize("name", CASES)
def test_the_verdict_is_the_one_a_person_would_give(name: str, worker: Worker) -> None:
    one, expected = CASES[name]
    advice = advise_island(solids.island(one), worker)
    assert set(advice.verdicts) == expected
    found = advice.attainable
    assert found is not None
    assert found.energy_best is not None
    assert found.energy_best.rank <= found.energy_now.rank
    assert advice.is_safe_to_unwrap == (name in SAFE)
    for words in explain_island(advice, "roof"):
        assert words.title
        assert "{" not in words.what + words.do


def corner_energy(mesh: IslandMesh, uv: np.ndarray) -> float:
    return energy(mesh.point_m[mesh.corner_vertex], uv, mesh.triangle_corner).value


def total_area(mesh: IslandMesh, uv: np.ndarray) -> float:
    return float(np.abs(uv_areas(uv, mesh.triangle_corner)).sum())


def centre(mesh: IslandMesh, uv: np.ndarray) -> np.ndarray:
    area = uv_areas(mesh.point_m[mesh.corner_vertex][:, :2], mesh.triangle_corner)
    middle = uv[mesh.triangle_corner].mean(axis=1)
    return (np.abs(area)[:, None] * middle).sum(axis=0) / np.abs(area).sum()


@pytest.mark.parametrize("mirror", [1.0, -1.0])
def test_unwrapping_again_keeps_place_density_and_handedness(mirror: float, worker: Worker) -> None:
    one = textured(plane(2.0, 1.0, columns=6, rows=4), lambda uv: uv**2 * [mirror / 4, 0.3] + 0.5)
    mesh = solids.island(one)
    before, new = mesh.uv[mesh.corner_vertex], apply_unwrap(mesh, worker)
    assert (new.corner == mesh.corner).all()
    assert corner_energy(mesh, new.uv) == pytest.approx(1.0, abs=1e-6)
    assert total_area(mesh, new.uv) == pytest.approx(total_area(mesh, before), rel=1e-3)
    np.testing.assert_allclose(centre(mesh, new.uv), centre(mesh, before), atol=1e-9)
    assert np.sign(uv_areas(new.uv, mesh.triangle_corner).sum()) == mirror


def test_the_ghost_lies_over_the_present_layout(worker: Worker) -> None:
    mesh = solids.island(cylinder())
    found = attainable(mesh, worker)
    np.testing.assert_allclose(found.corner_uv, mesh.uv[mesh.corner_vertex], atol=1e-4)
    assert len(found.outline) == 52
    assert np.linalg.norm(np.diff(found.outline, axis=1), axis=2).sum() == pytest.approx(
        2 * (1 + np.ptp(mesh.uv[:, 1])), rel=1e-3
    )


def test_a_given_density_is_kept(worker: Worker) -> None:
    mesh = solids.island(plane(2.0, 1.0, columns=3, rows=3))
    new = apply_unwrap(mesh, worker, density=0.25)
    assert total_area(mesh, new.uv) == pytest.approx(2.0 * 0.25**2, rel=1e-3)


def test_a_tile_that_is_not_square_is_taken_as_texels(worker: Worker) -> None:
    """On a tile of 2 by 1 a square sheet should be half as wide in u as it is high in v."""
    mesh = solids.island(plane(columns=4, rows=4), aspect=2.0)
    new = apply_unwrap(mesh, worker)
    width, height = np.ptp(new.uv, axis=0)
    assert height == pytest.approx(2 * width, rel=1e-6)


def test_mirroring_keeps_the_bounds() -> None:
    mesh = solids.island(plane(columns=2, bounds=(0.1, 0.2, 0.5, 0.4)))
    new = apply_unmirror(mesh)
    np.testing.assert_allclose(new.uv.min(axis=0), [0.1, 0.2], atol=1e-7)
    np.testing.assert_allclose(new.uv.max(axis=0), [0.5, 0.4], atol=1e-7)
    assert uv_areas(new.uv, mesh.triangle_corner).sum() < 0


def test_coordinates_that_are_no_numbers_are_never_handed_on() -> None:
    with pytest.raises(ValueError, match="not a number"):
        CornerUvs.of(np.zeros(1, np.int32), np.array([[np.nan, 0.0]]))


def fin() -> Asset:
    point = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [0, -1, 0], [1, -1, 0],
                      [0, 0, 1], [1, 0, 1.0]])  # fmt: skip
    return asset(point, [[0, 1, 2, 3], [1, 0, 4, 5], [0, 1, 7, 6]], point[:, :2] + point[:, 2:] / 3)


def flat_faces() -> Asset:
    """A sheet with one face whose corners lie on a line."""
    one = plane(columns=4, rows=4)
    point = one.position.copy()
    point[:, 1] = np.where(point[:, 1] < 0.1, 0.25, point[:, 1])
    return solids.solid(point, one.corner_position.reshape(-1, 4).tolist(), solids.planar)


HOSTILE = {
    "an edge of three faces": fin(),
    "faces without surface": flat_faces(),
    "closed": solids.sphere(),
    "with a handle": solids.torus(),
    "collapsed on the texture": textured(plane(columns=3), lambda uv: 0 * uv),
    "collapsed onto a line": textured(plane(columns=3), lambda uv: uv * [1, 0]),
    "all faces on one line": asset(
        [[0, 0, 0], [1, 0, 0], [2, 0, 0]], [[0, 1, 2]], np.eye(3)[:, :2]
    ),
    "one triangle": asset(np.eye(3), [[0, 1, 2]], np.eye(3)[:, :2]),
    "huge": textured(plane(columns=3), lambda uv: uv * 9e5),
}


def is_honest(advice: IslandAdvice) -> bool:
    if advice.attainable is None:
        return bool(advice.no_advice) and not advice.verdicts
    finite = np.isfinite(advice.attainable.corner_uv).all()
    return bool(advice.verdicts) and bool(finite) and not advice.no_advice


@pytest.mark.parametrize("name", HOSTILE)
def test_bad_islands_get_advice_or_an_honest_refusal(name: str, worker: Worker) -> None:
    mesh = solids.island(HOSTILE[name])
    advice = advise_island(mesh, worker)
    assert is_honest(advice)
    assert explain_island(advice, "roof")
    with suppress(NoAdvice):
        assert np.isfinite(apply_unwrap(mesh, worker).uv).all()


def test_a_one_sided_strip_gets_no_advice_and_is_told_why(worker: Worker) -> None:
    advice = advise_island(solids.island(solids.mobius()), worker)
    assert "one-sided" in advice.no_advice
    assert "one-sided" in explain_island(advice, "roof")[0].what


def test_an_island_without_surface_gets_no_advice_and_is_told_why(worker: Worker) -> None:
    advice = advise_island(solids.island(HOSTILE["all faces on one line"]), worker)
    assert advice.verdicts == ()
    assert advice.no_advice == "none of its faces has a surface"


def test_faces_without_surface_do_not_keep_the_rest_from_advice(worker: Worker) -> None:
    """A flat sheet, its texture drawn out: but for the face on a line it lies without stretch."""
    one = textured(flat_faces(), lambda uv: uv * [1, 3])
    advice = advise_island(solids.island(one), worker)
    assert advice.verdicts == (UNWRAP,)
    assert advice.attainable is not None
    assert advice.attainable.energy_best is not None
    assert advice.attainable.energy_best.value < 1.001


def test_what_is_open_at_a_single_edge_is_as_good_as_closed() -> None:
    """A closed box cut along one edge has a rim of two points, which nothing can be laid out by."""
    (surface,) = pieces(solids.island(solids.box()))
    side = np.flatnonzero(surface.is_edge)[:1].astype(np.int32)
    opened = surface.opened(side)
    assert [len(rim) for rim in opened.rims] == [2]
    assert "closed but for a single edge" in opened.obstacle


def test_a_huge_island_is_judged_by_few_sweeps_and_says_so(
    worker: Worker, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is told is as good as usual on an easy shape; the limit is lowered, not the mesh raised.

    The worker has its own limit, so the work is called here.
    """
    mesh = solids.island(solids.cap(0.3))
    usual = attainable(mesh, worker)
    for module in (flatten, attainable_module):
        monkeypatch.setattr(module, "HUGE", 100)
    found = attainable_module._attainable(mesh, 10.0)
    assert "large" in found.caveat
    assert not usual.caveat
    assert found.energy_best is not None
    assert usual.energy_best is not None
    assert found.energy_best.value <= 1.01 * usual.energy_best.value


def test_a_large_island_has_time_by_its_size() -> None:
    mesh = solids.island(plane(columns=400, rows=400))
    assert time_for(mesh, 10.0) == pytest.approx(32.0)
    assert time_for(mesh, 60.0) == 60.0


def test_a_ramp_that_winds_over_itself_needs_a_seam_though_it_hardly_stretches(
    worker: Worker,
) -> None:
    ramp = patch(
        lambda s, t: ((1 + t) * np.cos(5 * np.pi * s), (1 + t) * np.sin(5 * np.pi * s), 0.5 * s),
        lambda s, t: ((1 + t) * np.cos(5 * np.pi * s), (1 + t) * np.sin(5 * np.pi * s) + 0 * s),
        columns=99,
        rows=4,
    )
    advice = advise_island(solids.island(ramp), worker)
    assert advice.attainable is not None
    assert advice.attainable.energy_now.value < 1.02
    assert advice.attainable.overlap_now > 0.3
    assert Verdict.SEAM in advice.verdicts
    assert "lies on itself" in explain_island(advice, "ramp")[0].what or advice.cuts


def test_a_cut_island_lies_as_predicted(worker: Worker) -> None:
    mesh = solids.island(solids.cap())
    best = advise_island(mesh, worker).cuts[0]
    new = apply_cut(mesh, best, worker)
    assert corner_energy(mesh, new.uv) <= best.energy.value + 1e-6


def judged(one: Asset, tile: Tile | None = None) -> LayoutReview:
    return review(one, Limits()).layouts[0]


def test_islands_come_in_the_order_asked_for_and_are_kept(worker: Worker) -> None:
    layout = judged(
        together(
            plane(part="sheet"),
            textured(cylinder(), lambda uv: uv * [1, 0.3] + [0, 1.5]),
        )
    )
    cache: dict[str, IslandAdvice] = {}
    order = worst_first(layout)
    assert layout.layout.island_name[order[0]] == "cylinder"
    told: list[float] = []
    first = dict(advise(layout, order, worker, cache=cache, progress=lambda s, _: told.append(s)))
    assert list(first) == list(order)
    assert first[order[0]].verdicts == (UNWRAP,)
    assert first[order[1]].verdicts == (GOOD,)
    assert told == sorted(told)
    again = dict(advise(layout, order, worker, cache=cache))
    assert all(again[i] is first[i] for i in order)


def test_many_tiny_islands_are_all_advised_on(worker: Worker) -> None:
    layout = judged(tori(60, cells=4))
    order = worst_first(layout)[:200]
    found = list(advise(layout, order, worker))
    assert [island for island, _ in found] == list(order)
    assert all(is_honest(advice) for _, advice in found)


def test_an_island_cut_out_of_its_layout_is_itself() -> None:
    layout = judged(tori(9)).layout
    whole = [island_mesh(layout, i) for i in range(layout.island_count)]
    corners = np.concatenate([mesh.corner for mesh in whole])
    assert (np.sort(corners) == np.arange(len(layout.corner_point))).all()
    for mesh in whole:
        np.testing.assert_array_equal(
            mesh.uv[mesh.corner_vertex], layout.uv[layout.corner_uv[mesh.corner]]
        )
        np.testing.assert_array_equal(
            mesh.vertex_point[mesh.corner_vertex], layout.corner_point[mesh.corner]
        )
        np.testing.assert_array_equal(mesh.corner_vertex[mesh.triangle_corner], mesh.triangle)
    sides = sum(int(mesh.side_is_edge.sum()) for mesh in whole)
    assert sides == len(layout.corner_point)
