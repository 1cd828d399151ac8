"""The wheel works away from the checkout."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT],
        check=True,
        capture_output=True,
    )
    return next(folder.glob("*.whl"))


def test_the_wheel_carries_texts_schema_and_samples(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    assert {
        "evenweave/resources/checks.toml",
        "evenweave/resources/result.schema.json",
        "evenweave/sample_assets/lantern_first_pass.obj",
        "evenweave/sample_assets/lantern.glb",
    } <= names


def test_an_unpacked_wheel_checks_its_own_sample(wheel: Path, tmp_path: Path) -> None:
    away = tmp_path / "site"
    zipfile.ZipFile(wheel).extractall(away)
    # -S and -P would hide the dependencies; the path order alone must make the wheel win.
    environment = os.environ | {"PYTHONPATH": str(away), "NUMBA_CACHE_DIR": str(tmp_path / "cache")}
    program = (
        "import sys, evenweave, evenweave.places as places;"
        "print(evenweave.__file__);"
        "print(places.sample_assets());"
        "print(places.resource('checks.toml'))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        env=environment,
        cwd=tmp_path,
        check=True,
        capture_output=True,
        text=True,
    )
    assert all(line.startswith(str(away)) for line in done.stdout.splitlines())
    assert (away / "evenweave/sample_assets/lantern_second_pass.obj").is_file()
