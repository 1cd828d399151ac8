"""The command line: what it writes, and how it ends."""

import csv
import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from evenweave import __version__
from evenweave.cli import COMMANDS, main
from evenweave.limits.file import read_limits, write_limits
from evenweave.limits.limits import DEFAULT, Limits
from evenweave.limits.toml import default_toml
from evenweave.places import resource, sample_assets

# A square of 1 m on the tile's middle: 1024 texels per metre at 2048, nothing wrong but coverage.
SQUARE = """\
o square
v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
vt {0} {0}
vt {1} {0}
vt {1} {1}
vt {0} {1}
f 1/1 2/2 3/3 4/4
"""


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_limits(tmp_path / "evenweave.toml", DEFAULT)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def square(tmp_path: Path) -> Path:
    """Half a tile wide: a warning of coverage and nothing else."""
    path = tmp_path / "square.obj"
    path.write_text(SQUARE.format(0.25, 0.75))
    return path


@pytest.fixture
def outside(tmp_path: Path) -> Path:
    """Across the tile's edge: a fault."""
    path = tmp_path / "outside.obj"
    path.write_text(SQUARE.format(0.4, 1.2))
    return path


def ran(*arguments: object) -> int:
    return main([str(argument) for argument in arguments])


# check


def test_a_file_without_fault_ends_with_0(square: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert ran("check", square) == 0
    out = capsys.readouterr().out
    assert "square.obj" in out
    assert "warning  coverage       Islands cover 25 % of the tile; 70 % is wanted." in out
    assert "1 warning" in out


@pytest.mark.parametrize(("level", "code"), [("fault", 0), ("warning", 1), ("note", 1)])
def test_the_level_that_fails_is_chosen(square: Path, level: str, code: int) -> None:
    assert ran("check", square, "--fail-on", level) == code


def test_a_fault_ends_with_1(outside: Path) -> None:
    assert ran("check", outside) == 1


def test_an_unreadable_file_ends_with_2_and_the_others_are_still_done(
    square: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "empty.obj").write_bytes(b"")
    assert ran("check", "empty.obj", "absent.glb", square, "--format", "json") == 2
    out, err = capsys.readouterr()
    files = json.loads(out)["files"]
    assert [file["error"] is None for file in files] == [False, False, True]
    assert files[2]["layouts"][0]["islands"][0]["name"] == "square"
    assert err.splitlines()[0].startswith("evenweave: empty.obj: ")
    assert len(err.splitlines()) == 2


def test_json_is_valid_by_the_schema(
    square: Path, outside: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ran("check", square, outside, "--format", "json") == 1
    schema = json.loads(resource("result.schema.json").read_text(encoding="utf-8"))
    result = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(schema).validate(result)
    density = result["files"][0]["layouts"][0]["islands"][0]["density"]["median"]
    assert density == pytest.approx(1024)


def test_csv_has_a_line_an_island(
    square: Path, outside: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ran("check", square, outside, "--format", "csv") == 1
    first, second = csv.DictReader(io.StringIO(capsys.readouterr().out))
    assert (first["island"], first["warnings"]) == ("square", "")
    assert second["warnings"] == "crosses-tile"


def test_tile_density_and_unit_are_obeyed(square: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran("check", square, "--format", "json", "--tile", "1024x512", "--density", "300",
        "--unit", "0.1")  # fmt: skip
    result = json.loads(capsys.readouterr().out)
    (layout,) = result["files"][0]["layouts"]
    assert layout["tile_px"] == [1024, 512]
    assert (layout["target_density"], layout["target_is"]) == (300, "given")
    # sqrt of (512 * 256 texels / 0.1 m * 0.1 m)
    assert layout["density"]["median"] == pytest.approx((512 * 256) ** 0.5 / 0.1)


def test_limits_are_found_from_the_mesh_s_folder_upward(
    square: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_limits(tmp_path / "evenweave.toml", Limits(coverage=0.1))
    assert ran("check", square, "--fail-on", "note") == 0
    assert f"limits: {tmp_path / 'evenweave.toml'}" in capsys.readouterr().out


def test_limits_named_go_before_limits_found(square: Path, tmp_path: Path) -> None:
    write_limits(tmp_path / "evenweave.toml", Limits(coverage=0.1))
    write_limits(tmp_path / "strict.toml", DEFAULT)
    assert ran("check", square, "--limits", "strict.toml", "--fail-on", "warning") == 1


def test_a_median_target_goes_before_one_in_limits(
    square: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_limits(tmp_path / "evenweave.toml", Limits(target_density=5.0))
    ran("check", square, "--density", "median", "--format", "json")
    (layout,) = json.loads(capsys.readouterr().out)["files"][0]["layouts"]
    assert layout["target_is"] == "median"


def test_wrong_limits_are_one_sentence(
    square: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "wrong.toml").write_text("cover = 1\n")
    assert ran("check", square, "--limits", "wrong.toml") == 2
    assert capsys.readouterr().err == (
        "evenweave: wrong.toml, line 1: cover is not known; the nearest known name is coverage.\n"
    )


def test_a_uv_set_that_is_not_there_is_named_with_those_that_are(
    square: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ran("check", square, "--uv-set", "lightmap") == 2
    assert "there is no UV set named lightmap; it has " in capsys.readouterr().out


def test_explain_adds_why_what_to_do_and_how(
    square: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran("check", square, "--explain")
    out = capsys.readouterr().out
    for label in ("why  Texture memory", "do   Pack again", "how  Share of texel centres"):
        assert label in out


def test_output_is_written_to_a_file_and_nothing_else(
    square: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ran("check", square, "--format", "json", "--output", "result.json") == 0
    assert json.loads((tmp_path / "result.json").read_text())["schema"] == 1
    assert capsys.readouterr().out == ""


def test_a_mesh_that_is_read_is_never_written_over(
    square: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = square.read_bytes()
    (tmp_path / "link").symlink_to(square)
    for name in ("square.obj", "./square.obj", "link"):
        assert ran("check", square, "--output", name) == 2
        assert "meshes are never changed" in capsys.readouterr().err
    assert ran("picture", square, "--output", "square.obj") == 2
    assert square.read_bytes() == before


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("--tile", "0"),
        ("--tile", "big"),
        ("--tile", "2048x"),
        ("--density", "-1"),
        ("--density", "nan"),
        ("--unit", "0"),
        ("--format", "xml"),
        ("--fail-on", "never"),
    ],
)
def test_wrong_options_end_with_2_and_say_what_is_allowed(
    square: Path, option: str, value: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as caught:
        ran("check", square, option, value)
    assert caught.value.code == 2
    assert option in capsys.readouterr().err


@pytest.mark.skipif(sys.platform != "linux", reason="names of any bytes")
def test_a_file_name_of_odd_bytes_is_printed_safely(
    square: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    odd = os.fsencode(tmp_path) + b"/caf\xe9\x1b[31m.obj"
    shutil.copy(square, os.fsdecode(odd))
    assert ran("check", os.fsdecode(odd)) == 0
    assert "caf\\udce9\\x1b[31m.obj" in capsys.readouterr().out
    assert ran("check", os.fsdecode(odd), "--format", "json") == 0
    assert json.loads(capsys.readouterr().out)["files"][0]["path"] == os.fsdecode(odd)


# picture


def test_a_picture_is_written_at_the_size_asked_for(square: Path, tmp_path: Path) -> None:
    from PIL import Image

    assert ran("picture", square, "--show", "stretch", "--view", "flat", "--size", "640x480",
               "--output", "x.png") == 0  # fmt: skip
    with Image.open(tmp_path / "x.png") as image:
        assert image.size == (640, 480)
        assert len(image.getcolors(1 << 20)) > 10


def test_a_layout_that_is_not_there_is_named_with_those_that_are(
    square: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ran("picture", square, "--layout", "brass", "--output", "x.png") == 2
    assert "there is no layout named brass; it has no material." in capsys.readouterr().err
    assert not (tmp_path / "x.png").exists()


def test_a_picture_of_a_file_that_is_not_there_is_one_sentence(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert ran("picture", "gone.obj", "--output", "x.png") == 2
    assert capsys.readouterr().err.startswith("evenweave: gone.obj: ")


# limits, samples, help


def test_limits_writes_the_defaults_but_never_over_a_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ran("limits") == 0
    assert capsys.readouterr().out == default_toml()
    assert ran("limits", "--output", "new.toml") == 0
    assert read_limits(tmp_path / "new.toml") == DEFAULT
    assert ran("limits", "--output", "new.toml") == 2
    assert "it exists already" in capsys.readouterr().err


def test_samples_are_listed_and_copied_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ran("samples") == 0
    listed = capsys.readouterr().out.splitlines()
    assert str(sample_assets() / "lantern_first_pass.obj") in listed
    assert ran("samples", "--copy-to", "copies") == 0
    copy = tmp_path / "copies" / "lantern_first_pass.obj"
    assert copy.read_bytes() == (sample_assets() / copy.name).read_bytes()
    assert ran("samples", "--copy-to", "copies") == 2


@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_help_describes_every_command(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as caught:
        ran(*filter(None, [command]), "--help")
    assert caught.value.code == 0
    out = capsys.readouterr().out
    assert out.startswith("usage: evenweave")
    assert "example" in out or command == "prepare"


def test_the_version_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as caught:
        ran("--version")
    assert caught.value.code == 0
    assert capsys.readouterr().out == f"evenweave {__version__}\n"


# As a process


def start(*arguments: object, **options: object) -> "subprocess.Popen[bytes]":
    command = [sys.executable, "-m", "evenweave", *map(str, arguments)]
    return subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, **options  # type: ignore[call-overload]
    )  # fmt: skip


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX pipes")
def test_a_reader_that_leaves_ends_it_quietly() -> None:
    process = start("limits")
    assert process.stdout is not None
    process.stdout.close()
    _, errors = process.communicate(timeout=60)
    assert errors == b""
    assert process.returncode in (0, 141)


def test_text_goes_out_where_the_terminal_knows_ascii_alone(square: Path) -> None:
    process = start("check", square, env={**os.environ, "PYTHONIOENCODING": "ascii"})
    out, errors = process.communicate(timeout=60)
    assert (process.returncode, errors) == (0, b"")
    assert b"square" in out


def test_an_interrupt_ends_it_quietly_with_130(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(arguments: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(COMMANDS["limits"], "run", interrupted)
    assert ran("limits") == 130


def started(*arguments: str) -> tuple[int, str, set[str]]:
    """Run the program in a process; return its exit code, what it complains and what it loads."""
    program = (
        "import atexit, sys; from evenweave import cli;"
        "atexit.register(lambda: print(*sys.modules, file=sys.__stdout__));"
        f"sys.exit(cli.main({arguments!r}))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    return done.returncode, done.stderr, set(done.stdout.split())


@pytest.mark.parametrize(
    ("word", "hint"),
    [("chekc", "did you mean check?"), ("lantern", "evenweave --help lists the commands.")],
)
def test_a_mistyped_command_is_told_at_once(word: str, hint: str) -> None:
    code, complaint, loaded = started(word)
    assert code == 2
    assert complaint == f"evenweave: {word} is neither a command nor a file; {hint}\n"
    assert not loaded & {"numpy", "numba", "PySide6"}


@pytest.mark.parametrize("option", ["--version", "--help"])
def test_help_loads_nothing_heavy(option: str) -> None:
    code, _, loaded = started(option)
    assert code == 0
    assert not loaded & {"numpy", "numba", "scipy", "PySide6", "trimesh"}


def test_a_check_loads_neither_matching_nor_what_numba_does_not_need_here() -> None:
    sample = str(sample_assets() / "lantern_first_pass.obj")
    code, _, loaded = started("check", sample)
    assert code == 1
    assert "numba.np.arraymath" in loaded
    assert not loaded & {"scipy.linalg", "cffi", "trimesh", "evenweave.compare.matching.matching"}
    assert not {name for name in loaded if name.startswith(("evenweave.trial", "evenweave.window"))}
