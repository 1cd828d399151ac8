"""Weighted quantiles against sorting."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenweave.measure.islands.quantile_kernels import weighted_quantiles

pytestmark = pytest.mark.kernels

QUICK = settings(deadline=None, max_examples=80, derandomize=True)
SHARES = np.array([0.05, 0.5, 0.95])


def quantiles(value: np.ndarray, weight: np.ndarray, share: np.ndarray = SHARES) -> np.ndarray:
    answer = np.full(len(share), np.nan)
    rest_key = np.empty((len(share), len(value)), dtype=np.int64)
    rest_weight = np.empty((len(share), len(value)))
    weighted_quantiles(
        value.view(np.int64), weight, share, answer.view(np.int64), rest_key, rest_weight
    )
    return answer


def sorted_quantiles(value: np.ndarray, weight: np.ndarray, share: np.ndarray) -> np.ndarray:
    order = np.argsort(value, kind="stable")
    held = np.cumsum(weight[order])
    place = np.searchsorted(held, (share - 1e-12) * held[-1])
    return value[order][np.minimum(place, len(value) - 1)]


@QUICK
@given(seed=st.integers(0, 2**32 - 1), size=st.integers(1, 5000), spread=st.floats(0, 300))
def test_any_values_have_the_quantiles_of_their_sorted_order(seed, size, spread):
    random = np.random.default_rng(seed)
    value = np.exp((random.normal(size=size) * spread).clip(-600, 600))
    weight = random.random(size) ** 4
    np.testing.assert_array_equal(quantiles(value, weight), sorted_quantiles(value, weight, SHARES))


@QUICK
@given(seed=st.integers(0, 2**32 - 1), size=st.integers(1, 2000), distinct=st.integers(1, 5))
def test_repeated_values_have_the_quantiles_of_their_sorted_order(seed, size, distinct):
    random = np.random.default_rng(seed)
    value = random.integers(1, distinct + 1, size).astype(float)
    weight = random.random(size)
    np.testing.assert_array_equal(quantiles(value, weight), sorted_quantiles(value, weight, SHARES))


def test_a_quantile_is_the_least_value_up_to_which_the_share_of_the_weight_lies():
    value, weight = np.array([4.0, 1.0, 3.0, 2.0]), np.ones(4)
    np.testing.assert_array_equal(quantiles(value, weight), [1, 2, 4])
    np.testing.assert_array_equal(quantiles(value, weight, np.array([0.25, 0.26, 1.0])), [1, 2, 4])


def test_one_outlier_far_away_hides_nothing():
    value = np.concatenate([1 + np.arange(1000) / 1000, [1e200]])
    np.testing.assert_array_equal(
        quantiles(value, np.ones(1001)), sorted_quantiles(value, np.ones(1001), SHARES)
    )


def test_without_weight_there_is_no_quantile():
    assert np.isnan(quantiles(np.array([1.0, 2.0]), np.zeros(2))).all()
