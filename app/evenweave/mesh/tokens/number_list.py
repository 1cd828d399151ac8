"""Lists of numbers in the text of PLY and COLLADA files."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray
from evenweave.mesh.names import cleaned
from evenweave.mesh.tokens.number_list_kernels import count_words, read_words

_UNSURE_ROOM = 1024


class NotANumber(ValueError):
    """A word that is no number, and the byte it begins at."""

    def __init__(self, word: str, offset: int) -> None:
        super().__init__(word, offset)
        self.word = word
        self.offset = offset


def numbers(text: bytes) -> FloatArray:
    """Return all numbers of a text as float64, NaN for what is not finite.

    Every number is the one that `float()` reads. Raises `NotANumber`.
    """
    data = np.frombuffer(text, np.uint8)
    words = np.empty(count_words(data))
    unsure = np.empty((_UNSURE_ROOM, 3), np.int64)
    count, odd = read_words(data, words, unsure)
    if count > len(unsure):
        unsure = np.empty((count, 3), np.int64)
        count, odd = read_words(data, words, unsure)
    if odd >= 0:
        word = text[odd : odd + 40].split()[0].decode("utf-8", "replace")
        raise NotANumber(cleaned(word), odd)
    for place, begin, end in unsure[:count].tolist():
        value = float(text[begin:end])
        words[place] = value if np.isfinite(value) else np.nan
    return words
