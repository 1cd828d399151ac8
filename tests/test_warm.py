"""Setting up compiles all that opening, reviewing and drawing a mesh needs."""

import os
import subprocess
import sys
from pathlib import Path

PROGRAM = """
import gc, sys
from pathlib import Path
from numba.core.dispatcher import Dispatcher
from evenweave.warm import warm
warm()
def count():
    return {f"{d.py_func.__module__}.{d.__name__}": len(d.signatures)
            for d in gc.get_objects() if isinstance(d, Dispatcher)}
before = count()
from evenweave.limits import DEFAULT
from evenweave.mesh.read import read
from evenweave.places import sample_assets
from evenweave.report.pictures import PictureWish, picture
from evenweave.review import review
for name in ("lantern_first_pass.obj", "lantern_second_pass.obj", "lantern.glb"):
    picture(review(read(sample_assets() / name), DEFAULT), PictureWish(width=400, height=320))
after = count()
print([name for name, number in after.items() if number > before.get(name, 0)])
"""


def test_nothing_is_left_to_compile_after_warming_up() -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], check=True, capture_output=True, text=True
    )
    assert done.stdout.strip() == "[]"


def test_kernels_live_in_a_folder_that_fits_the_source(tmp_path: Path) -> None:
    program = "import os, evenweave; print(os.environ['NUMBA_CACHE_DIR'])"
    bare = {k: v for k, v in os.environ.items() if k != "NUMBA_CACHE_DIR"}

    def folder(**more: str) -> str:
        done = subprocess.run(
            [sys.executable, "-c", program],
            env=bare | more,
            check=True,
            capture_output=True,
            text=True,
        )
        return done.stdout.strip()

    assert folder(XDG_CACHE_HOME=str(tmp_path)) == folder(XDG_CACHE_HOME=str(tmp_path))
    assert "evenweave" in folder(XDG_CACHE_HOME=str(tmp_path))
    assert folder(NUMBA_CACHE_DIR=str(tmp_path / "own")) == str(tmp_path / "own")
