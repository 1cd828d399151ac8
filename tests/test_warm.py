"""Setting up compiles all that opening, reviewing and drawing a mesh needs."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import evenweave

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
from tempfile import TemporaryDirectory
from evenweave.limits.limits import DEFAULT
from evenweave.mesh.read import read
from evenweave.places import sample_assets
from evenweave.picture.pictures import PictureOptions, picture
from evenweave.pipeline import review
from evenweave.trial.uvs.asset_uvs import trial_asset
from evenweave.trial.pack.pack import PackOptions, pack
from evenweave.trial.save.save import save_copy
for name in ("lantern_first_pass.obj", "lantern_second_pass.obj", "lantern.glb"):
    picture(review(read(sample_assets() / name), DEFAULT), PictureOptions(width=400, height=320))
done = review(read(sample_assets() / "lantern_second_pass.obj"), DEFAULT)
shown = done.layouts[1]
options = PackOptions(padding_px=8.0, margin_px=4.0, passes=1)
found = pack(shown.layout, shown.measures.tile, options, stacks=shown.measures.stacks)
with TemporaryDirectory() as folder:
    save_copy(done.asset, trial_asset(done.asset, shown.layout, found.change),
              Path(folder) / "copy.obj")
after = count()
print([name for name, number in after.items() if number > before.get(name, 0)])
"""


def test_nothing_is_left_to_compile_after_warming_up() -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], check=True, capture_output=True, text=True
    )
    assert done.stdout.strip() == "[]"


def test_an_installed_package_keeps_its_kernels_in_the_users_cache(tmp_path: Path) -> None:
    package = Path(evenweave.__file__).parent
    away = tmp_path / "evenweave"
    for name in ("__init__.py", "kernel_cache.py", "raster/flat/flat_kernels.py"):
        (away / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(package / name, away / name)
    (away / "resources").mkdir()
    program = "import os, evenweave; print(os.environ['NUMBA_CACHE_DIR'])"
    bare = {k: v for k, v in os.environ.items() if k != "NUMBA_CACHE_DIR"}

    def folder(**more: str) -> str:
        done = subprocess.run(
            [sys.executable, "-c", program],
            env=bare | {"PYTHONPATH": str(tmp_path), "XDG_CACHE_HOME": str(tmp_path)} | more,
            check=True,
            capture_output=True,
            text=True,
        )
        return done.stdout.strip()

    before = folder()
    assert before == folder()
    assert "evenweave" in before
    (away / "raster" / "flat" / "flat_kernels.py").write_text("# another version", encoding="utf-8")
    assert folder() != before
    assert folder(NUMBA_CACHE_DIR=str(tmp_path / "own")) == str(tmp_path / "own")
