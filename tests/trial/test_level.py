"""Levelling gives every island its density, keeps the area, and counts stacks once."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.trial.layouts import TILE, box, layout, polygons

from evenweave.layout.layout import Layout
from evenweave.measure.results import Stacks
from evenweave.measure.stacks.stacks import find_stacks
from evenweave.trial.pack.level import Levelled, LevelOptions, level
from evenweave.trial.uvs.retexture import retextured
from evenweave.trial.work.worker import NoAdvice


def stacks(one: Layout) -> Stacks:
    return find_stacks(one, TILE)


def areas(one: Layout) -> np.ndarray:
    return np.array([np.ptp(p[:, 0]) * np.ptp(p[:, 1]) for p in polygons(one)])


def levelled(one: Layout, **options: object) -> Levelled:
    return level(one, TILE, LevelOptions(**options), stacks=stacks(one))  # type: ignore[arg-type]


UNEVEN = layout(
    [box(0.1, 0.2), box(0.3, 0.1, (0.3, 0)), box(0.2, 0.2, (0.7, 0.4))], [1.0, 2.0, 0.5]
)


def test_all_islands_get_one_density_and_the_area_stays() -> None:
    found = levelled(UNEVEN)
    after = retextured(UNEVEN, found.change)
    np.testing.assert_allclose(found.density_after, found.density, rtol=1e-12)
    assert areas(after).sum() == pytest.approx(areas(UNEVEN).sum(), rel=1e-6)
    # Closed form: c = N sqrt(sum of texture areas / sum of surfaces), common practice, no source.
    surface = areas(UNEVEN) * np.array([1.0, 4.0, 0.25])
    assert found.density == pytest.approx(1024 * np.sqrt(areas(UNEVEN).sum() / surface.sum()))


def test_densities_go_with_importance() -> None:
    found = levelled(UNEVEN, importance=(1.0, 2.0, 0.5))
    np.testing.assert_allclose(found.density_after / found.density, [1.0, 2.0, 0.5], rtol=1e-12)


def test_a_given_density_is_met() -> None:
    found = levelled(UNEVEN, density=700.0)
    np.testing.assert_allclose(found.density_after, 700.0, rtol=1e-12)


def test_islands_stay_about_the_middle_of_their_bounds() -> None:
    after = retextured(UNEVEN, levelled(UNEVEN).change)
    for old, new in zip(polygons(UNEVEN), polygons(after), strict=True):
        np.testing.assert_allclose(
            (old.min(0) + old.max(0)) / 2, (new.min(0) + new.max(0)) / 2, atol=2**-23
        )


@settings(deadline=None, max_examples=40, derandomize=True)
@given(
    st.lists(st.floats(0.05, 20.0), min_size=2, max_size=12),
    st.floats(0.3, 1.0),
    st.floats(1.0, 3.0),
)
def test_limits_hold_and_the_area_is_kept_as_far_as_they_allow(
    metres: list[float], least: float, most: float
) -> None:
    one = layout([box(0.05, 0.05, (0.07 * k, 0.0)) for k in range(len(metres))], metres)
    found = levelled(one, least=least, most=most)
    assert found.scale.min() >= least
    assert found.scale.max() <= most
    assert (areas(one) * found.scale**2).sum() == pytest.approx(areas(one).sum(), rel=1e-9)
    free = ~found.is_limited
    np.testing.assert_allclose(found.density_after[free], found.density, rtol=1e-9)


def test_stacks_are_scaled_alike_and_count_once() -> None:
    one = layout([box(0.1, 0.1), box(0.1, 0.1), box(0.2, 0.1, (0.5, 0.5))], [1.0, 1.0, 2.0])
    assert stacks(one).group == ((0, 1),)
    found = levelled(one)
    after = retextured(one, found.change)
    assert stacks(after).group == ((0, 1),)
    assert found.scale[0] == found.scale[1]
    kept = 0.01 * found.scale[0] ** 2 + 0.02 * found.scale[2] ** 2
    assert kept == pytest.approx(0.03)


def test_a_stack_is_as_important_as_its_most_important_member() -> None:
    one = layout([box(0.1, 0.1), box(0.1, 0.1), box(0.2, 0.1, (0.5, 0.5))])
    found = levelled(one, importance=(1.0, 3.0, 1.0))
    assert found.density_after[0] == pytest.approx(3 * found.density_after[2])


def test_even_islands_are_left_alone() -> None:
    one = layout([box(0.25, 0.25), box(0.125, 0.25, (0.5, 0.5))])
    assert len(levelled(one, density=1024.0).change.corner) == 0


def test_islands_without_area_keep_their_size() -> None:
    line = np.array([[0.1, 0.1], [0.2, 0.2], [0.3, 0.3]])
    found = levelled(layout([box(0.1, 0.1), line, box(0.1, 0.2, (0.5, 0))], [1.0, 1.0, 2.0]))
    assert found.scale[1] == 1
    assert np.isnan(found.density_after[1])


def test_nothing_to_level_is_said() -> None:
    line = np.array([[0.1, 0.1], [0.2, 0.2], [0.3, 0.3]])
    with pytest.raises(NoAdvice, match="no island has a density"):
        levelled(layout([line]))
