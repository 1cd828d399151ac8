"""Matching of edges and islands against a plain dictionary, and on odd meshes by hand."""

from collections import defaultdict

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from tests import shapes

from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout

pytestmark = pytest.mark.kernels

QUICK = settings(deadline=None, max_examples=60, derandomize=True)


def edges_of(layout: Layout):
    """Yield (face, corner, point, next point, uv, next uv)."""
    for face in range(len(layout.face_start) - 1):
        corners = range(layout.face_start[face], layout.face_start[face + 1])
        for k, c in enumerate(corners):
            d = corners[(k + 1) % len(corners)]
            yield (
                face, c, layout.corner_point[c], layout.corner_point[d], layout.corner_uv[c],
                layout.corner_uv[d],
            )  # fmt: skip


def plain_islands(layout: Layout) -> np.ndarray:
    """Join faces by undirected edges of (point, uv) keys with scipy."""
    faces_at = defaultdict(list)
    for face, _, p, q, u, v in edges_of(layout):
        if (p, u) != (q, v):
            faces_at[frozenset([(p, u), (q, v)])].append(face)
    pairs = [(faces[0], other) for faces in faces_at.values() for other in faces[1:]]
    count = len(layout.face_start) - 1
    i, j = np.array(pairs, dtype=int).reshape(-1, 2).T
    _, label = connected_components(coo_matrix((np.ones(len(i)), (i, j)), (count, count)))
    first = {}
    return np.array([first.setdefault(one, len(first)) for one in label])


def plain_kinds(layout: Layout) -> dict[str, set]:
    """Sort edges that have a length in 3D by the number of their uses."""
    uses = defaultdict(list)
    for _, c, p, q, u, v in edges_of(layout):
        if p != q:
            uses[frozenset([p, q])].append((c, frozenset([(p, u), (q, v)])))
    kinds = {"border": set(), "seam": set(), "nonmanifold": set()}
    for same in uses.values():
        corners = [c for c, _ in same]
        if len(same) == 1:
            kinds["border"].add(corners[0])
        elif len(same) > 2:
            kinds["nonmanifold"].update(corners)
        elif same[0][1] != same[1][1]:
            kinds["seam"].add(tuple(sorted(corners)))
    return kinds


def assert_like_plain(layout: Layout) -> None:
    np.testing.assert_array_equal(layout.face_island, plain_islands(layout))
    assert_edges_like_plain(layout, plain_kinds(layout))


def assert_edges_like_plain(layout: Layout, kinds: dict[str, set]) -> None:
    assert {tuple(row) for row in layout.edges.seam.tolist()} == kinds["seam"]
    collapsed = {c for _, c, p, q, _, _ in edges_of(layout) if p == q}
    assert set(layout.edges.border.tolist()) - collapsed == kinds["border"]
    assert set(layout.edges.nonmanifold.tolist()) == kinds["nonmanifold"]
    outline = set(layout.edges.outline.tolist())
    for _, c, _, _, u, v in edges_of(layout):
        if u == v:
            assert c not in outline
        elif c in kinds["border"] or any(c in pair for pair in kinds["seam"]):
            assert c in outline


def area_covered(layout: Layout, island: int) -> float:
    rings = [
        layout.uv[layout.corner_uv[layout.face_start[f] : layout.face_start[f + 1]]]
        for f in np.flatnonzero(layout.face_island == island)
    ]
    return float(
        sum(
            abs((one[:, 0] * np.roll(one[:, 1], -1) - one[:, 1] * np.roll(one[:, 0], -1)).sum()) / 2
            for one in rings
        )
    )


@pytest.mark.parametrize(
    "asset",
    [
        shapes.cube(), shapes.cube_pieces(), shapes.cylinder(), shapes.cone(), shapes.tori(7),
        shapes.shuffled(shapes.tori(7), 3)[0],
    ],
)  # fmt: skip
def test_shapes_have_the_edges_and_islands_of_a_plain_count(asset):
    (layout,) = build_layouts(asset)
    assert_like_plain(layout)


@QUICK
@given(seed=st.integers(0, 2**32 - 1), points=st.integers(1, 6), faces=st.integers(1, 40))
def test_any_soup_has_the_edges_and_islands_of_a_plain_count(seed, points, faces):
    random = np.random.default_rng(seed)
    position = random.random((points, 3))
    uv = random.random((5, 2))
    polygons = [random.integers(0, points, size=random.integers(3, 8)) for _ in range(faces)]
    uv_polygons = [random.integers(0, 5, size=len(one)) for one in polygons]
    (layout,) = build_layouts(shapes.asset(position, polygons, uv, uv_faces=uv_polygons))
    plain, kinds = plain_islands(layout), plain_kinds(layout)
    # Ours are parts of the plain islands: those that lie mirrored on each other are parted.
    pairs = np.unique(np.column_stack([layout.face_island, plain]), axis=0)
    assert len(pairs) == layout.island_count
    for whole in np.flatnonzero(np.bincount(pairs[:, 1]) > 1):
        areas = [area_covered(layout, island) for island in pairs[pairs[:, 1] == whole, 0]]
        assert np.min(np.abs(np.subtract.outer(areas, areas)) + np.eye(len(areas))) < 1e-3
    folded = {tuple(row) for row in layout.edges.seam.tolist()} - kinds["seam"]
    for c, d in folded:
        face = np.searchsorted(layout.face_start, [c, d], side="right") - 1
        assert plain[face[0]] == plain[face[1]]
        assert layout.face_island[face[0]] != layout.face_island[face[1]]
    kinds["seam"] |= folded
    assert_edges_like_plain(layout, kinds)


def test_many_pages_on_one_spine_are_one_non_manifold_edge():
    pages = 3000
    turn = np.linspace(0, np.pi, pages)
    rim = np.column_stack([np.cos(turn), np.sin(turn), 0 * turn])
    position = np.concatenate([[(0, 0, 0), (0, 0, 1)], rim])
    uv = np.concatenate([[(0, 0), (0, 1)], np.column_stack([np.ones(pages), turn / 4])])
    faces = [(0, 1, k) for k in range(2, pages + 2)]
    (layout,) = build_layouts(shapes.asset(position, faces, uv))
    assert layout.island_count == 1
    assert len(layout.edges.nonmanifold) == pages
    assert len(layout.edges.border) == 2 * pages
    assert len(layout.edges.seam) == 0


def test_a_pole_whose_quads_collapse_to_a_point_has_no_seam_and_no_non_manifold_edge():
    sides = 500
    turn = 2 * np.pi * np.arange(sides) / sides
    position = [(0, 0, 1), *np.column_stack([np.cos(turn), np.sin(turn), 0 * turn])]
    k = np.arange(sides)
    faces = np.column_stack([1 + k, 1 + (k + 1) % sides, 0 * k, 0 * k])
    uv = np.concatenate(
        [np.column_stack([np.arange(sides + 1) / sides, np.full(sides + 1, row)]) for row in (0, 1)]
    )
    uv_faces = np.column_stack([k, k + 1, sides + 2 + k, sides + 1 + k])
    (layout,) = build_layouts(shapes.asset(position, faces, uv, uv_faces=uv_faces))
    assert layout.island_count == 1
    assert len(layout.edges.seam) == 1
    assert len(layout.edges.nonmanifold) == 0
    # The rim below, the pole above (no length in 3D) and both sides of the seam.
    assert len(layout.edges.outline) == 2 * sides + 2


def moebius(columns: int = 24) -> tuple[np.ndarray, np.ndarray]:
    k = np.arange(columns)
    turn = 2 * np.pi * k / columns
    rims = []
    for side in (-0.3, 0.3):
        reach = 1 + side * np.cos(turn / 2)
        rims.append(
            np.column_stack([reach * np.cos(turn), reach * np.sin(turn), side * np.sin(turn / 2)])
        )
    faces = np.column_stack([k, k + 1, columns + k + 1, columns + k])
    faces[-1] = (columns - 1, columns, 0, 2 * columns - 1)
    return np.concatenate(rims), faces


def test_a_moebius_strip_cut_once_has_one_seam_wound_against_itself():
    position, faces = moebius()
    columns = len(faces)
    k = np.arange(columns + 1) / columns
    uv = np.concatenate([np.column_stack([k, np.full(columns + 1, v)]) for v in (0.4, 0.6)])
    c = np.arange(columns)
    uv_faces = np.column_stack([c, c + 1, columns + 2 + c, columns + 1 + c])
    (layout,) = build_layouts(shapes.asset(position, faces, uv, uv_faces=uv_faces))
    assert layout.island_count == 1
    assert len(layout.edges.seam) == 1
    assert len(layout.edges.border) == 2 * columns


def test_a_leaf_with_two_sides_is_two_islands_on_each_other():
    position = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)]
    uv = [(0, 0), (1, 0), (1, 1), (0, 1)]
    (layout,) = build_layouts(shapes.asset(position, [(0, 1, 2, 3), (3, 2, 1, 0)], uv))
    assert layout.island_count == 2
    assert len(layout.edges.border) == 0
    assert len(layout.edges.seam) == 4
    assert len(layout.edges.outline) == 8


def test_a_bent_sheet_with_two_sides_is_two_islands_too():
    sheet = shapes.plane(columns=3, rows=3)
    faces = shapes.grid_faces(3, 3)
    both = shapes.asset(
        sheet.position, [*faces, *faces[:, ::-1]], sheet.uv_sets[0].uv
    )  # fmt: skip
    (layout,) = build_layouts(both)
    assert layout.face_island.tolist() == [0] * 9 + [1] * 9
    assert len(layout.edges.nonmanifold) == 4 * 12
    assert len(layout.edges.outline) == 2 * 12


@pytest.mark.parametrize("noise", [0.0, 3e-7])
def test_mirrored_halves_on_each_other_are_two_islands_with_a_seam_between(noise):
    sheet = shapes.plane(2, 1, columns=8, rows=4)

    def half(uv: np.ndarray) -> np.ndarray:
        shake = noise * np.sin(np.arange(len(uv))) * (uv[:, 0] > 0.5)
        return np.column_stack([np.abs(uv[:, 0] - 0.5) + shake, uv[:, 1]])

    (layout,) = build_layouts(shapes.textured(sheet, half))
    assert layout.island_count == 2
    assert len(layout.edges.seam) == 4
    assert len(layout.edges.border) == 24
    assert len(layout.edges.outline) == 32


def test_a_sheet_folded_over_in_part_is_one_island_that_ends_at_the_fold():
    sheet = shapes.plane(3, 1, columns=3)
    folded = shapes.textured(
        sheet, lambda uv: np.column_stack([np.abs(uv[:, 0] - 1 / 3), uv[:, 1]])
    )
    (layout,) = build_layouts(folded)
    assert layout.island_count == 1
    assert len(layout.edges.seam) == 0
    assert len(layout.edges.border) == 8
    assert len(layout.edges.outline) == 9


def test_a_single_flipped_triangle_stays_in_its_island():
    sheet = shapes.plane(columns=4, rows=4, triangles=True)
    uv = sheet.uv_sets[0].uv.copy()
    uv[12] += (0.3, 0.02)
    (layout,) = build_layouts(shapes.textured(sheet, lambda _: uv))
    assert layout.island_count == 1
    assert len(layout.edges.seam) == 0


def test_two_islands_that_touch_at_a_point_stay_two():
    position = [(0, 0, 0), (1, 0, 0), (0, 1, 0), (2, 0, 0), (1, 1, 0)]
    uv = np.array(position)[:, :2] / 2
    (layout,) = build_layouts(shapes.asset(position, [(0, 1, 2), (1, 3, 4)], uv))
    assert layout.island_count == 2
