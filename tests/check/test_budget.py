"""The fewest islands are blamed for a wrong order; against brute force on small sets."""

from itertools import combinations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from evenweave.check.rules.budget import _Order


def conflicts(order: _Order) -> list[tuple[int, int]]:
    """Every pair in conflict, by comparing each with each."""
    found = []
    for i, j in combinations(range(len(order.amount)), 2):
        low, high = (i, j) if order.importance[i] < order.importance[j] else (j, i)
        if order.importance[low] < order.importance[high]:
            more = order.amount[low] - order.amount[high]
            if more > order.limit + 1e-9:
                found.append((i, j))
    return found


ISLANDS = st.lists(
    st.tuples(
        st.sampled_from([0.5, 1.0, 2.0, 4.0]),
        st.one_of(st.integers(-8, 8).map(lambda k: k / 4), st.just(float("nan"))),
    ),
    min_size=1,
    max_size=12,
)


def order_of(islands: list[tuple[float, float]]) -> _Order:
    importance, amount = np.array(islands, dtype=np.float64).T
    return _Order(importance=importance, amount=amount, limit=0.25)


def nobody(order: _Order) -> NDArray[np.bool_]:
    return np.zeros(len(order.amount), dtype=bool)


@settings(deadline=None, derandomize=True, max_examples=200)
@given(ISLANDS)
def test_leaving_out_the_named_leaves_no_conflict_and_without_conflict_none_is_named(
    islands: list[tuple[float, float]],
) -> None:
    order = order_of(islands)
    named = order.fewest_to_blame(nobody(order))
    pairs = conflicts(order)
    assert all(named[i] or named[j] for i, j in pairs)
    assert named.any() == bool(pairs)
    assert not named[np.isnan(order.amount)].any()


@settings(deadline=None, derandomize=True, max_examples=200)
@given(ISLANDS)
def test_conflicts_are_counted_as_by_comparing_each_with_each(
    islands: list[tuple[float, float]],
) -> None:
    order = order_of(islands)
    count = np.zeros(len(islands))
    for pair in conflicts(order):
        count[list(pair)] += 1
    assert order._conflicts().tolist() == count.tolist()


def test_a_rich_and_a_poor_one_among_many_are_named_and_nobody_else() -> None:
    sound = [(1.0, 0.0)] * 6 + [(0.5, -1.0)] * 5
    order = order_of([*sound, (0.5, 1.0), (1.0, -3.0)])
    assert np.flatnonzero(order.fewest_to_blame(nobody(order))).tolist() == [11, 12]


def test_of_two_in_one_conflict_the_preferred_one_is_named() -> None:
    order = order_of([(2.0, -1.0), (1.0, 0.0)])
    for preferred in (0, 1):
        is_preferred = nobody(order)
        is_preferred[preferred] = True
        assert np.flatnonzero(order.fewest_to_blame(is_preferred)).tolist() == [preferred]
