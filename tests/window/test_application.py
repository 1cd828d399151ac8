"""The program as it is started, in an interpreter of its own."""

import os
import subprocess
import sys
from pathlib import Path

from evenweave.places import sample_assets

PROGRAM = """
import sys
from pathlib import Path
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from evenweave.window.shell.application import run

application = QApplication(["evenweave"])
watch = QTimer()


def look():
    windows = [w for w in application.topLevelWidgets() if w.objectName() == "main_window"]
    if windows and windows[0].session.shown is not None and windows[0].views.is_current:
        print(windows[0].windowTitle(), windows[0].session.shown.layout.island_count)
        watch.stop()
        application.quit()


watch.timeout.connect(look)
watch.start(20)
print(run(Path(sys.argv[1])))
"""


def test_the_program_opens_a_file_and_ends_in_order(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(sample_assets() / "lantern_first_pass.obj")],
        capture_output=True,
        text=True,
        timeout=110,
        env={**os.environ, "XDG_CONFIG_HOME": str(tmp_path), "QT_QPA_PLATFORM": "offscreen"},
    )
    lines = done.stdout.splitlines()
    assert done.returncode == 0, done.stderr
    assert lines == ["lantern_first_pass.obj – Evenweave 32", "0"]
    assert "Traceback" not in done.stderr
    assert (tmp_path / "evenweave" / "evenweave.ini").exists()
