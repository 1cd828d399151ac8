"""Layouts of shapes whose islands and edges can be counted by hand."""

from dataclasses import replace

import numpy as np
import pytest
from tests import shapes

from evenweave.arrays import floats, ints
from evenweave.errors import Cancelled
from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout
from evenweave.mesh.asset import Asset, UvSet


def only_layout(asset: Asset) -> Layout:
    (layout,) = build_layouts(asset)
    return layout


def edge_counts(layout: Layout) -> tuple[int, int, int, int]:
    edges = layout.edges
    return len(edges.seam), len(edges.border), len(edges.nonmanifold), len(edges.outline)


def test_a_cube_unfolded_into_a_cross_is_one_island_with_seven_seams():
    layout = only_layout(shapes.cube())
    assert layout.island_name == ("cube",)
    assert edge_counts(layout) == (7, 0, 0, 14)
    assert len(layout.point_m) == 8
    assert len(layout.uv) == 14


def test_a_cube_in_pieces_has_an_island_a_face_and_a_seam_an_edge():
    layout = only_layout(shapes.cube_pieces())
    assert layout.island_name == ("cube", "cube 2", "cube 3", "cube 4", "cube 5", "cube 6")
    assert layout.face_island.tolist() == [0, 1, 2, 3, 4, 5]
    assert edge_counts(layout) == (12, 0, 0, 24)


def test_an_unrolled_tube_has_one_seam_a_row_and_borders_at_both_rims():
    layout = only_layout(shapes.cylinder(sides=24, rows=2))
    assert layout.island_count == 1
    assert edge_counts(layout) == (2, 48, 0, 52)


def test_the_sides_of_a_seam_are_one_edge_in_3d_and_two_in_the_texture():
    layout = only_layout(shapes.cube())
    for c, d in layout.edges.seam:
        c_next, d_next = after(layout, c), after(layout, d)
        ends = {layout.corner_point[c], layout.corner_point[c_next]}
        assert ends == {layout.corner_point[d], layout.corner_point[d_next]}
        assert {layout.corner_uv[c], layout.corner_uv[c_next]} != {
            layout.corner_uv[d],
            layout.corner_uv[d_next],
        }
        assert layout.edges.twin[c] == d
        assert layout.edges.twin[d] == c


def after(layout: Layout, corner: int) -> int:
    face = np.searchsorted(layout.face_start, corner, side="right") - 1
    return corner + 1 if corner + 1 < layout.face_start[face + 1] else layout.face_start[face]


def test_repeated_vertices_give_the_islands_of_shared_ones():
    shared = only_layout(shapes.tori(9))
    repeated = only_layout(shapes.unwelded(shapes.tori(9)))
    for name in ("face_island", "corner_point", "corner_uv", "point_m", "uv", "triangle_corner"):
        np.testing.assert_array_equal(getattr(shared, name), getattr(repeated, name))
    for name in ("seam", "border", "nonmanifold", "outline", "twin"):
        np.testing.assert_array_equal(getattr(shared.edges, name), getattr(repeated.edges, name))


def test_coordinates_are_one_within_half_a_step_and_minus_zero_is_zero():
    step = 2.0**-24
    position = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (-0.0, 0, 0), (1, 1, 0)]
    uv = [(0, 0), (1, 0), (1, 1), (0, 1), (-0.0, 0.4 * step), (1 - 0.4 * step, 1)]
    layout = only_layout(shapes.asset(position, [(0, 1, 2), (4, 5, 3)], uv))
    assert layout.island_count == 1
    assert len(layout.point_m) == 4
    assert len(layout.uv) == 4
    assert (layout.uv * 2**24 == np.round(layout.uv * 2**24)).all()


def test_positions_are_in_metres_of_the_stated_or_the_asked_unit():
    asset = shapes.asset(
        [(0, 0, 0), (100, 0, 0), (0, 50, 0)], [(0, 1, 2)], np.eye(3)[:, :2], metres=0.01
    )
    assert only_layout(asset).point_m.max() == pytest.approx(1.0)
    (layout,) = build_layouts(asset, unit_metres=1.0)
    assert layout.point_m.max() == 100.0


def test_islands_are_named_by_part_and_numbers_avoid_other_parts_names():
    squares = [shapes.plane(bounds=(k / 4, 0, (k + 1) / 4 - 0.1, 1)) for k in range(4)]
    names = ["roof", "roof", "roof 2", ""]
    parts = [replace(one, part_names=(name,)) for one, name in zip(squares, names, strict=True)]
    moved = [shapes.moved(one, np.eye(3), (2 * k, 0, 0)) for k, one in enumerate(parts)]
    layout = only_layout(shapes.together(*moved))
    assert layout.island_name == ("roof", "roof 3", "roof 2", "island")
    assert layout.island_parts == ((0,), (0,), (1,), (2,))


def test_an_island_over_two_parts_bears_the_name_of_the_larger_surface():
    sheet = shapes.plane(3, 1, columns=3)
    asset = replace(sheet, face_part=ints([1, 0, 0]), part_names=("wide", "narrow"))
    layout = only_layout(asset)
    assert layout.island_name == ("wide",)
    assert layout.island_parts == ((0, 1),)


def test_a_layout_per_material_in_file_order_with_points_and_uvs_of_its_own():
    cross = shapes.with_material(shapes.cube(), "brass")
    pieces = shapes.with_material(shapes.cube_pieces(), "glass")
    shaken, order = shapes.shuffled(shapes.together(cross, pieces), seed=5)
    brass, glass = build_layouts(shaken)
    assert (brass.name, glass.name) == ("brass", "glass")
    assert (brass.island_count, glass.island_count) == (1, 6)
    assert edge_counts(brass) == (7, 0, 0, 14)
    assert edge_counts(glass) == (12, 0, 0, 24)
    assert sorted(order[brass.asset_face]) == list(range(6))
    for layout in (brass, glass):
        assert np.unique(layout.corner_uv).tolist() == list(range(len(layout.uv)))
        assert np.unique(layout.corner_point).tolist() == list(range(len(layout.point_m)))
        np.testing.assert_array_equal(
            layout.point_m[layout.corner_point],
            shaken.position[shaken.corner_position[asset_corners(shaken, layout)]],
        )


def asset_corners(asset: Asset, layout: Layout) -> np.ndarray:
    return np.concatenate(
        [np.arange(asset.face_start[f], asset.face_start[f + 1]) for f in layout.asset_face]
    )


def test_merged_materials_share_one_layout_at_the_place_of_the_first():
    parts = [shapes.with_material(shapes.plane(), name) for name in ("a", "b", "c")]
    asset = shapes.together(*parts)
    layouts = build_layouts(asset, merged=(("c", "a", "unheard of"),))
    assert [one.name for one in layouts] == ["a + c", "b"]
    assert [one.materials for one in layouts] == [("a", "c"), ("b",)]
    assert [len(one.asset_face) for one in layouts] == [2, 1]


def test_faces_without_a_material_are_shown_as_such():
    assert only_layout(shapes.with_material(shapes.plane(), "")).name == "no material"


def test_each_part_takes_its_first_set_and_different_sets_make_different_layouts():
    first = shapes.plane(part="one")
    second = replace(
        shapes.plane(part="two"), uv_sets=(replace(shapes.plane().uv_sets[0], name="map1"),)
    )
    asset = shapes.together(first, second)
    layouts = build_layouts(asset)
    assert [one.uv_set for one in layouts] == ["uv", "map1"]
    assert [one.name for one in layouts] == ["material, uv", "material, map1"]
    assert [one.asset_face.tolist() for one in layouts] == [[0], [1]]


def test_an_asked_set_is_used_alone_and_the_others_faces_are_missing():
    first = shapes.plane(part="one")
    lightmap = shapes.with_uv_set(
        first, "lightmap", [(0, 0), (0.5, 0), (0.5, 0.5), (0, 0.5)], [0, 1, 2, 3]
    )
    asset = shapes.together(lightmap, shapes.plane(part="two"))
    (layout,) = build_layouts(asset, "lightmap")
    assert layout.uv_set == "lightmap"
    assert layout.uv.max() == 0.5
    assert layout.asset_face.tolist() == [0]
    assert layout.missing_face.tolist() == [1]
    (nothing,) = build_layouts(asset, "no such set")
    assert nothing.uv_set == "no such set"
    assert nothing.missing_face.tolist() == [0, 1]


def test_faces_lacking_coordinates_are_missing_and_the_rest_stays():
    sheet = shapes.plane(columns=3)
    corner_uv = sheet.uv_sets[0].corner_uv.copy()
    corner_uv[5] = -1
    asset = replace(sheet, uv_sets=(UvSet("uv", sheet.uv_sets[0].uv, ints(corner_uv)),))
    layout = only_layout(asset)
    assert layout.missing_face.tolist() == [1]
    assert layout.asset_face.tolist() == [0, 2]
    assert layout.island_count == 2


def test_a_material_without_any_coordinates_gives_an_empty_layout():
    bare = shapes.asset(shapes.CUBE_POSITION, shapes.CUBE_FACES, materials=("bare",))
    layout = only_layout(bare)
    assert layout.missing_face.tolist() == list(range(6))
    assert layout.island_count == 0
    assert edge_counts(layout) == (0, 0, 0, 0)
    with_cube = build_layouts(shapes.together(shapes.cube(), bare))
    assert [(one.name, one.island_count) for one in with_cube] == [("material", 1), ("bare", 0)]


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf, 2e6])
def test_faces_with_absurd_coordinates_are_unusable_and_hurt_no_other(value):
    sheet = shapes.plane(columns=3)
    uv = sheet.uv_sets[0].uv.copy()
    uv[3] = (value, 0)
    layout = only_layout(replace(sheet, uv_sets=(replace(sheet.uv_sets[0], uv=floats(uv)),)))
    assert layout.unusable_face.tolist() == [2]
    assert layout.asset_face.tolist() == [0, 1]
    assert np.isfinite(layout.uv).all()


def test_results_are_read_only():
    layout = only_layout(shapes.cube())
    for array in (layout.uv, layout.point_m, layout.face_island, layout.edges.seam):
        assert not array.flags.writeable


def test_progress_rises_and_can_cancel():
    shares: list[float] = []

    def note(share: float, doing: str) -> None:
        assert doing
        shares.append(share)

    build_layouts(shapes.cube(), progress=note)
    assert shares == sorted(shares)
    assert shares[0] == 0

    def stop(share: float, doing: str) -> None:
        if share >= shares[2]:
            raise Cancelled

    with pytest.raises(Cancelled):
        build_layouts(shapes.cube(), progress=stop)
