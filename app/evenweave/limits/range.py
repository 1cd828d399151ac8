"""`Range`: what one setting may be."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Range:
    """What a setting may be, and what it means, for files and dialogs alike.

    least, most : both allowed; `word` : the word that stands for None, if None is allowed
    group, unit, meaning : shown beside the value
    """

    group: str
    meaning: str
    unit: str = ""
    least: float = -math.inf
    most: float = math.inf
    word: str = ""
    choices: tuple[str, ...] = ()

    def allowed(self, kind: type) -> str:
        """Say what is allowed for a value of this kind (bool, int, float or str)."""
        if kind is bool:
            return "true or false"
        if self.choices:
            return " or ".join(f'"{choice}"' for choice in self.choices)
        noun = "a whole number" if kind is int else "a number"
        span = (
            f"{noun} of at least {_plain(self.least)}"
            if math.isinf(self.most)
            else f"{noun} from {_plain(self.least)} to {_plain(self.most)}"
        )
        return f'{span}, or "{self.word}"' if self.word else span


def _plain(bound: float) -> str:
    return f"{bound:.0f}" if bound == int(bound) else str(bound)
