"""Where to cut: shapes whose best seams are known, and that seams follow the polygons."""

from dataclasses import dataclass

import numpy as np
import pytest
from tests.shapes import Asset, plane
from tests.trial import solids

from evenweave.layout.build import build_layouts
from evenweave.trial.cut.candidates import angle_defects
from evenweave.trial.cut.cut import CutProposal, propose_cuts
from evenweave.trial.cut.graph import edging
from evenweave.trial.flatten.island_mesh import island_mesh
from evenweave.trial.flatten.surface import pieces
from evenweave.trial.work.worker import Worker


@dataclass(frozen=True)
class Known:
    """A cut found by prototypes on a like shape: its energy, and length over root of surface."""

    shape: Asset
    energy: float
    length: float


TABLE = {
    "tube": Known(solids.tube(), 1.0, 0.80),  # closed form 2 / sqrt(2 pi)
    "capped tube": Known(solids.capped_tube(), 1.0, 2.89),
    "cone": Known(solids.cone(), 1.0, 0.84),  # closed form 1.118 / sqrt(pi 0.559)
    "hemisphere": Known(solids.cap(), 1.0084, 0.63),  # closed form (pi / 2) / sqrt(2 pi)
    "sphere": Known(solids.sphere(), 1.0121, 2.18),
    "torus": Known(solids.torus(), 1.0161, 2.58),
    "box": Known(solids.box(), 1.0, 2.86),  # closed form 7 / sqrt 6
    "elbow": Known(solids.elbow(radius=0.125), 1.0093, 1.25),
    "L prism": Known(solids.l_prism(), 1.0, 3.21),  # closed form 12 / sqrt 14
}


@pytest.mark.parametrize("name", TABLE)
def test_the_best_cut_is_as_good_as_the_known_one_and_lies_on_nothing(
    name: str, worker: Worker
) -> None:
    """Excess energy against length: each 0.01 of the one is worth 0.5 of the other."""
    known = TABLE[name]
    mesh = solids.island(known.shape)
    best = propose_cuts(mesh, worker)[0]
    area = sum(surface.area_m2 for surface in pieces(mesh))
    assert best.energy.flips == 0
    assert best.overlap == 0.0
    score = best.energy.value - 1 + 0.02 * best.length_m / area**0.5
    assert score <= known.energy - 1 + 0.02 * known.length + 4e-4  # like shapes, not the same
    assert np.isfinite(best.corner_uv).all()


def lengths(proposal: CutProposal, point_m: np.ndarray) -> np.ndarray:
    ends = point_m[proposal.edge_point]
    return np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)


@pytest.mark.parametrize("shape", [solids.box(), solids.capped_tube(), solids.cap()])
def test_cuts_run_along_edges_of_polygons_and_their_length_is_told(
    shape: Asset, worker: Worker
) -> None:
    layout = build_layouts(shape, None, ())[0]
    mesh = island_mesh(layout, 0)
    after = np.arange(1, len(layout.corner_point) + 1)
    after[layout.face_start[1:] - 1] = layout.face_start[:-1]
    for proposal in propose_cuts(mesh, worker):
        near, far = proposal.edge_corner, after[proposal.edge_corner]
        np.testing.assert_array_equal(proposal.edge_point[:, 0], layout.corner_point[near])
        np.testing.assert_array_equal(proposal.edge_point[:, 1], layout.corner_point[far])
        np.testing.assert_array_equal(proposal.edge_uv[:, 0], layout.uv[layout.corner_uv[near]])
        np.testing.assert_array_equal(proposal.edge_uv[:, 1], layout.uv[layout.corner_uv[far]])
        assert proposal.length_m == pytest.approx(lengths(proposal, layout.point_m).sum())
        assert len(np.unique(np.sort(proposal.edge_point, axis=1), axis=0)) == len(near)


def test_a_cut_along_the_edges_of_a_box_is_hidden_and_on_a_sphere_it_is_not(
    worker: Worker,
) -> None:
    assert propose_cuts(solids.island(solids.box()), worker)[0].hidden_share == pytest.approx(1.0)
    assert propose_cuts(solids.island(solids.cap()), worker)[0].hidden_share == 0.0


def test_the_inside_of_a_bend_is_where_a_pipe_is_cut(worker: Worker) -> None:
    layout = build_layouts(solids.elbow(radius=0.125), None, ())[0]
    best = propose_cuts(island_mesh(layout, 0), worker)[0]
    reach = np.hypot(*layout.point_m[best.edge_point.ravel(), :2].T)
    assert reach.max() < 0.9


def test_proposals_are_ranked_and_differ(worker: Worker) -> None:
    """By excess energy, length and pieces: the sphere's first is the one with the least of all."""
    mesh = solids.island(solids.sphere())
    found = propose_cuts(mesh, worker)
    assert len({one.edge_corner.tobytes() for one in found}) == len(found) > 1
    root = sum(surface.area_m2 for surface in pieces(mesh)) ** 0.5
    scores = [
        one.energy.value - 1 + 0.02 * one.length_m / root + 0.02 * (one.pieces - 1) for one in found
    ]
    assert scores == sorted(scores)


def test_a_flat_sheet_needs_no_cut(worker: Worker) -> None:
    assert propose_cuts(solids.island(plane(columns=4, rows=4)), worker) == ()


def test_edges_of_a_box_are_priced_as_creases_and_those_of_a_notch_least() -> None:
    """A right angle is discounted in full, a concave one further."""
    (surface,) = pieces(solids.island(solids.l_prism()))
    edges = edging(surface)
    share = edges.price / edges.length_m
    sides = np.stack([surface.triangle, np.roll(surface.triangle, -1, axis=1)], axis=2)
    middle = surface.point_m[sides.reshape(-1, 2)].mean(axis=1)
    notch = (np.abs(middle[:, 0] - 1) < 1e-9) & (np.abs(middle[:, 1] - 1) < 1e-9)
    notch &= surface.is_edge
    assert share[notch] == pytest.approx(0.15 * 0.7)
    top = (np.abs(middle[:, 2] - 1) < 1e-9) & (np.abs(middle[:, 0]) < 1e-9)
    assert share[top] == pytest.approx(0.15)
    assert edges.is_hidden[notch].all()
    assert edges.is_hidden[top].all()


def test_angle_defects_of_a_closed_surface_add_up_to_its_total_curvature() -> None:
    """Descartes: 4 pi for a sphere, 0 for a torus."""
    for one, total in ((solids.l_prism(), 4 * np.pi), (solids.torus(), 0.0)):
        (surface,) = pieces(solids.island(one))
        assert angle_defects(surface).sum() == pytest.approx(total, abs=1e-9)
