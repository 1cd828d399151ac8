"""Islands that no cut in one piece lays flat are parted, and their pieces lie beside each other."""

import json

import numpy as np
import pytest
import shapely
from tests.shapes import Asset, patch, plane, textured
from tests.trial import solids

from evenweave.command.advice_report import advice_json, advice_lines
from evenweave.limits.limits import Limits
from evenweave.pipeline import LayoutReview, Review, review
from evenweave.trial import jobs
from evenweave.trial.advice.advice import advise_island
from evenweave.trial.advice.text import explain_island
from evenweave.trial.advice.verdict import Verdict
from evenweave.trial.cut.candidates import CutKind
from evenweave.trial.cut.conflicts import conflicts
from evenweave.trial.cut.cut import CutProposal, apply_cut, propose_cuts
from evenweave.trial.cut.dual import DualGraph
from evenweave.trial.cut.graph import edging
from evenweave.trial.cut.parting import partings
from evenweave.trial.cut.trimming import trimmed
from evenweave.trial.document import document
from evenweave.trial.document.survey import survey
from evenweave.trial.flatten.flatten import quick_flattening
from evenweave.trial.flatten.island_mesh import IslandMesh
from evenweave.trial.flatten.placing import Home, side_by_side, uv_areas
from evenweave.trial.flatten.surface import Surface, pieces
from evenweave.trial.uvs.corner_uvs import CornerUvs
from evenweave.trial.work.worker import Worker

TURN = 2 * np.pi


def ramp(turns: float, *, width: float = 1.0) -> Asset:
    """A road that winds upwards over itself, its texture seen from above."""

    def place(s: np.ndarray, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        reach = 1 + width * t
        return reach * np.cos(turns * TURN * s), reach * np.sin(turns * TURN * s)

    return patch(
        lambda s, t: (*place(s, t), 0.5 * s + 0 * t), place, columns=round(40 * turns), rows=4
    )


def blob() -> Asset:
    """Two balls of radius 1 joined by a neck of radius 0.25, closed."""

    def surface(s: np.ndarray, t: np.ndarray) -> tuple[np.ndarray, ...]:
        height = 3.8 * (t - 0.5)
        ball = np.sqrt(np.maximum(1 - (np.abs(height) - 0.9) ** 2, 0.0))
        reach = np.maximum(ball, np.where(np.abs(height) < 0.9, 0.25, 0.0))
        return reach * np.cos(TURN * s), reach * np.sin(TURN * s), height

    return solids.grid(surface, (24, 48), texture=solids.crumpled)


def two_boxes() -> Asset:
    """Two cubes of 4 m that share one square metre: a bar joins them."""
    cells = [(x, y, z) for x in range(4) for y in range(4) for z in range(4)]
    cells += [(x + 5, y, z) for x, y, z in cells]
    return solids.blocks([*cells, (4, 1, 1)], parts=1)


SHAPES = {"ramp": ramp(2.5), "wide ramp": ramp(2.5, width=3.0), "blob": blob(),
          "two boxes": two_boxes()}  # fmt: skip


def placed_pieces(mesh: IslandMesh, new: CornerUvs) -> list[shapely.Polygon]:
    """Return what each piece covers after a cut: faces joined by sides with the same ends."""
    assert (new.corner == mesh.corner).all()
    corner = new.uv[mesh.triangle_corner]
    shapes = np.asarray(shapely.polygons(corner))
    signed = uv_areas(new.uv, mesh.triangle_corner)
    assert (signed > 0).all() or (signed < 0).all()
    tree = shapely.STRtree(shapes)
    one, other = tree.query(shapes, predicate="touches")
    joined = shapely.length(shapely.intersection(shapes[one], shapes[other])) > 1e-9
    label = np.arange(len(shapes))
    while True:
        lower = label.copy()
        np.minimum.at(lower, one[joined], label[other[joined]])
        if (lower == label).all():
            break
        label = lower
    assert shapely.union_all(shapes).area == pytest.approx(shapely.area(shapes).sum(), rel=1e-6)
    return [shapely.union_all(shapes[label == k]) for k in np.unique(label)]


@pytest.mark.parametrize("name", SHAPES)
def test_a_shape_is_laid_flat_clean_and_lies_as_foretold(name: str, worker: Worker) -> None:
    """Nothing overlaps by area of the union, as shapely tells it; pieces are as many as said."""
    mesh = solids.island(SHAPES[name])
    best = propose_cuts(mesh, worker)[0]
    assert best.overlap == 0.0
    assert best.energy.flips == 0
    assert best.energy.value < 1.05
    found = placed_pieces(mesh, apply_cut(mesh, best, worker))
    assert len(found) == best.pieces


def test_a_ramp_that_winds_over_itself_is_parted_across(worker: Worker) -> None:
    """The cheapest cut across a road is as long as the road is wide."""
    advice = advise_island(solids.island(ramp(2.5)), worker)
    best = advice.cuts[0]
    assert Verdict.SEAM in advice.verdicts
    assert best.pieces > 1
    assert best.length_m == pytest.approx(best.pieces - 1, rel=0.05)
    told = explain_island(advice, "ramp")[0]
    assert f"in {best.pieces} pieces" in told.what
    assert "each piece" in told.do


def test_a_neck_is_where_a_blob_parts() -> None:
    """In the crease between the neck and a ball, where a seam hides, not round a ball."""
    (surface,) = pieces(solids.island(blob()))
    edges = edging(surface)
    (waist, *_) = [
        one for one in partings(DualGraph.of(surface, edges.price), None)
        if one.kind is CutKind.WAIST
    ]  # fmt: skip
    reach = np.linalg.norm(surface.point_m[surface.triangle.reshape(-1)[waist.side], :2], axis=1)
    assert len(waist.side) == 24
    assert reach.max() < 0.5
    assert edges.is_hidden[waist.side].all()


def test_one_piece_is_preferred_where_it_lies_flat(worker: Worker) -> None:
    for one in (solids.tube(), solids.box(), solids.cone(), solids.cap()):
        assert propose_cuts(solids.island(one), worker)[0].pieces == 1


def sheet(columns: int = 6, rows: int = 4) -> Surface:
    (surface,) = pieces(solids.island(plane(columns=columns, rows=rows)))
    return surface


def test_a_parting_is_the_cheapest_between_what_must_be_apart() -> None:
    """A sheet of 6 by 4 parts between its ends along 4 edges, wherever one is cheapest."""
    surface = sheet()
    price = edging(surface).price
    middle = surface.point_m[surface.triangle].mean(axis=1)
    at = np.stack([surface.triangle, np.roll(surface.triangle, -1, axis=1)], axis=2)
    x = surface.point_m[at.reshape(-1, 2)][:, :, 0]
    column = np.unique(surface.point_m[:, 0])
    is_cheap = np.isclose(x, column[2]).all(axis=1)
    graph = DualGraph.of(surface, np.where(is_cheap, price / 2, price))
    assert len(graph.area_m2) == 24
    assert graph.area_m2.sum() == pytest.approx(surface.area_m2)
    near = np.where(graph.centre_m[:, 0] < column[1], np.inf, 0.0)
    away = np.where(graph.centre_m[:, 0] > column[-2], np.inf, 0.0)
    side = graph.between(graph.parting(near, away))
    assert len(side) == 4
    assert is_cheap[side].all()
    parts = surface.opened(side).parts()
    assert [len(part.triangle) for part in parts] == [32, 16]
    assert sum(part.area_m2 for part in parts) == pytest.approx(surface.area_m2)
    assert len(middle) == 48


def test_distances_run_from_face_to_face() -> None:
    surface = sheet(columns=8, rows=1)
    graph = DualGraph.of(surface, edging(surface).price)
    order = np.argsort(graph.centre_m[:, 0])
    far = graph.distances(order[:1])[order]
    step = np.diff(graph.centre_m[order, 0])
    np.testing.assert_allclose(far, np.append(0, np.cumsum(step)), atol=1e-9)


def test_triangles_on_each_other_are_found_and_neighbours_are_not() -> None:
    uv = np.array([[0, 0], [1, 0], [0, 1], [1, 1], [0.1, 0.1], [0.3, 0.1], [0.1, 0.3]])
    triangle = np.array([[0, 1, 2], [1, 3, 2], [4, 5, 6]], np.int32)
    assert conflicts(uv, triangle).tolist() == [[0, 2]]


def test_dead_ends_are_dropped_and_what_joins_rims_is_kept() -> None:
    """From rim to rim across the sheet, with a tooth of one edge and one of two."""
    surface = sheet(columns=6, rows=6)
    column, row = np.unique(surface.point_m[:, 0]), np.unique(surface.point_m[:, 1])
    flat, length = surface.triangle.reshape(-1), edging(surface).length_m
    number = {tuple(p): k for k, p in enumerate(np.round(surface.point_m[:, :2], 9).tolist())}

    def vertex(i: int, j: int) -> int:
        return number[tuple(np.round([column[i], row[j]], 9).tolist())]

    way = [(vertex(3, j), vertex(3, j + 1)) for j in range(6)]
    short = [(vertex(3, 2), vertex(4, 2))]
    long = [(vertex(3, 4), vertex(2, 4)), (vertex(2, 4), vertex(1, 4))]
    ends = np.sort(np.stack([flat, np.roll(surface.triangle, -1, axis=1).reshape(-1)], 1), axis=1)

    def sides(pairs: list[tuple[int, int]]) -> list[int]:
        return sorted(int(np.flatnonzero((ends == sorted(p)).all(axis=1))[0]) for p in pairs)

    edge = float(column[1] - column[0])
    everything = np.array(sides([*way, *short, *long]), np.int32)
    assert trimmed(surface, everything, length, 0.5 * edge).tolist() == everything.tolist()
    assert trimmed(surface, everything, length, 1.5 * edge).tolist() == sides([*way, *long])
    assert trimmed(surface, everything, length, 2.5 * edge).tolist() == sides(way)


def test_pieces_stand_beside_each_other_within_the_tile() -> None:
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]])
    some = [0.3 * square + 0.5, 0.2 * square + 0.55, 0.25 * square + 0.6]
    home = Home(np.array([0.6, 0.6]), np.zeros(2), np.ones(2))
    placed = side_by_side(some, home)
    boxes = [shapely.box(*uv.min(axis=0), *uv.max(axis=0)) for uv in placed]
    for k, one in enumerate(boxes):
        assert all(one.distance(other) > 0.01 for other in boxes[:k])
        assert shapely.box(0, 0, 1, 1).contains(one)
    for before, after in zip(some, placed, strict=True):
        np.testing.assert_allclose(np.ptp(after, axis=0), np.ptp(before, axis=0))
    apart = [0.1 * square, 0.1 * square + 0.5]
    assert [uv.tolist() for uv in side_by_side(apart, home)] == [uv.tolist() for uv in apart]


def test_an_island_that_reaches_into_the_first_tile_is_at_home_there() -> None:
    for bounds, tile in (
        ((-0.7, 0.2, 0.1, 0.9), (0.0, 0.0)),
        ((1.2, 0.2, 1.8, 0.9), (1.0, 0.0)),
        ((-0.9, -0.8, -0.1, -0.2), (-1.0, -1.0)),
    ):
        home = Home.of(solids.island(plane(columns=2, bounds=bounds)))
        assert home.tile.tolist() == list(tile)


def reviewed() -> Review:
    return review(textured(ramp(2.5), lambda uv: uv / 6 + 0.5), Limits())


def layout_of(one: Review) -> LayoutReview:
    return one.layouts[0]


def test_a_parting_can_be_tried_and_leaves_as_many_islands(worker: Worker) -> None:
    before = reviewed()
    cut = proposal(before, worker)
    tried = jobs.cutting(0, {0: cut})(document.begin(before), worker, lambda share, text: None)
    after = layout_of(tried.trial.review)
    assert after.layout.island_count == cut.pieces > 1
    assert after.measures.overlap.area_px == 0
    assert layout_of(before).measures.overlap.area_px > 0


def proposal(one: Review, worker: Worker) -> CutProposal:
    found = survey(layout_of(one), one.limits, (0,), worker)
    return found.islands[0][1].cuts[0]


def test_reports_say_in_how_many_pieces(worker: Worker) -> None:
    one = reviewed()
    found = [survey(layout_of(one), one.limits, (0,), worker)]
    cut = found[0].islands[0][1].cuts[0]
    told = json.loads(advice_json(one, found))["layouts"][0]["islands"][0]["cuts"][0]
    assert told["pieces"] == cut.pieces
    assert f"in {cut.pieces} pieces" in " ".join(advice_lines(one, found).split())


def test_a_quick_flattening_tells_of_the_ramp_that_it_lies_on_itself() -> None:
    (surface,) = pieces(solids.island(ramp(2.5)))
    flat = quick_flattening(surface, 10)
    assert flat is not None
    assert flat.overlap > 0.3
