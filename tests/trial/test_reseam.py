"""New seams as advised: stragglers are sewn on, and what its seams do not let lie well is cut."""

import numpy as np
import pytest
from numpy.typing import NDArray
from tests import shapes
from tests.trial import solids

from evenweave.limits.limits import DEFAULT, Limits
from evenweave.mesh.asset import Asset
from evenweave.pipeline import LayoutReview, review
from evenweave.trial.document import document
from evenweave.trial.jobs import Tried
from evenweave.trial.reseam import Act, cut_where_needed, reseamed, sew_fragments
from evenweave.trial.work.worker import Worker

CELLS = 40


def torn(corners: list[tuple[int, int]]) -> Asset:
    """A flat sheet of 40 x 40 cells; the texture of some cells lies elsewhere by itself."""
    one = shapes.plane(columns=CELLS, rows=CELLS, bounds=(0.0, 0.0, 0.5, 0.5))
    cell = one.corner_position.reshape(-1, 4)
    uv = one.uv_sets[0].uv[one.uv_sets[0].corner_uv].reshape(-1, 4, 2).copy()
    for column, row in corners:
        uv[row * CELLS + column] += [0.45, 0.1 + 0.01 * row]
    corner_uv = np.arange(4 * len(cell)).reshape(-1, 4)
    return shapes.asset(one.position, cell.tolist(), uv.reshape(-1, 2), uv_faces=corner_uv)


def tried(one: Asset, worker: Worker, *acts: Act, limits: Limits = DEFAULT) -> Tried:
    return reseamed(document.begin(review(one, limits)), worker, acts)


def only(done: Tried) -> LayoutReview:
    (one,) = done.trial.review.layouts
    return one


def corner_uvs(one: Asset) -> NDArray[np.float64]:
    return one.uv_sets[0].uv[one.uv_sets[0].corner_uv]


def test_stragglers_are_sewn_on_and_the_sheet_they_came_from_stays(worker: Worker) -> None:
    whole, corners = torn([]), [(0, 0), (39, 39)]
    done = tried(torn(corners), worker, sew_fragments)
    assert done.said == ("material: sewed 2 stragglers on.",)
    assert only(done).layout.island_count == 1
    assert only(done).measures.island.stretch_max[0] == pytest.approx(1, abs=1e-4)
    # The sheet keeps its place and density: what was torn off lies where it was once.
    assert corner_uvs(done.trial.asset) == pytest.approx(corner_uvs(whole), abs=1e-4)


def test_an_island_in_need_of_a_seam_is_cut_open_and_a_good_one_left_alone(worker: Worker) -> None:
    dome = shapes.textured(solids.cap(), lambda uv: 0.4 * uv + [0.05, 0.5])
    sheet = shapes.plane(columns=4, rows=4, bounds=(0.55, 0.05, 0.95, 0.45))
    one = shapes.together(dome, shapes.moved(sheet, np.eye(3), (5, 0, 0)))
    before = review(one, DEFAULT).layouts[0].measures
    done = tried(one, worker, cut_where_needed)
    assert done.said == ("material: cut 1 island open.",)
    after = only(done).measures
    assert before.island.dirichlet[0] > 2
    # 1.0084 in the table of measured cuts of a hemisphere, with something to spare
    assert after.island.dirichlet[0] < 1.012
    assert after.island.flipped_share[0] == 0
    assert not {"self-overlap", "overlap"} & {w.check for w in only(done).findings}
    is_sheet = np.repeat(one.face_part == 1, np.diff(one.face_start))
    assert (corner_uvs(done.trial.asset)[is_sheet] == corner_uvs(one)[is_sheet]).all()


def test_where_nothing_needs_a_seam_nothing_is_tried_and_that_is_said(worker: Worker) -> None:
    done = tried(torn([]), worker, sew_fragments, cut_where_needed)
    assert not done.trial.steps
    assert done.said == (
        "material: no straggler can be sewn on.",
        "material: no island is cut open: none is helped by it.",
    )


def test_a_repeating_texture_is_left_alone(worker: Worker) -> None:
    limits = Limits(purposes=(("material", "tiling"),))
    done = tried(torn([(0, 0)]), worker, sew_fragments, limits=limits)
    assert not done.trial.steps
