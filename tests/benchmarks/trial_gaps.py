"""How long the window's event loop stands still while a trial comes and goes.

    python tests/benchmarks/trial_gaps.py [FILE ...] [--triangles 100000] [--rounds 5] [--profile]

Opens the window on the bundled lantern and on a torus of so many triangles (about 200 an
island), levels its densities, looks at before and after, undoes, does again. A timer of 1 ms
tells when the event loop turns; what counts is the longest gap from an act until all views show
it, in wall time and in processor time of the window's own thread, which a busy machine does not
blur. `--profile` prints what the window's thread spent its time on.
"""

from __future__ import annotations

import argparse
import cProfile
import os
import pstats
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import big_mesh
from PySide6.QtCore import QSettings, Qt, QTimer
from PySide6.QtWidgets import QApplication

from evenweave.places import sample_assets
from evenweave.trial import jobs
from evenweave.window.parts import palette
from evenweave.window.services.session import Session
from evenweave.window.shell.main_window import MainWindow
from evenweave.window.state.settings import Settings

SETTLED_S = 0.3  # without anything left to do


class Gaps:
    """The longest time between two turns of the event loop."""

    def __init__(self) -> None:
        self._timer = QTimer(interval=1, timerType=Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._on_timer_timeout)
        self._timer.start()
        self.begin()

    def begin(self) -> None:
        """Forget what was."""
        self.wall, self.processor = 0.0, 0.0
        self._last = time.perf_counter(), time.thread_time()

    def _on_timer_timeout(self) -> None:
        now = time.perf_counter(), time.thread_time()
        self.wall = max(self.wall, now[0] - self._last[0])
        self.processor = max(self.processor, now[1] - self._last[1])
        self._last = now


class Desk:
    """A window on one file, and what is done to it."""

    def __init__(self, path: Path, folder: Path) -> None:
        settings = Settings(QSettings(str(folder / "w.ini"), QSettings.Format.IniFormat))
        self.session = Session()
        self.window = MainWindow(self.session, settings)
        self.session.may_leave = lambda: True
        self.window.resize(1600, 1000)
        self.window.show()
        self.gaps = Gaps()
        self.session.open(path)
        self.settle()

    def settle(self) -> None:
        """Let the event loop turn until nothing is left to do."""
        session, quiet = self.session, 0.0
        lanes = (session.lane, session.colouring, session.placing, session.trials.lane)
        while quiet == 0.0 or time.perf_counter() - quiet < SETTLED_S:
            QApplication.processEvents()
            is_done = self.window.views.is_current and not any(lane.is_busy for lane in lanes)
            if not is_done:
                quiet = 0.0
            elif quiet == 0.0:
                quiet = time.perf_counter()
            time.sleep(0.0002)

    def measured(self, act: Callable[[], object]) -> tuple[float, float]:
        """Return the longest gap in wall and processor milliseconds while something is done."""
        self.settle()
        self.gaps.begin()
        QTimer.singleShot(0, act)
        QApplication.processEvents()
        self.settle()
        return 1e3 * self.gaps.wall, 1e3 * self.gaps.processor


def watch(path: Path, rounds: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        desk = Desk(path, Path(folder))
        trials = desk.session.trials
        layout = desk.session.shown
        triangles = len(layout.layout.triangle_face) if layout else 0
        print(f"{path.name}: {triangles:,} triangles, {layout.layout.island_count:,} islands")
        acts: dict[str, Callable[[], object]] = {
            "trial comes": lambda: trials.try_out(jobs.levelling(0, (), to_target=False)),
            "before": lambda: trials.show_after(False),
            "after": lambda: trials.show_after(True),
            "undo": trials.undo,
            "redo": trials.redo,
            "given up": trials.discard,
        }
        found: dict[str, list[tuple[float, float]]] = {name: [] for name in acts}
        for _ in range(rounds):
            for name, act in acts.items():
                found[name].append(desk.measured(act))
        for name, gaps in found.items():
            wall, processor = zip(*gaps, strict=True)
            each = " ".join(f"{one:5.0f}" for one in wall)
            print(f"  {name:12s} wall {each}  worst {max(wall):5.0f} ms, "
                  f"processor worst {max(processor):5.0f} ms", flush=True)  # fmt: skip
        desk.window.close()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("files", type=Path, nargs="*")
    parser.add_argument("--triangles", type=int, default=100_000)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--profile", action="store_true")
    asked = parser.parse_args()
    application = QApplication([])
    palette.dress(application, "light")
    with tempfile.TemporaryDirectory() as folder:
        files = asked.files or [sample_assets() / "lantern.glb"]
        if not asked.files and asked.triangles:
            big = Path(folder) / "torus.obj"
            big_mesh.write_obj(big_mesh.torus(asked.triangles), big)
            files = [*files, big]
        profile = cProfile.Profile()
        if asked.profile:
            profile.enable()
        for path in files:
            watch(path, asked.rounds)
        if asked.profile:
            profile.disable()
            pstats.Stats(profile).sort_stats("cumulative").print_stats(60)


if __name__ == "__main__":
    main()
