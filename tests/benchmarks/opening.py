"""Time reading, measuring and judging a file beside `trimesh.load` only reading it.

    python tests/benchmarks/opening.py big.obj [--runs 5] [--threads 1]

Whole processes in turn, warm kernels; prints medians, the ratio pair by pair, and peak memory.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

OURS = (
    "import sys; sys.argv = ['evenweave', 'check', {path!r}];"
    "from evenweave.cli import program; program()"
)
THEIRS = "import trimesh; trimesh.load({path!r}, process=False)"


def run(program: str, processors: set[int]) -> tuple[float, float]:
    """Return wall seconds and peak memory in MiB of one process."""
    start = time.perf_counter()
    child = subprocess.Popen(
        [sys.executable, "-c", program],
        stdout=subprocess.DEVNULL,
        preexec_fn=lambda: os.sched_setaffinity(0, processors),
    )
    _, status, usage = os.wait4(child.pid, 0)
    if os.waitstatus_to_exitcode(status) > 1:
        raise SystemExit(f"failed: {program}")
    return time.perf_counter() - start, usage.ru_maxrss / 1024


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", type=Path)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--threads", type=int, default=len(os.sched_getaffinity(0)))
    told = parser.parse_args()
    path = str(told.file.resolve())
    processors = set(sorted(os.sched_getaffinity(0))[: told.threads])
    ours, theirs = OURS.format(path=path), THEIRS.format(path=path)
    run(ours, processors)
    pairs = [(run(ours, processors), run(theirs, processors)) for _ in range(told.runs)]
    ratio = [a[0] / b[0] for a, b in pairs]
    print(f"{told.threads} processors, {told.runs} pairs")
    for name, index in (("evenweave check", 0), ("trimesh.load", 1)):
        seconds = [pair[index][0] for pair in pairs]
        memory = max(pair[index][1] for pair in pairs)
        print(
            f"{name:<16} {statistics.median(seconds):6.2f} s median, {min(seconds):.2f} to "
            f"{max(seconds):.2f}; peak {memory:,.0f} MiB"
        )
    spread = f"{min(ratio):.2f} to {max(ratio):.2f}"
    print(f"{'ratio':<16} {statistics.median(ratio):6.2f} median, {spread}")


if __name__ == "__main__":
    main()
