"""Rows of a picture in bands, worked on by a few threads. Kernels release the GIL."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from itertools import pairwise

from evenweave.threads import cores

WORKERS = cores()
_BANDS_PER_WORKER = 3
_LEAST_ROWS = 16


@cache
def _pool() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(WORKERS, thread_name_prefix="raster")


def bands(height: int) -> list[tuple[int, int]]:
    """Cut rows 0 to height into (first, end) bands of nearly equal height."""
    count = max(1, min(WORKERS * _BANDS_PER_WORKER, height // _LEAST_ROWS))
    cuts = [height * index // count for index in range(count + 1)]
    return list(pairwise(cuts))


def over_bands(length: int, work: Callable[[int, int], object]) -> None:
    """Call work(first, end) for every band; the caller's thread works too.

    The bands are independent, so the result does not depend on who does which.
    """
    waiting = bands(length)
    waiting.reverse()

    def take() -> None:
        while True:
            try:
                first, end = waiting.pop()
            except IndexError:
                return
            work(first, end)

    helpers = [_pool().submit(take) for _ in range(min(WORKERS, len(waiting)) - 1)]
    take()
    for helper in helpers:
        helper.result()
