"""Flattenings that may not lie on themselves, beside SLIM, which may, and beside closed forms."""

import numpy as np
import pytest
import shapely
from tests.shapes import Asset, patch
from tests.trial import solids

from evenweave.trial.flatten.contact import cleared
from evenweave.trial.flatten.flatten import best_flattening, quick_flattening, scored, settled
from evenweave.trial.flatten.scaffold import contactless
from evenweave.trial.flatten.solvers import slim, tutte
from evenweave.trial.flatten.surface import Surface, pieces


def only(one: Asset) -> Surface:
    (surface,) = pieces(solids.island(one))
    return surface


def road(turns: float) -> Asset:
    """A road that winds in the plane of its texture; from one turn on it lies on itself."""

    def place(s: np.ndarray, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        angle = 2 * np.pi * turns * s
        return (1 + 0.5 * t) * np.cos(angle), (1 + 0.5 * t) * np.sin(angle)

    return patch(lambda s, t: (*place(s, t), 0.3 * s + 0 * t), place, columns=72, rows=3)


def covered(surface: Surface, uv: np.ndarray) -> float:
    """Return the area of the union of all triangles over the sum of their areas."""
    shapes = np.asarray(shapely.polygons(uv[surface.triangle]))
    return float(shapely.union_all(shapes).area / shapely.area(shapes).sum())


@pytest.mark.parametrize("start", ["tutte", "present"])
def test_no_sweep_brings_parts_onto_each_other(start: str) -> None:
    """The open elbow: SLIM from the same start lies on itself."""
    surface = only(solids.elbow())
    first = tutte(surface.solid_m, surface.triangle, surface.rims)
    if start == "present":
        first = best_flattening(surface, deadline=0.0).uv
    first = scored(surface, first).uv
    if scored(surface, first).energy.flips:
        first = scored(surface, tutte(surface.solid_m, surface.triangle, surface.rims)).uv
    free = slim(surface.solid_m, surface.triangle, first, 50, settled=0.0)
    found = contactless(surface, first, 60, settled=0.0)
    before, after = scored(surface, first), scored(surface, found)
    assert covered(surface, free) < 1 - 1e-4
    assert covered(surface, found) == pytest.approx(1.0, abs=1e-9)
    assert after.is_sound
    assert after.energy.value < before.energy.value
    assert after.energy.value < 1.01 * scored(surface, free).energy.value


def test_a_sheet_comes_back_to_its_true_shape() -> None:
    """Without any stretch, from a start in which everything is wrong but nothing flips."""
    surface = only(solids.grid(
        lambda s, t: (2 * s, t, 0 * s), (8, 4), closed=(False, False),
        texture=lambda p: np.stack([p[:, 0], p[:, 1] * (0.3 + p[:, 0] ** 2)], axis=1),
    ))  # fmt: skip
    found = scored(surface, contactless(surface, scored(surface, surface.uv).uv, 100, settled=0.0))
    assert found.energy.value == pytest.approx(1.0, abs=1e-3)


def test_a_road_of_little_more_than_a_turn_is_drawn_off_itself() -> None:
    surface = only(road(1.1))
    quick = quick_flattening(surface, 10)
    assert quick is not None
    assert quick.overlap > 0.05
    found = settled(surface, quick)
    assert found.is_sound
    assert covered(surface, found.uv) == pytest.approx(1.0, abs=1e-9)
    assert found.energy.value < quick.energy.value + 0.1


def bracket(rim: float) -> Asset:
    """Three squares in an L, with a rim turned down along both edges of the inner corner.

    Laid out, both rims want the same square of that size beside the corner.
    """
    point = [[x, y, 0.0] for y in range(3) for x in range(3)]
    # A hair apart, or they would be one point.
    point += [[1, 1.001, -rim], [1, 2, -rim], [1.001, 1, -rim], [2, 1, -rim]]
    faces = [[0, 1, 4, 3], [1, 2, 5, 4], [3, 4, 7, 6], [4, 9, 10, 7], [4, 5, 12, 11]]
    return solids.solid(np.array(point), faces, lambda p: p[:, :2] + p[:, 2:] * [0.3, 0.2])


def test_a_sliver_is_drawn_apart_where_it_is() -> None:
    """Closed form: of 3.2 square metres 0.01 lie on each other."""
    surface = only(bracket(0.1))
    quick = quick_flattening(surface, 10)
    assert quick is not None
    assert quick.overlap == pytest.approx(0.01 / 3.2, rel=0.05)
    uv = cleared(surface, quick.uv)
    assert uv is not None
    found = scored(surface, uv)
    assert found.is_sound
    assert covered(surface, found.uv) == pytest.approx(1.0, abs=1e-9)
    assert found.energy.value < quick.energy.value + 0.02


def test_a_start_that_lies_on_itself_is_given_back() -> None:
    surface = only(road(1.5))
    quick = quick_flattening(surface, 10)
    assert quick is not None
    np.testing.assert_array_equal(contactless(surface, quick.uv, 5), quick.uv)
