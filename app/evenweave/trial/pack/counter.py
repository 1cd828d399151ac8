"""Ends a search after so many questions, not after some time: the same on every machine."""

from __future__ import annotations

import time
from collections.abc import Callable

from evenweave.progress import Progress

TELL_SECONDS = 0.03
LONGEST, LEAST = 20.0, 60.0  # real seconds for each wished, and at least; then the best is told


class Counter:
    """Counts what was asked for; says no after so many, or where real time ran out long ago."""

    def __init__(self, seconds: float, progress: Progress) -> None:
        self._progress, self._count = progress, 0
        self._begun = self._told = time.monotonic()
        self._seconds = max(LONGEST * seconds, LEAST)
        self.is_late = False

    @property
    def reason(self) -> str:
        """Why it said no before its time, a phrase; "" where it did not."""
        return f"it was stopped after {self._seconds:g} seconds" if self.is_late else ""

    def until(self, most: int) -> Callable[[], bool]:
        """Return the question whether to go on, which is answered yes so many times in all."""

        def go_on() -> bool:
            self._count += 1
            now = time.monotonic()
            if now - self._told > TELL_SECONDS:
                self._told = now
                self._progress(min(1.0, self._count / most), "packing")
            self.is_late = self.is_late or now - self._begun > self._seconds
            return self._count <= most and not self.is_late

        return go_on
