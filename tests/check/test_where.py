"""Places are found as by plain loops."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenweave.check.rules.where_kernels import heaviest_triangles, stretch_beyond

pytestmark = pytest.mark.kernels

TRIANGLES = st.lists(
    st.tuples(
        st.integers(0, 3),
        st.sampled_from([0.0, 0.5, 1.0, 2.0, float("nan")]),
        st.sampled_from([1.0, 1.5, 4.0, float("nan")]),
        st.sampled_from([-2.0, -1.0, 0.0, 1.0, float("nan")]),
    ),
    max_size=12,
)
WANTED = st.lists(st.booleans(), min_size=4, max_size=4)


@settings(deadline=None, derandomize=True, max_examples=100)
@given(TRIANGLES, WANTED)
def test_the_heaviest_triangle_of_each_wanted_island_is_found(
    triangles: list[tuple[int, float, float, float]], wanted: list[bool]
) -> None:
    island = np.array([t[0] for t in triangles], dtype=np.int32)
    weight = np.array([t[1] for t in triangles], dtype=np.float64)
    found = heaviest_triangles(island, np.array(wanted), weight)
    for i in range(4):
        own = np.flatnonzero(island == i)
        if not wanted[i] or len(own) == 0:
            assert found[i] == -1
        else:
            assert island[found[i]] == i
            least = np.nan_to_num(weight[own], nan=-1.0)
            assert np.nan_to_num(weight[found[i]], nan=-1.0) == least.max()


@settings(deadline=None, derandomize=True, max_examples=100)
@given(TRIANGLES, WANTED)
def test_stretch_beyond_a_limit_is_weighed_by_surface(
    triangles: list[tuple[int, float, float, float]], wanted: list[bool]
) -> None:
    island = np.array([t[0] for t in triangles], dtype=np.int32)
    area, s1, s2 = (np.array([t[k] for t in triangles], dtype=np.float64) for k in (1, 2, 3))
    area = np.nan_to_num(area)
    beyond = stretch_beyond(s1, s2, area, island, np.array(wanted), 1.25)
    for t in range(len(triangles)):
        is_meant = wanted[island[t]] and np.isfinite([s1[t], s2[t]]).all() and s2[t] != 0
        expected = max(s1[t] / abs(s2[t]) - 1.25, 0.0) * area[t] if is_meant else 0.0
        assert beyond[t] == pytest.approx(expected)
