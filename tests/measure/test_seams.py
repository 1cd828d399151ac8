"""What lies across seams, on shapes worked by hand; chains of seams."""

from dataclasses import replace

import numpy as np
import pytest
from tests import shapes

from evenweave.arrays import ints
from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.distortion.jacobian import measure_triangles
from evenweave.measure.results import Seams
from evenweave.measure.seams.chains import seam_chains
from evenweave.measure.seams.seams import measure_seams
from evenweave.mesh.asset import Asset

pytestmark = pytest.mark.kernels

UNIT = Tile(1, 1)


def measured(asset: Asset, tile: Tile = UNIT) -> tuple[Layout, Seams]:
    (layout,) = build_layouts(asset)
    return layout, measure_seams(layout, asset, measure_triangles(layout, tile), tile)


def two_sheets(texture: np.ndarray, *, lift: float = 0.0, turned: bool = False) -> Asset:
    """Return two unit squares side by side along x = 1, the second with its own texture.

    `texture` (4, 2) is the second's coordinates at (1, 0), (2, 0), (2, 1), (1, 1); `lift`
    raises its far side; `turned` winds it the other way round.
    """
    position = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (2, 0, lift), (2, 1, lift)]
    uv = np.concatenate([[(0, 0), (1, 0), (1, 1), (0, 1)], texture])
    faces, uv_faces = [[0, 1, 2, 3], [1, 4, 5, 2]], [[0, 1, 2, 3], [4, 5, 6, 7]]
    if turned:
        faces[1], uv_faces[1] = faces[1][::-1], uv_faces[1][::-1]
    return shapes.asset(position, faces, uv, uv_faces=uv_faces)


SQUARE = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])


def rotated(degrees: float) -> np.ndarray:
    cos, sin = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return SQUARE @ np.array([(cos, sin), (-sin, cos)]) + 3


@pytest.mark.parametrize("degrees", [0, 1, 30, 90, 135, 179])
@pytest.mark.parametrize("turned", [False, True])
def test_the_turn_across_a_seam_is_that_of_the_texture(degrees, turned):
    _, seams = measured(two_sheets(rotated(degrees), turned=turned))
    np.testing.assert_allclose(seams.turn_degrees, [degrees], atol=1e-4)
    np.testing.assert_allclose(seams.density_step_octaves, [0], atol=1e-5)
    np.testing.assert_allclose(seams.length_m, [1])
    np.testing.assert_allclose(seams.fold_degrees, [0], atol=1e-9)


def test_the_turn_does_not_hang_on_the_fold_of_the_surface():
    _, seams = measured(two_sheets(rotated(25), lift=1.0))
    np.testing.assert_allclose(seams.fold_degrees, [45])
    # The second sheet is sqrt(2) long, so that its texture is sheared against a square.
    assert abs(seams.turn_degrees[0] - 25) < 15


def test_a_mirrored_neighbour_keeps_v_or_turns_it_round():
    _, beside = measured(two_sheets(SQUARE * [-1, 1] + 3))
    _, above = measured(two_sheets(SQUARE * [1, -1] + 3))
    np.testing.assert_allclose(beside.turn_degrees, [0], atol=1e-9)
    np.testing.assert_allclose(above.turn_degrees, [180])


def test_half_the_scale_is_one_octave():
    _, seams = measured(two_sheets(SQUARE / 2 + 3))
    np.testing.assert_allclose(seams.density_step_octaves, [1])


def test_the_step_is_not_measurable_at_a_degenerate_side():
    _, seams = measured(two_sheets(SQUARE * [0, 1] + 3))
    assert np.isnan(seams.density_step_octaves).all()
    assert np.isnan(seams.turn_degrees).all()


def test_a_tile_that_is_not_square_turns_directions_in_texels():
    # On a 2 x 1 tile with half the u, squares are square again.
    texture = rotated(90) * [0.5, 1]
    asset = two_sheets(texture)
    uv = asset.uv_sets[0].uv.copy()
    uv[:4, 0] *= 0.5
    asset = replace(asset, uv_sets=(replace(asset.uv_sets[0], uv=uv),))
    _, seams = measured(asset, Tile(2, 1))
    np.testing.assert_allclose(seams.turn_degrees, [90], atol=1e-4)
    np.testing.assert_allclose(seams.density_step_octaves, [0], atol=1e-5)


def test_the_seams_of_a_cube_are_as_long_as_its_cut():
    layout, seams = measured(shapes.cube())
    assert seams.length_m.sum() == pytest.approx(7)
    np.testing.assert_allclose(seams.island_seam_m, [7])
    np.testing.assert_allclose(seams.fold_degrees, 90)
    # The cross leaves two pairs of neighbours opposite, four at a right angle, one straight.
    assert sorted(np.round(seams.turn_degrees, 6).tolist()) == [0, 90, 90, 90, 90, 180, 180]
    assert layout.island_count == 1


def test_flat_normals_are_hard_edges_at_and_inside_the_islands():
    layout, seams = measured(shapes.cube(flat_normals=True))
    assert seams.is_hard.all()
    assert len(seams.hard_inside) == 5
    np.testing.assert_allclose(seams.hard_inside_m, 1)
    assert not set(seams.hard_inside.tolist()) & set(layout.edges.seam.ravel().tolist())


def test_in_pieces_every_hard_edge_of_a_cube_is_a_seam():
    _, seams = measured(shapes.cube_pieces(flat_normals=True))
    assert seams.is_hard.all()
    assert len(seams.hard_inside) == 0


def test_repeated_equal_normals_are_not_hard():
    cube = shapes.cube()
    normal = shapes.CUBE_POSITION - 0.5
    smooth = replace(
        cube, normal=normal[cube.corner_position], corner_normal=ints(range(24))
    )  # fmt: skip
    _, seams = measured(smooth)
    assert not seams.is_hard.any()
    assert len(seams.hard_inside) == 0


@pytest.mark.parametrize(
    ("groups", "lift", "is_hard"),
    [
        ((1, 1), 1.0, False),
        ((1, 2), 1.0, True),
        ((0, 0), 1.0, True),
        ((1, 2), 0.0, False),
        ((0, 0), 0.0, False),
        ((-1, -1), 1.0, False),
    ],
)
def test_smoothing_groups_tell_where_there_are_no_normals(groups, lift, is_hard):
    seam = replace(two_sheets(rotated(0), lift=lift), face_smoothing=ints(groups))
    _, seams = measured(seam)
    assert seams.is_hard.tolist() == [is_hard]
    sewn = two_sheets(SQUARE + np.array([1.0, 0.0]), lift=lift)
    _, seams = measured(replace(sewn, face_smoothing=ints(groups)))
    assert len(seams.is_hard) == 0
    assert len(seams.hard_inside) == int(is_hard)


def test_hardness_is_found_in_a_layout_of_its_own_among_others():
    pieces = shapes.with_material(shapes.cube_pieces(flat_normals=True), "a")
    cross = shapes.with_material(shapes.cube(flat_normals=True), "b")
    shaken, _ = shapes.shuffled(shapes.together(pieces, cross), seed=2)
    for layout in build_layouts(shaken):
        seams = measure_seams(layout, shaken, measure_triangles(layout, UNIT), UNIT)
        assert seams.is_hard.all()
        assert len(seams.hard_inside) == (5 if layout.name == "b" else 0)


def test_a_fragment_names_the_neighbour_with_most_of_its_outline():
    # Three sheets in a row, the middle one narrow: it shares 1 m of 2.2 m with each side.
    sheets = []
    for k, (x, width) in enumerate([(0, 1), (1, 0.1), (1.1, 1)]):
        sheet = shapes.plane(width, 1, bounds=(2 * k, 0, 2 * k + width, 1))
        sheets.append(shapes.moved(sheet, np.eye(3), (x, 0, 0)))
    _, seams = measured(shapes.together(*sheets))
    assert seams.fragment.tolist() == [1, 0, 1]
    np.testing.assert_allclose(seams.fragment_share, [1 / 4, 1 / 2.2, 1 / 4])
    np.testing.assert_allclose(seams.island_border_m, [3, 0.2, 3])
    np.testing.assert_allclose(seams.island_seam_m, [1, 2, 1])


def test_mirrored_halves_are_no_fragments_of_each_other():
    sheet = shapes.plane(2, 1, columns=2)
    folded = shapes.textured(sheet, lambda uv: np.column_stack([np.abs(uv[:, 0] - 0.5), uv[:, 1]]))
    _, seams = measured(folded)
    assert seams.fragment.tolist() == [-1, -1]
    np.testing.assert_allclose(seams.island_seam_m, [1, 1])
    np.testing.assert_allclose(seams.density_step_octaves, [0], atol=1e-6)


def test_a_lone_island_is_nobodys_fragment():
    _, seams = measured(shapes.cylinder())
    assert seams.fragment.tolist() == [-1]
    assert seams.fragment_share.tolist() == [0]
    np.testing.assert_allclose(seams.island_seam_m, [1])


def test_the_slit_of_a_tube_is_one_chain():
    (layout,) = build_layouts(shapes.cylinder(sides=8, rows=5))
    chains = seam_chains(layout)
    assert chains.chain_start.tolist() == [0, 5]
    assert chains.is_closed.tolist() == [False]
    assert chains.island.tolist() == [[0, 0]]
    assert chains.length_m[0] == pytest.approx(1)
    assert sorted(chains.seam.tolist()) == list(range(5))


def test_the_edges_of_a_cube_in_pieces_are_twelve_chains():
    (layout,) = build_layouts(shapes.cube_pieces())
    chains = seam_chains(layout)
    assert len(chains.length_m) == 12
    assert (chains.island[:, 0] < chains.island[:, 1]).all()


def test_a_lid_on_a_tube_is_a_ring():
    sides = 12
    tube = shapes.cylinder(sides=sides, rows=1)
    rim = tube.position[sides + 1 : 2 * sides + 1]
    lid = shapes.asset(
        [*rim, (0, 0, 1)],
        [(k, (k + 1) % sides, sides) for k in range(sides)],
        [*np.column_stack([rim[:, 0], rim[:, 1] + 3]).tolist(), (0, 3)],
    )
    # The tube is joined to itself, so that the rim of its texture is not torn at the slit.
    around = shapes.textured(tube, lambda uv: _ring(uv))
    (layout,) = build_layouts(shapes.together(around, lid))
    chains = seam_chains(layout)
    assert layout.island_count == 2
    assert chains.is_closed.tolist() == [True]
    assert chains.length_m[0] == pytest.approx(sides * np.sin(np.pi / sides))


def _ring(uv: np.ndarray) -> np.ndarray:
    turn = 2 * np.pi * (np.round(uv[:, 0] * 12) % 12) / 12
    reach = 0.2 + uv[:, 1]
    return np.column_stack([reach * np.cos(turn), reach * np.sin(turn)])


def test_chains_hold_every_seam_once_and_go_from_point_to_point():
    (layout,) = build_layouts(shapes.shuffled(shapes.cube(), 4)[0])
    chains = seam_chains(layout)
    assert sorted(chains.seam.tolist()) == list(range(7))
    for start, end in zip(chains.chain_start[:-1], chains.chain_start[1:], strict=True):
        last = None
        for place in range(start, end):
            corner = layout.edges.seam[chains.seam[place], 0]
            face = np.searchsorted(layout.face_start, corner, side="right") - 1
            behind = (
                corner + 1 if corner + 1 < layout.face_start[face + 1] else layout.face_start[face]
            )
            points = [layout.corner_point[corner], layout.corner_point[behind]]
            if chains.is_backward[place]:
                points.reverse()
            assert last is None or points[0] == last
            last = points[1]
