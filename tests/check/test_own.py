"""Checks of a studio's own, from a package that is really installed."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from evenweave.places import sample_assets

PROJECT = """\
[build-system]
requires = ["hatchling"]
build-backend = "hatchling.build"
[project]
name = "our-checks"
version = "1.0"
[project.entry-points."evenweave.checks"]
lower-case = "our_checks:LOWER_CASE"
stumbling = "our_checks:STUMBLING"
absent = "our_checks:ABSENT"
[tool.hatch.build.targets.wheel]
include = ["our_checks.py"]
"""

CHECKS = """\
from evenweave import Check, Hit, Severity

def upper_case(subject):
    names = subject.layout.island_name
    wrong = tuple(i for i, name in enumerate(names) if name != name.lower())
    if wrong:
        yield Hit(len(wrong), 0, wrong, wrong[0], words={"island": names[wrong[0]]})

WORDS = {"title": "Capitals", "what": "{island} is written in capitals.", "why": "Our scripts.",
         "do": "Name parts in small letters.", "how": "By name."}
LOWER_CASE = Check("lower-case", Severity.WARNING, "", upper_case, texts=WORDS)
STUMBLING = Check("stumbling", Severity.FAULT, "", lambda subject: [1 / 0], texts=WORDS)
"""

MESH = """\
v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
vt .05 .05
vt .95 .05
vt .95 .95
vt .05 .95
"""


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    source, target = tmp_path_factory.mktemp("source"), tmp_path_factory.mktemp("installed")
    (source / "pyproject.toml").write_text(PROJECT)
    (source / "our_checks.py").write_text(CHECKS)
    command = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index"]
    command += ["--no-build-isolation", "--target", str(target), str(source)]
    subprocess.run(command, check=True, capture_output=True)
    return target


def found(library: Path, mesh: Path, *more: str) -> tuple[int, dict[str, dict[str, object]]]:
    command = [sys.executable, "-m", "evenweave", "check", str(mesh), "--format", "json", *more]
    package = Path(sys.modules["evenweave"].__file__ or "").parents[1]
    done = subprocess.run(
        command,
        capture_output=True,
        text=True,
        env={"PYTHONPATH": f"{library}:{package}", "PATH": "", "HOME": str(library)},
    )
    assert done.stderr == ""
    (layout,) = json.loads(done.stdout)["files"][0]["layouts"]
    return done.returncode, {f"{w['check']} {w['what']}": w for w in layout["warnings"]}


def square(folder: Path, name: str) -> Path:
    path = folder / "square.obj"
    path.write_text(f"{MESH}o {name}\nf 1/1 2/2 3/3 4/4\n")
    return path


def test_an_own_check_is_asked_and_told_like_ours(library: Path, tmp_path: Path) -> None:
    code, warnings = found(library, square(tmp_path, "ROOF"), "--fail-on", "warning")
    told = warnings["lower-case ROOF is written in capitals."]
    assert told["severity"] == "warning"
    assert told["title"] == "Capitals"
    assert told["islands"] == [0]
    assert code == 1


def test_it_is_silent_where_it_finds_nothing(library: Path, tmp_path: Path) -> None:
    code, warnings = found(library, square(tmp_path, "roof"), "--fail-on", "warning")
    assert not any(name.startswith("lower-case") for name in warnings)
    assert code == 0


def test_checks_that_cannot_be_asked_are_told_and_end_nothing(
    library: Path, tmp_path: Path
) -> None:
    _, warnings = found(library, square(tmp_path, "roof"))
    told = {name: w for name, w in warnings.items() if name.startswith("own-check")}
    assert len(told) == 2
    assert all(w["severity"] == "note" for w in told.values())
    assert any("stumbling" in name and "ZeroDivisionError" in name for name in told)
    assert any("absent" in name and "AttributeError" in name for name in told)


def test_limits_may_switch_an_own_check_off(library: Path, tmp_path: Path) -> None:
    (tmp_path / "evenweave.toml").write_text('[severity]\nlower-case = "off"\n')
    _, warnings = found(library, square(tmp_path, "ROOF"))
    assert not any(name.startswith("lower-case") for name in warnings)


@pytest.mark.parametrize("kind", ["sarif", "junit", "text"])
def test_every_report_holds_own_checks(library: Path, tmp_path: Path, kind: str) -> None:
    command = [sys.executable, "-m", "evenweave", "check", str(square(tmp_path, "ROOF"))]
    package = Path(sys.modules["evenweave"].__file__ or "").parents[1]
    done = subprocess.run(
        [*command, "--format", kind],
        capture_output=True,
        text=True,
        env={"PYTHONPATH": f"{library}:{package}", "PATH": "", "HOME": str(library)},
    )
    assert done.stderr == ""
    assert "lower-case" in done.stdout


def test_the_lantern_is_not_told_of_own_checks_where_none_is_installed() -> None:
    command = [sys.executable, "-m", "evenweave", "check"]
    mesh = sample_assets() / "lantern_second_pass.obj"
    done = subprocess.run([*command, str(mesh)], capture_output=True, text=True)
    assert "own" not in done.stdout.split()
    assert done.returncode == 0
