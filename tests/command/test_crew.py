"""Work in several processes, interrupted from the terminal."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

SCRIPT = """\
import sys, time
from pathlib import Path
from evenweave.command.line.crew import answers

def work(task):
    Path(sys.argv[1], str(task)).touch()
    time.sleep(600)

if __name__ == "__main__":
    answers(work, [1, 2, 3], work, processes=2)
"""
PATIENCE_S = 110


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_an_interruption_ends_all_at_once_and_only_one_process_speaks_of_it(
    tmp_path: Path,
) -> None:
    script, begun = tmp_path / "script.py", tmp_path / "begun"
    script.write_text(SCRIPT)
    begun.mkdir()
    crew = subprocess.Popen(
        [sys.executable, script, begun], stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    end = time.monotonic() + PATIENCE_S
    while len(os.listdir(begun)) < 2 and time.monotonic() < end:
        time.sleep(0.05)
    os.killpg(crew.pid, signal.SIGINT)  # as a terminal does
    _, told = crew.communicate(timeout=PATIENCE_S)
    assert sorted(os.listdir(begun)) == ["1", "2"]
    assert told.count("KeyboardInterrupt") == 1
