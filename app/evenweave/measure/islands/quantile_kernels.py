# mypy: allow-untyped-defs, allow-untyped-calls
"""Kernel for exact weighted quantiles without sorting."""

from __future__ import annotations

import numpy as np
from numba import njit

_FEW = 24
_MOST_BINS = 2048
# Sums of weights are compared up to rounding, so that the answer does not hang on their order.
_SLACK = 1e-12


@njit(cache=True, nogil=True)
def weighted_quantiles(key, weight, share, quantile, rest_key, rest_weight):
    """Write to `quantile` (K,) int64 the key at each share (K,) float64 of the total weight.

    key : (N,) int64, not negative; a positive float64 seen as int64 is ordered like the number.
    share ascends. rest_key, rest_weight : (K, N) or larger, to work in.
    The quantile is the least key such that keys up to it hold at least `share` of the weight.
    Nothing is written where there is no weight.

    Keys are counted into bins of equal width; the bin that holds the quantile is cut into bins
    again until few keys are left. Bits of floats spread like logarithms, so that outliers do
    not crowd the others into one bin.
    """
    bins = 16
    while bins < _MOST_BINS and bins * 4 < len(key):
        bins *= 2
    bin_weight = np.empty(bins, dtype=np.float64)
    least, shift = _fill_bins(key, weight, len(key), bins, bin_weight)
    total = bin_weight.sum()
    if not total > 0:
        return
    wanted = len(share)
    chosen, need = np.empty(wanted, dtype=np.int64), np.empty(wanted, dtype=np.float64)
    # Which list the keys of a bin go to; quantiles in one bin share the first one's list.
    bin_list, list_of = np.full(bins, -1, dtype=np.int64), np.empty(wanted, dtype=np.int64)
    for k in range(wanted):
        chosen[k], need[k] = _bin_of(bin_weight, bins, (share[k] - _SLACK) * total)
        if bin_list[chosen[k]] < 0:
            bin_list[chosen[k]] = k
        list_of[k] = bin_list[chosen[k]]
    count = np.zeros(wanted, dtype=np.int64)
    for i in range(len(key)):
        k = bin_list[(key[i] - least) >> shift]
        if k >= 0:
            rest_key[k, count[k]], rest_weight[k, count[k]] = key[i], weight[i]
            count[k] += 1
    # A list is narrowed in place, so the sharers of a list copy it first.
    for k in range(wanted - 1, -1, -1):
        own = list_of[k]
        if own != k:
            rest_key[k, : count[own]] = rest_key[own, : count[own]]
            rest_weight[k, : count[own]] = rest_weight[own, : count[own]]
        quantile[k] = _narrow(rest_key[k], rest_weight[k], count[own], need[k])


@njit(cache=True, nogil=True)
def _fill_bins(key, weight, count, bins, bin_weight):
    least = greatest = key[0]
    for i in range(1, count):
        least, greatest = min(least, key[i]), max(greatest, key[i])
    shift = 0
    while (greatest - least) >> shift >= bins:
        shift += 1
    bin_weight[:bins] = 0.0
    for i in range(count):
        bin_weight[(key[i] - least) >> shift] += weight[i]
    return least, shift


@njit(cache=True, nogil=True)
def _bin_of(bin_weight, bins, need):
    """Return the bin in which the sum of weights reaches `need`, and what is needed in it."""
    last = 0
    for b in range(bins):
        if bin_weight[b] > 0:
            if bin_weight[b] >= need:
                return b, need
            need -= bin_weight[b]
            last = b
    return last, np.inf


@njit(cache=True, nogil=True)
def _collect(key, weight, count, least, shift, chosen, rest_key, rest_weight):
    """Copy the keys in one bin; the target may be the source."""
    rest = 0
    for i in range(count):
        k, w = key[i], weight[i]
        if (k - least) >> shift == chosen:
            rest_key[rest], rest_weight[rest] = k, w
            rest += 1
    return rest


@njit(cache=True, nogil=True)
def _narrow(key, weight, count, need):
    """Return the least key up to which the weights sum to `need` (the greatest key if none)."""
    bins = 64
    bin_weight = np.empty(bins, dtype=np.float64)
    while count > _FEW:
        least, shift = _fill_bins(key, weight, count, bins, bin_weight)
        chosen, need = _bin_of(bin_weight, bins, need)
        count = _collect(key, weight, count, least, shift, chosen, key, weight)
        if shift == 0:
            return key[0]
    for i in range(1, count):
        k, w, j = key[i], weight[i], i - 1
        while j >= 0 and key[j] > k:
            key[j + 1], weight[j + 1] = key[j], weight[j]
            j -= 1
        key[j + 1], weight[j + 1] = k, w
    for i in range(count):
        need -= weight[i]
        if need <= 0:
            return key[i]
    return key[count - 1]
