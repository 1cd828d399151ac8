"""Talking to a terminal: text on stdout, problems and progress on stderr."""

from __future__ import annotations

import sys
import time
from multiprocessing import parent_process
from pathlib import Path

from evenweave.check.numbers import printable
from evenweave.writing import write_whole

REDRAW_S = 0.1


def complain(text: str) -> None:
    """Write one sentence to stderr."""
    sys.stderr.write(f"evenweave: {printable(text)}\n")


def deliver(text: str, output: Path | None) -> None:
    """Write text as UTF-8 to a file, whole or not at all, or to stdout. Raises FileProblem."""
    data = text.encode("utf-8", "backslashreplace")
    if output is not None:
        write_whole(output, data)
        return
    sys.stdout.flush()
    sys.stdout.buffer.write(data)
    sys.stdout.flush()


class ProgressLine:
    """A `Progress` that redraws one line of stderr, where stderr is a terminal."""

    def __init__(self, label: str = "") -> None:
        self.label = printable(f"{label}: ") if label else ""
        # Only the process that the user started draws it.
        self._is_shown = sys.stderr.isatty() and parent_process() is None
        self._drawn_at = 0.0

    def __call__(self, share: float, doing: str) -> None:
        """Show how far the work is."""
        now = time.monotonic()
        if self._is_shown and now - self._drawn_at >= REDRAW_S:
            self._drawn_at = now
            sys.stderr.write(f"\r{self.label}{share:4.0%} {printable(doing)}\x1b[K")
            sys.stderr.flush()

    def clear(self) -> None:
        """Take the line away."""
        if self._drawn_at:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()
