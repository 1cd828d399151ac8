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
    kinds = plain_kinds(layout)
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
    assert_like_plain(layout)


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


def test_a_face_repeated_backwards_keeps_the_outline_of_the_island():
    position = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)]
    uv = [(0, 0), (1, 0), (1, 1), (0, 1)]
    (layout,) = build_layouts(shapes.asset(position, [(0, 1, 2, 3), (3, 2, 1, 0)], uv))
    assert layout.island_count == 1
    assert len(layout.edges.border) == 0
    assert len(layout.edges.outline) == 4


def test_a_sheet_folded_over_in_the_texture_ends_at_the_fold():
    sheet = shapes.plane(2, 1, columns=2)
    folded = shapes.textured(sheet, lambda uv: np.column_stack([np.abs(uv[:, 0] - 0.5), uv[:, 1]]))
    (layout,) = build_layouts(folded)
    assert layout.island_count == 1
    assert len(layout.edges.border) == 6
    assert len(layout.edges.outline) == 7


def test_two_islands_that_touch_at_a_point_stay_two():
    position = [(0, 0, 0), (1, 0, 0), (0, 1, 0), (2, 0, 0), (1, 1, 0)]
    uv = np.array(position)[:, :2] / 2
    (layout,) = build_layouts(shapes.asset(position, [(0, 1, 2), (1, 3, 4)], uv))
    assert layout.island_count == 2
