"""Words and lines in the bytes of a text file.

Every pass over a file takes its steps from these functions alone, so that two passes cannot
disagree on where a line or a word ends. A line ends at a line feed or a carriage return; a
backslash before it joins the next line, except in a comment; `#` begins a comment.

The smallest functions are inlined by numba itself: a call that passes an array counts
references, and that took a third of the time of reading a file.
"""

# mypy: disable-error-code="no-any-return,return-value"
# (numpy scalars stand for plain numbers inside kernels)

from __future__ import annotations

import numpy as np
from numba import njit

PLAIN, BLANK, LINE_END, COMMENT, BACKSLASH = range(5)

CLASS = np.zeros(256, np.uint8)
CLASS[[9, 11, 12, 32]] = BLANK
CLASS[[10, 13]] = LINE_END
CLASS[ord("#")] = COMMENT
CLASS[ord("\\")] = BACKSLASH


@njit(cache=True, nogil=True, inline="always")
def skip_blanks(data: np.ndarray, i: int, end: int) -> int:
    """Return the place of the next byte that is not blank, passing over joined line ends."""
    while i < end and CLASS[data[i]] == BLANK:
        i += 1
    if i < end and CLASS[data[i]] == BACKSLASH:
        return _skip_joined(data, i, end)
    return i


@njit(cache=True, nogil=True)
def _skip_joined(data: np.ndarray, i: int, end: int) -> int:
    while i < end:
        if CLASS[data[i]] == BLANK:
            i += 1
            continue
        behind = after_joint(data, i, end)
        if behind == i:
            break
        i = behind
    return i


@njit(cache=True, nogil=True)
def after_joint(data: np.ndarray, i: int, end: int) -> int:
    """Return the place behind a backslash that joins two lines, or `i` if there is none."""
    if CLASS[data[i]] != BACKSLASH:
        return i
    if i + 1 == end:
        return end
    if data[i + 1] == 13 and i + 2 < end and data[i + 2] == 10:
        return i + 3
    return i + 2 if CLASS[data[i + 1]] == LINE_END else i


@njit(cache=True, nogil=True)
def at_word(data: np.ndarray, i: int, end: int) -> bool:
    """Tell whether a word stands at `i`, where `skip_blanks` stopped."""
    return i < end and (CLASS[data[i]] == PLAIN or CLASS[data[i]] == BACKSLASH)


@njit(cache=True, nogil=True)
def word_end(data: np.ndarray, i: int, end: int) -> int:
    """Return the end of the word at `i`: at least one byte further."""
    i += 1
    while i < end and CLASS[data[i]] == PLAIN:
        i += 1
    return i


@njit(cache=True, nogil=True)
def is_word_end(data: np.ndarray, i: int, end: int) -> bool:
    """Tell whether a number may end at `i`: a backslash must join lines there."""
    if i >= end or CLASS[data[i]] == PLAIN:
        return i >= end
    return CLASS[data[i]] != BACKSLASH or after_joint(data, i, end) != i


@njit(cache=True, nogil=True, inline="always")
def next_line(data: np.ndarray, i: int, end: int) -> int:
    """Return the start of the line after the one that `i` is in."""
    begin = i
    while i < end:
        while i < end and CLASS[data[i]] != LINE_END:
            i += 1
        if i == begin or i >= end or CLASS[data[i - 1]] != BACKSLASH:
            break
        if _has_comment(data, begin, i):
            break
        i = after_joint(data, i - 1, end)
        begin = i
    return min(i + 1, end)


@njit(cache=True, nogil=True)
def _has_comment(data: np.ndarray, begin: int, end: int) -> bool:
    for i in range(begin, end):
        # "1.#IND" and its like are how some programs print what is not a number.
        if CLASS[data[i]] == COMMENT and (i == begin or data[i - 1] != 46):
            return True
    return False


@njit(cache=True, nogil=True)
def packed_word(data: np.ndarray, i: int, stop: int) -> int:
    """Return a word of up to 7 bytes as one number, as `packed` makes it; -1 if longer."""
    if stop - i > 7:
        return np.int64(-1)
    key = np.int64(data[i])
    for place in range(i + 1, stop):
        key |= np.int64(data[place]) << (8 * (place - i))
    return key


def packed(word: str) -> int:
    """Return the number by which a kernel knows a word of up to 7 ASCII letters."""
    return int.from_bytes(word.encode("ascii"), "little")
