"""Worst spots on sheets whose bad places are known."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from tests import shapes

from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout, Tile
from evenweave.measure.distortion.jacobian import measure_triangles
from evenweave.measure.islands.islands import measure_islands
from evenweave.measure.islands.spots import MEASURES, triangle_excess, worst_spots
from evenweave.measure.results import Measures
from evenweave.mesh.asset import Asset

pytestmark = pytest.mark.kernels

TILE = Tile(1024, 1024)
CELLS = 20


def measured(asset: Asset) -> tuple[Layout, Measures]:
    """The layout and as much of its measures as spots look at."""
    layout = build_layouts(asset)[0]
    triangle = measure_triangles(layout, TILE)
    island, whole = measure_islands(layout, TILE, triangle)
    found: Any = SimpleNamespace(triangle=triangle, island=island, whole=whole, tile=TILE)
    return layout, found


def sheet(change: Any) -> Asset:
    """A square metre of 20 x 20 quads; `change` moves its (N, 2) texture coordinates."""
    return shapes.textured(
        shapes.plane(1, 1, columns=CELLS, rows=CELLS, bounds=(0.1, 0.1, 0.9, 0.9)), change
    )


def squeezed_from(u0: float) -> Any:
    def change(uv: NDArray[np.float64]) -> NDArray[np.float64]:
        uv[:, 0] = np.where(uv[:, 0] > u0, u0 + (uv[:, 0] - u0) / 4, uv[:, 0])
        return uv

    return change


def test_the_stretched_part_of_a_sheet_is_one_spot_of_its_own_size() -> None:
    # The two columns at the right, a tenth of the sheet, are squeezed to a quarter.
    layout, found = measured(sheet(squeezed_from(0.82)))
    spots = worst_spots(layout, found, "stretch", 5)
    assert len(spots) == 1
    spot = spots[0]
    assert len(spot.triangles) == 2 * 2 * CELLS
    assert spot.value == pytest.approx(2.0, abs=1e-5)
    assert spot.badness == pytest.approx(2.0 * 0.1, rel=1e-5)
    assert spot.point[0] > 0.82
    assert spot.measure == "stretch"
    assert spot.island == 0


def test_spots_apart_from_one_another_come_worst_first() -> None:
    def change(uv: NDArray[np.float64]) -> NDArray[np.float64]:
        right = np.clip(uv[:, 0] - 0.82, 0, None)
        left = np.clip(0.14 - uv[:, 0], 0, None)
        uv[:, 0] += -0.75 * right + 0.75 * left
        return uv

    layout, found = measured(sheet(change))
    spots = worst_spots(layout, found, "stretch", 5, beyond=1.0)
    assert [len(spot.triangles) for spot in spots] == [2 * 2 * CELLS, 2 * CELLS]
    assert spots[0].badness > spots[1].badness
    assert len(worst_spots(layout, found, "stretch", 1, beyond=1.0)) == 1


def test_a_needle_never_leads_the_table() -> None:
    needle = shapes.moved(
        shapes.plane(1e-4, 1e-4, bounds=(0.95, 0.1, 0.950001, 0.2), part="needle"), np.eye(3)
    )
    layout, found = measured(shapes.together(needle, sheet(squeezed_from(0.82))))
    spots = worst_spots(layout, found, "stretch", 5, beyond=1.0)
    assert [spot.island for spot in spots] == [1, 0]
    assert spots[1].value > spots[0].value


def test_an_even_sheet_has_no_spots() -> None:
    layout, found = measured(sheet(lambda uv: uv))
    for name in MEASURES:
        assert worst_spots(layout, found, name, 5) == ()


def test_patches_of_two_islands_stay_apart_though_they_touch() -> None:
    one = shapes.plane(1, 1, bounds=(0.1, 0.1, 0.4, 0.2), part="one")
    two = shapes.moved(
        shapes.plane(1, 1, bounds=(0.4, 0.1, 0.7, 0.2), part="two"), np.eye(3), (5, 0, 0)
    )
    layout, found = measured(shapes.together(one, two))
    spots = worst_spots(layout, found, "stretch", 5, beyond=0.1)
    assert sorted(spot.island for spot in spots) == [0, 1]


def test_flipped_faces_are_found_whole() -> None:
    def change(uv: NDArray[np.float64]) -> NDArray[np.float64]:
        uv[:, 0] = np.where(uv[:, 0] > 0.82, 1.64 - uv[:, 0], uv[:, 0])
        return uv

    layout, found = measured(sheet(change))
    spots = worst_spots(layout, found, "flipped", 5)
    assert [len(spot.triangles) for spot in spots] == [2 * 2 * CELLS]
    assert spots[0].value == 1.0
    faces = np.unique(layout.triangle_face[spots[0].triangles])
    np.testing.assert_array_equal(faces, [f for f in range(CELLS**2) if f % CELLS >= 18])


def test_collapsed_faces_are_found() -> None:
    def change(uv: NDArray[np.float64]) -> NDArray[np.float64]:
        uv[:, 0] = np.minimum(uv[:, 0], 0.82)
        return uv

    layout, found = measured(sheet(change))
    spots = worst_spots(layout, found, "degenerate", 5)
    assert [len(spot.triangles) for spot in spots] == [2 * 2 * CELLS]
    faces = np.unique(layout.triangle_face[spots[0].triangles])
    np.testing.assert_array_equal(faces, [f for f in range(CELLS**2) if f % CELLS >= 18])


def test_excess_has_the_closed_form_of_each_measure() -> None:
    # A quad twice as dense along u, and one of the layout's median density.
    layout, found = measured(
        shapes.together(
            shapes.plane(1, 1, bounds=(0.0, 0.0, 0.4, 0.2), part="one"),
            shapes.moved(
                shapes.plane(2, 2, bounds=(0.5, 0.0, 0.9, 0.4), part="two"), np.eye(3), (0, 0, 1)
            ),
        )
    )
    island = layout.face_island[layout.triangle_face]
    stretch = triangle_excess(layout, found, "stretch")
    np.testing.assert_allclose(stretch[island == 0], 1.0, atol=1e-6)
    np.testing.assert_allclose(stretch[island == 1], 0.0, atol=1e-6)
    angle = triangle_excess(layout, found, "angle")
    # Snyder (4-9): sin(omega / 2) = |h - k| / (h + k), with h = 2 k.
    np.testing.assert_allclose(angle[island == 0], 2 * np.degrees(np.arcsin(1 / 3)), atol=1e-4)
    density = triangle_excess(layout, found, "density")
    np.testing.assert_allclose(density[island == 0], 0.5, atol=1e-6)
    np.testing.assert_allclose(density[island == 1], 0.0, atol=1e-6)
    np.testing.assert_allclose(triangle_excess(layout, found, "density-range"), 0.0, atol=1e-6)


def test_an_unknown_measure_is_refused() -> None:
    layout, found = measured(sheet(lambda uv: uv))
    with pytest.raises(ValueError, match="no measure is called 'beauty'"):
        worst_spots(layout, found, "beauty", 1)


def test_face_order_does_not_matter() -> None:
    asset = sheet(squeezed_from(0.82))
    shuffled, old_face = shapes.shuffled(asset, 4)
    layout, found = measured(asset)
    other, other_found = measured(shuffled)
    here = worst_spots(layout, found, "stretch", 1)[0]
    there = worst_spots(other, other_found, "stretch", 1)[0]
    assert there.badness == pytest.approx(here.badness, rel=1e-12)
    np.testing.assert_array_equal(
        np.unique(old_face[other.triangle_face[there.triangles]]),
        np.unique(layout.triangle_face[here.triangles]),
    )


def test_a_layout_without_faces_has_no_spots() -> None:
    asset = replace(shapes.plane(), uv_sets=())
    layout, found = measured(asset)
    assert worst_spots(layout, found, "stretch", 3) == ()
