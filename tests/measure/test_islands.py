"""Measures of islands: shapes worked by hand, bounds at tile edges, invariance."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests import shapes
from tests.measure import island_energies

from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.distortion import distortion
from evenweave.measure.distortion.jacobian import measure_triangles
from evenweave.measure.islands.islands import measure_islands
from evenweave.measure.results import IslandMeasures, LayoutMeasures, TriangleMeasures
from evenweave.mesh.asset import Asset

pytestmark = pytest.mark.kernels

QUICK = settings(deadline=None, max_examples=20, derandomize=True)
UNIT = Tile(1, 1)


def measured(asset: Asset, tile: Tile = UNIT) -> tuple[IslandMeasures, LayoutMeasures]:
    (layout,) = build_layouts(asset)
    return measure_islands(layout, tile, measure_triangles(layout, tile))


def test_a_sheet_stretched_two_to_one_has_the_values_worked_by_hand():
    islands, whole = measured(shapes.plane(2, 1, columns=4, rows=3), Tile(512, 512))
    assert islands.faces.tolist() == [12]
    assert islands.triangles.tolist() == [24]
    assert islands.surface_m2[0] == pytest.approx(2)
    assert islands.area_uv[0] == pytest.approx(1)
    for name in ("median", "p5", "p95", "min", "max"):
        value = getattr(islands, f"density_{name}")[0]
        assert value == pytest.approx(512 / np.sqrt(2), rel=1e-6)
    for name in ("median", "p95", "max"):
        assert getattr(islands, f"stretch_{name}")[0] == pytest.approx(2, rel=1e-6)
    # sqrt(5) / 2, sqrt(2) and 5 / 4: a scale of 1 and 1/2, normalised.
    assert islands.stretch_l2[0] == pytest.approx(1.118034, rel=1e-6)
    assert islands.stretch_linf[0] == pytest.approx(1.414214, rel=1e-6)
    assert islands.dirichlet[0] == pytest.approx(1.25, rel=1e-6)
    assert islands.flipped_triangles.tolist() == [0]
    assert whole.surface_m2 == pytest.approx(2)
    assert whole.stretch_l2 == pytest.approx(1.118034, rel=1e-6)
    assert whole.density_median == pytest.approx(512 / np.sqrt(2), rel=1e-6)


@pytest.mark.parametrize("asset", [shapes.cylinder(), shapes.cone(), shapes.cube()])
def test_unrolled_developable_surfaces_have_no_stretch(asset):
    islands, _ = measured(asset, Tile(2048, 2048))
    assert islands.stretch_max[0] == pytest.approx(1, abs=1e-5)
    assert islands.stretch_l2[0] == pytest.approx(1, abs=1e-5)
    assert islands.stretch_linf[0] == pytest.approx(1, abs=1e-5)
    assert islands.dirichlet[0] == pytest.approx(1, abs=1e-9)


def test_quantiles_are_weighted_by_surface():
    # Ten metres at density 1, one metre at density 2, one at density 4.
    pieces = [
        shapes.plane(10, 1, bounds=(0, 0, 10, 1)),
        shapes.moved(shapes.plane(1, 1, bounds=(0, 2, 2, 4)), np.eye(3), (0, 5, 0)),
        shapes.moved(shapes.plane(1, 1, bounds=(4, 2, 8, 6)), np.eye(3), (0, 9, 0)),
    ]
    islands, whole = measured(shapes.together(*pieces))
    np.testing.assert_allclose(islands.density_median, [1, 2, 4])
    assert whole.density_median == pytest.approx(1)
    assert whole.density_p95 == pytest.approx(4)
    assert whole.density_p5 == pytest.approx(1)
    assert whole.area_uv == pytest.approx(10 + 4 + 16)


def test_a_mirrored_island_is_wholly_flipped_and_no_less_even():
    mirrored = shapes.textured(shapes.cone(), lambda uv: uv * [-1, 1] + [1, 0])
    islands, _ = measured(mirrored)
    plain, _ = measured(shapes.cone())
    assert islands.flipped_triangles[0] == islands.triangles[0]
    assert islands.flipped_share[0] == 1
    assert islands.dirichlet[0] == pytest.approx(plain.dirichlet[0])
    assert islands.stretch_l2[0] == pytest.approx(plain.stretch_l2[0])


def test_a_sheet_folded_over_is_flipped_in_the_folded_share():
    sheet = shapes.plane(4, 1, columns=4)
    folded = shapes.textured(
        sheet, lambda uv: np.column_stack([0.75 - np.abs(uv[:, 0] - 0.75), uv[:, 1]])
    )
    islands, _ = measured(folded)
    assert islands.flipped_triangles.tolist() == [2]
    assert islands.flipped_share[0] == pytest.approx(0.25)


def test_degenerate_triangles_are_counted_once_and_measured_nowhere():
    sheet = shapes.plane(3, 1, columns=3)
    pressed = shapes.textured(
        sheet, lambda uv: np.column_stack([np.minimum(uv[:, 0], 2 / 3), uv[:, 1]])
    )
    islands, _ = measured(pressed)
    assert islands.degenerate_triangles.tolist() == [2]
    assert islands.flipped_triangles.tolist() == [0]
    assert islands.triangles.tolist() == [6]
    assert islands.surface_m2[0] == pytest.approx(3)
    assert islands.density_min[0] == pytest.approx(np.sqrt(1 / 3), rel=1e-6)
    assert np.isfinite(islands.stretch_max[0])


def test_an_island_without_a_measurable_triangle_has_no_values():
    islands, whole = measured(shapes.textured(shapes.plane(), lambda uv: 0 * uv))
    for name in ("density_median", "stretch_max", "stretch_l2", "dirichlet", "flipped_share"):
        assert np.isnan(getattr(islands, name)[0])
    assert np.isnan(whole.density_median)
    assert whole.area_uv == 0


def test_an_empty_layout_has_no_islands_and_no_values():
    islands, whole = measured(shapes.asset(shapes.CUBE_POSITION, shapes.CUBE_FACES))
    assert len(islands.faces) == 0
    assert whole.surface_m2 == 0
    assert np.isnan(whole.stretch_max)


@pytest.mark.parametrize(
    ("bounds", "tile", "crosses"),
    [
        ((0, 0, 1, 1), (0, 0), False),
        ((1, 0, 2, 1), (1, 0), False),
        ((-1, -1, 0, 0), (-1, -1), False),
        ((3.25, 2, 3.75, 3), (3, 2), False),
        ((0.5, 0, 1.5, 1), (1, 0), True),
        ((0, 0.2, 1, 1.001), (0, 0), True),
        ((-0.001, 0, 1, 1), (0, 0), True),
        ((0, 0, 1 + 2.0**-23, 1), (0, 0), False),
        ((4.5, 0, 5 + 2.0**-21, 1), (4, 0), False),
        ((0, 0, 1 + 2.0**-20, 1), (0, 0), True),
    ],
)
def test_an_island_lies_in_the_tile_of_its_middle_and_may_touch_its_edges(bounds, tile, crosses):
    islands, _ = measured(shapes.plane(bounds=bounds))
    np.testing.assert_allclose(islands.bounds[0], bounds, atol=2.0**-25)
    assert tuple(islands.tile[0]) == tile
    assert islands.crosses_tile.tolist() == [crosses]


def by_hand(layout: Layout, triangles: TriangleMeasures, island: int) -> dict[str, float]:
    """Return an island's measures by numpy, from the measures of its triangles."""
    mine = layout.face_island[layout.triangle_face] == island
    weight = triangles.area_m2[mine]
    s1, s2 = triangles.s1[mine], triangles.s2[mine]
    scale = np.sqrt(np.abs(triangles.area_px[mine]).sum() / weight.sum())
    squares = np.average(s1**2 + s2**2, weights=weight)
    inverse = np.average(s1**-2.0 + s2**-2.0, weights=weight)
    best = (inverse / squares) ** 0.25
    energy = island_energies.symmetric_dirichlet(s1, s2, best)
    squared_l2 = np.average(island_energies.l2_stretch(s1, s2) ** 2, weights=weight)
    result = {
        "stretch_l2": np.sqrt(squared_l2) * scale,
        "stretch_linf": island_energies.linf_stretch(s1, s2).max() * scale,
        "dirichlet": np.average(energy, weights=weight),
    }  # fmt: skip
    for name in ("density", "stretch"):
        value = getattr(distortion, name)(s1, s2)
        order = np.argsort(value)
        held = np.cumsum(weight[order]) / weight.sum()
        for label, share in (("p5", 0.05), ("median", 0.5), ("p95", 0.95)):
            result[f"{name}_{label}"] = value[order][np.searchsorted(held, share - 1e-12)]
        result[f"{name}_max"] = value.max()
    result.pop("stretch_p5")
    return result


@QUICK
@given(seed=st.integers(0, 2**32 - 1))
def test_islands_have_the_measures_worked_out_by_numpy(seed):
    random = np.random.default_rng(seed)
    asset = shapes.textured(shapes.tori(4), lambda uv: uv + random.normal(size=uv.shape) / 400)
    (layout,) = build_layouts(shapes.shuffled(asset, seed)[0])
    triangles = measure_triangles(layout, Tile(300, 200))
    islands, _ = measure_islands(layout, Tile(300, 200), triangles)
    is_sound = islands.flipped_triangles == 0
    for island in np.flatnonzero(is_sound).tolist():
        for name, value in by_hand(layout, triangles, island).items():
            assert getattr(islands, name)[island] == pytest.approx(value, rel=1e-9), name


@QUICK
@given(seed=st.integers(0, 2**32 - 1))
def test_order_of_faces_sharing_of_vertices_and_rigid_motion_change_no_measure(seed):
    random = np.random.default_rng(seed)
    bent = shapes.textured(shapes.tori(5), lambda uv: uv + 0.02 * np.sin(9 * uv[:, ::-1]))
    q, _ = np.linalg.qr(random.normal(size=(3, 3)))
    other = shapes.moved(bent, q * np.linalg.det(q), random.normal(size=3))
    other, _ = shapes.shuffled(shapes.unwelded(other), seed)
    (layout,) = build_layouts(other)
    islands, whole = measure_islands(layout, UNIT, measure_triangles(layout, UNIT))
    (first_layout,) = build_layouts(bent)
    first, first_whole = measure_islands(
        first_layout, UNIT, measure_triangles(first_layout, UNIT)
    )  # fmt: skip
    mine = np.argsort(layout.island_name)
    theirs = np.argsort(first_layout.island_name)
    for field in dataclasses.fields(IslandMeasures):
        np.testing.assert_allclose(
            getattr(islands, field.name)[mine], getattr(first, field.name)[theirs], rtol=1e-6,
            err_msg=field.name,
        )  # fmt: skip
    np.testing.assert_allclose(
        dataclasses.astuple(whole), dataclasses.astuple(first_whole), rtol=1e-6
    )
