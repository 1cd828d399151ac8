"""`evenweave compare`: what it writes, and how it ends."""

import json
import shutil
from pathlib import Path

import jsonschema
import pytest
from PIL import Image

from evenweave.cli import main
from evenweave.places import resource, sample_assets

FIRST, SECOND = "lantern_first_pass.obj", "lantern_second_pass.obj"


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in (FIRST, SECOND, "evenweave.toml"):
        shutil.copy(sample_assets() / name, tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    monkeypatch.chdir(tmp_path)


def ran(*arguments: object) -> int:
    return main(["compare", *map(str, arguments)])


def test_a_better_pass_ends_with_0_and_is_called_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert ran(FIRST, SECOND) == 0
    out = capsys.readouterr().out
    assert "  Better: 25 warnings fixed" in out
    assert "scaled        door 2: 2 times as large\n" in out
    assert "re-flattened  lintel_4: 8.3 % of it, the rest only moved\n" in out
    assert "added         hinge_upper\n" in out
    assert max(map(len, out.splitlines())) <= 96


def test_new_faults_end_with_1(capsys: pytest.CaptureFixture[str]) -> None:
    assert ran(SECOND, FIRST) == 1
    out = capsys.readouterr().out
    assert "  Worse: 25 warnings new" in out
    assert "lost          hinge_upper: no usable UVs any more\n" in out


def test_old_faults_that_remain_end_with_0() -> None:
    assert ran(FIRST, FIRST, "--fail-on", "note") == 0


def test_both_passes_are_judged_under_the_limits_of_the_new(tmp_path: Path) -> None:
    away = tmp_path / "away"
    away.mkdir()
    shutil.move(FIRST, away / FIRST)
    (away / "evenweave.toml").write_text("tile_width = 64\ntile_height = 64\n")
    ran(away / FIRST, SECOND, "--format", "json", "--output", "out.json")
    result = json.loads(Path("out.json").read_text())
    assert result["verdict"].startswith("Better: 25 warnings fixed")


def test_json_is_valid_by_the_schema_and_says_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    assert ran(SECOND, FIRST, "--format", "json") == 1
    result = json.loads(capsys.readouterr().out)
    schema = json.loads(resource("compare.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(result)
    assert result["judgement"] == "worse"
    states = {island["old"]["name"]: island["state"] for island in result["islands"]}
    assert states["cap 2"] == "re-cut"
    (cut,) = [island for island in result["islands"] if island["state"] == "re-cut"]
    assert [piece["name"] for piece in cut["pieces"]] == ["cap 2", "cap 3"]
    assert result["states"]["lost"] == 1
    assert {warning["standing"] for warning in result["warnings"]} == {"new"}


def test_an_unreadable_file_ends_with_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert ran(FIRST, "absent.obj") == 2
    assert capsys.readouterr().err.startswith("evenweave: absent.obj: there is no such file")


def test_a_mesh_is_never_written_over(capsys: pytest.CaptureFixture[str]) -> None:
    before = Path(FIRST).read_bytes()
    assert ran(FIRST, SECOND, "--output", FIRST) == 2
    assert ran(FIRST, SECOND, "--picture", SECOND) == 2
    assert Path(FIRST).read_bytes() == before
    assert "meshes are never changed" in capsys.readouterr().err


@pytest.mark.parametrize("layout", [(), ("--layout", "glass"), ("--layout", "3")])
def test_the_picture_has_the_size_asked(layout: tuple[str, ...]) -> None:
    assert ran(FIRST, SECOND, "--picture", "out.png", "--size", "640x400", *layout) == 0
    with Image.open("out.png") as picture:
        assert picture.size == (640, 400)


def test_a_layout_that_is_not_there_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert ran(FIRST, SECOND, "--picture", "out.png", "--layout", "wood") == 2
    assert "there is no layout named wood; it has brass, glass, cork" in capsys.readouterr().err
