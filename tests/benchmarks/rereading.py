"""Time a re-exported file until the window shows it, beside opening the same file afresh.

    QT_QPA_PLATFORM=offscreen python tests/benchmarks/rereading.py big.obj [--runs 3]

In one window, in turn: open the file while another is shown, then put a new pass in its place,
moved there or written in place. Prints medians and ratios; the quiet time before reading counts.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QEventLoop, QSettings, QTimer
from PySide6.QtWidgets import QApplication

from evenweave.places import sample_assets
from evenweave.window.services.session import Session
from evenweave.window.shell.main_window import MainWindow
from evenweave.window.state.settings import Settings

_STEP_MS = 5


def seconds(act: Callable[[], object], is_done: Callable[[], bool]) -> float:
    """Return how long it takes from an act until something is so."""
    loop, timer, start = QEventLoop(), QTimer(), time.perf_counter()
    timer.timeout.connect(lambda: loop.quit() if is_done() else None)
    act()
    timer.start(_STEP_MS)
    loop.exec()
    return time.perf_counter() - start


def measured(window: MainWindow, file: Path, folder: Path) -> tuple[float, float, float]:
    """Return the seconds of a fresh open, of a pass moved in, and of one written in place."""
    session = window.session
    small = folder / "small.obj"
    shutil.copy(sample_assets() / "lantern_second_pass.obj", small)
    path, beside = folder / "big.obj", folder / "big.tmp"
    shutil.copy(file, path)
    data = file.read_bytes()

    def is_shown(name: Path, before: object) -> Callable[[], bool]:
        def told() -> bool:
            review = session.original
            is_new = review is not None and review is not before and review.asset.path == name
            return is_new and window.views.is_current

        return told

    def is_quiet() -> bool:
        return not (session.passes.is_busy or session.live.is_busy or session.lane.is_busy)

    seconds(lambda: session.open(small), is_shown(small, session.original))
    fresh = seconds(lambda: session.open(path), is_shown(path, session.original))
    wait(3.0)
    seconds(lambda: None, is_quiet)
    beside.write_bytes(data + b"# moved\n")
    moved = seconds(lambda: os.replace(beside, path), is_shown(path, session.original))
    wait(3.0)
    seconds(lambda: None, is_quiet)
    placed = seconds(
        lambda: path.write_bytes(data + b"# in place\n"), is_shown(path, session.original)
    )
    seconds(lambda: None, is_quiet)
    return fresh, moved, placed


def wait(length_s: float) -> None:
    """Let the window do what it does after opening."""
    end = time.perf_counter() + length_s
    seconds(lambda: None, lambda: time.perf_counter() > end)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", type=Path)
    parser.add_argument("--runs", type=int, default=3)
    told = parser.parse_args()
    QApplication([])
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        settings = Settings(QSettings(str(place / "window.ini"), QSettings.Format.IniFormat))
        window = MainWindow(Session(), settings)
        window.resize(1440, 900)
        window.show()
        runs = [measured(window, told.file, place) for _ in range(told.runs)]
        window.close()
    fresh, *others = (statistics.median(column) for column in zip(*runs, strict=True))
    print(f"{'fresh open':<18} {fresh:5.2f} s median of {told.runs}")
    for name, one in zip(("moved in", "written in place"), others, strict=True):
        print(f"{name:<18} {one:5.2f} s, ratio {one / fresh:.2f}")


if __name__ == "__main__":
    main()
