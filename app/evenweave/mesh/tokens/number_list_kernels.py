"""A whole text of numbers, separated by blanks and line ends."""

from __future__ import annotations

import numpy as np
from numba import njit

from evenweave.mesh.tokens.number_kernels import MALFORMED, UNSURE, read_real
from evenweave.mesh.tokens.word_kernels import BLANK, CLASS, LINE_END, word_end


@njit(cache=True, nogil=True)
def _next(data: np.ndarray, i: int) -> int:
    """Return the place of the next word, over line ends too."""
    while i < len(data):
        if CLASS[data[i]] not in (BLANK, LINE_END):
            break
        i += 1
    return i


@njit(cache=True, nogil=True)
def count_words(data: np.ndarray) -> int:
    """Return how many words a text has."""
    words = 0
    i = _next(data, 0)
    while i < len(data):
        words += 1
        i = _next(data, word_end(data, i, len(data)))
    return words


@njit(cache=True, nogil=True)
def read_words(data: np.ndarray, words: np.ndarray, unsure: np.ndarray) -> tuple[int, int]:
    """Read every word as a number into `words`, NaN where it is none that is finite.

    unsure : (., 3) int64, filled with word, first byte and end where `float()` must decide
    Returns how many are unsure (beyond the room they are only counted), and the place of the
    first word that is no number, or -1.
    """
    i = _next(data, 0)
    word = unsure_count = 0
    while i < len(data):
        start = i
        words[word], kind, i = read_real(data, start, len(data))
        if kind == MALFORMED:
            return unsure_count, start
        if kind == UNSURE:
            if unsure_count < len(unsure):
                unsure[unsure_count, 0] = word
                unsure[unsure_count, 1] = start
                unsure[unsure_count, 2] = i
            unsure_count += 1
        word += 1
        i = _next(data, i)
    return unsure_count, -1
