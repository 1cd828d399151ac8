"""The wheel works away from the checkout."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

PIP = (sys.executable, "-m", "pip", "--disable-pip-version-check")
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


def test_the_wheel_carries_all_texts_schemas_fonts_and_samples(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    wanted = {
        f"evenweave/{path.relative_to(ROOT).as_posix()}"
        for folder in ("resources", "sample_assets")
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert "evenweave/resources/fonts/LICENCE-DejaVu.txt" in wanted
    assert wanted <= names


def test_the_wheel_carries_its_licence_and_its_place_in_menus(wheel: Path) -> None:
    names = {name.partition("/")[2] for name in zipfile.ZipFile(wheel).namelist()}
    assert {
        "licenses/resources/LICENCE",
        "data/share/applications/evenweave.desktop",
        "data/share/icons/hicolor/scalable/apps/evenweave.svg",
    } <= names


@pytest.mark.timeout(900)
def test_an_installed_wheel_checks_its_own_sample_away_from_the_checkout(
    wheel: Path, tmp_path: Path
) -> None:
    away = tmp_path / "site"
    subprocess.run(
        [*PIP, "install", "-q", "--no-deps", "--no-index", "--target", away, wheel],
        check=True,
        capture_output=True,
    )
    bare = {k: v for k, v in os.environ.items() if k != "NUMBA_CACHE_DIR"}
    environment = bare | {"PYTHONPATH": str(away), "XDG_CACHE_HOME": str(tmp_path / "cache")}
    program = (
        "import sys, evenweave, evenweave.places as places;"
        "from evenweave.cli import main;"
        "print(evenweave.__file__, places.sample_assets(), places.resource('checks.toml'));"
        "sys.exit(main(['check', str(places.sample_assets() / 'lantern_second_pass.obj')]))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        env=environment,
        cwd=tmp_path,
        check=True,
        capture_output=True,
        text=True,
    )
    first, *rest = done.stdout.splitlines()
    assert all(path.startswith(str(away)) for path in first.split())
    assert sum("nothing to remark" in line for line in rest) == 3
    # Compiled kernels are in the user's cache, not in the installed package.
    assert not list(away.rglob("*.nbi"))
    assert list((tmp_path / "cache").rglob("*.nbi"))
