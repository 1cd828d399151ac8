"""Which surfaces there are, and how they open."""

import numpy as np
import pytest
from tests.shapes import asset, plane
from tests.trial import solids

from evenweave.trial.flatten import topology
from evenweave.trial.flatten.surface import pieces

KNOWN = {
    "sheet": (plane(columns=3, rows=2), 1, 0),
    "tube": (solids.tube(), 2, 0),
    "capped tube": (solids.capped_tube(), 0, 0),
    "cone": (solids.cone(), 1, 0),
    "sphere": (solids.sphere(), 0, 0),
    "torus": (solids.torus(), 0, 1),
    "box": (solids.box(), 0, 0),
}


@pytest.mark.parametrize("name", KNOWN)
def test_rims_and_handles_are_those_of_the_shape(name: str) -> None:
    one, rims, handles = KNOWN[name]
    (surface,) = pieces(solids.island(one))
    assert len(surface.rims) == rims
    assert surface.genus == handles
    mesh = solids.island(one)
    found = topology.topology(mesh.triangle, len(mesh.point_m))
    assert (len(found.rims), found.genus, found.problem) == (rims, handles, "")


def test_a_rim_keeps_the_surface_to_its_left() -> None:
    (surface,) = pieces(solids.island(plane(columns=3, rows=2)))
    loop = surface.point_m[surface.rims[0], :2]
    after = np.roll(loop, -1, axis=0)
    area = (loop[:, 0] * after[:, 1] - loop[:, 1] * after[:, 0]).sum() / 2
    assert area == pytest.approx(1.0)


def test_a_one_sided_strip_is_refused() -> None:
    with pytest.raises(ValueError, match="one-sided"):
        pieces(solids.island(solids.mobius()))


def test_a_face_wound_the_other_way_is_turned_over() -> None:
    point = [[0, 0, 0], [1, 0, 0], [2, 0, 0], [0, 1, 0], [1, 1, 0], [2, 1, 0]]
    uv = np.array(point, dtype=float)[:, :2]
    mesh = solids.island(asset(point, [[0, 1, 4, 3], [1, 4, 5, 2]], uv))
    assert topology.topology(mesh.triangle, 6).problem
    (surface,) = pieces(mesh)
    assert not topology.disagrees(surface.triangle, surface.twin).any()
    assert len(surface.rims) == 1
    # Every side still belongs to the mesh's side with the same two vertices.
    ends = np.stack([surface.triangle, np.roll(surface.triangle, -1, axis=1)], axis=2)
    theirs = np.stack([mesh.triangle, np.roll(mesh.triangle, -1, axis=1)], axis=2)
    mine = np.sort(surface.vertex[ends.reshape(-1, 2)], axis=1)
    assert (mine == np.sort(theirs.reshape(-1, 2)[surface.side], axis=1)).all()


def test_an_edge_of_three_faces_parts_the_island() -> None:
    point = [
        [0, 0, 0],
        [1, 0, 0],
        [1, 1, 0],
        [0, 1, 0],
        [0, -1, 0],
        [1, -1, 0],
        [0, 0, 1],
        [1, 0, 1],
    ]
    uv = np.array(point, dtype=float)[:, :2] + np.array(point, dtype=float)[:, 2:] * 0.3
    mesh = solids.island(asset(point, [[0, 1, 2, 3], [1, 0, 4, 5], [0, 1, 7, 6]], uv))
    assert topology.topology(mesh.triangle, len(mesh.point_m)).problem
    assert len(pieces(mesh)) == 3


def test_parts_that_hang_by_a_point_are_taken_apart() -> None:
    """Two squares that share only a corner: it becomes two vertices."""
    triangle = np.array([[0, 1, 2], [0, 2, 3], [2, 4, 5], [2, 5, 6]], np.int32)
    twin, _ = topology.twins(triangle, 7)
    assert topology.fans(triangle, twin, 7).max() == 7
    assert topology.topology(triangle, 7).problem


def test_cutting_half_a_ring_opens_a_tube_into_a_sheet() -> None:
    (surface,) = pieces(solids.island(solids.tube()))
    flat = surface.triangle.reshape(-1)
    along = np.flatnonzero(surface.is_edge & (surface.twin > np.arange(len(flat))))
    ends = surface.point_m[flat[along]], surface.point_m[flat[topology.next_side(along)]]
    is_cut = (np.abs(ends[0][:, 1]) < 1e-9) & (np.abs(ends[1][:, 1]) < 1e-9)
    is_cut &= (ends[0][:, 0] > 0) & (ends[1][:, 0] > 0)
    opened = surface.opened(along[is_cut].astype(np.int32))
    assert len(opened.rims) == 1
    assert len(opened.point_m) == len(surface.point_m) + 25
    np.testing.assert_array_equal(
        surface.point_m[surface.triangle], opened.point_m[opened.triangle]
    )
    assert surface.obstacle == opened.obstacle == ""


def test_a_cut_inside_ends_where_it_ends() -> None:
    """A slit of two edges doubles only the point between them."""
    (surface,) = pieces(solids.island(plane(columns=4, rows=4)))
    flat = surface.triangle.reshape(-1)
    side = np.flatnonzero(surface.is_edge & (surface.twin > np.arange(len(flat))))
    ends = np.stack([flat[side], flat[topology.next_side(side)]], axis=1)
    middle = surface.point_m[ends]
    is_slit = (np.abs(middle[:, :, 1] - 0.5) < 1e-9).all(axis=1)
    is_slit &= (np.abs(middle[:, :, 0] - 0.5) < 0.3).all(axis=1)
    opened = surface.opened(side[is_slit].astype(np.int32))
    assert is_slit.sum() == 2
    assert len(opened.point_m) == len(surface.point_m) + 1
    assert len(opened.rims) == 2
