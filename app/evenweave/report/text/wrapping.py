"""Lines no wider than a terminal, with what follows hanging below the first line's text."""

from __future__ import annotations

import textwrap

from evenweave.check.numbers import printable

WIDTH = 96


def wrapped(start: str, text: str, hanging: str) -> list[str]:
    """Return the text in lines: the first begins with `start`, the others with `hanging`.

    >>> [len(line) for line in wrapped("  1 ", "many small words " * 8, "    ")]
    [93, 50]
    """
    return textwrap.wrap(
        printable(text),
        WIDTH,
        initial_indent=start,
        subsequent_indent=hanging,
        break_on_hyphens=False,
        break_long_words=False,
    )
