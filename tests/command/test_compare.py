"""`evenweave compare`: what it writes, and how it ends."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest
from PIL import Image

from evenweave.check.finding import Severity
from evenweave.cli import main
from evenweave.limits.file import discover
from evenweave.mesh.read import read
from evenweave.notes.notes_file import notes_path, save_notes
from evenweave.notes.store import EMPTY, with_waiver
from evenweave.notes.waiving import new_waiver
from evenweave.pipeline import review
from evenweave.places import resource, sample_assets

FIRST, SECOND = "lantern_first_pass.obj", "lantern_second_pass.obj"


@pytest.fixture(autouse=True)
def _samples(_default_folder: None, tmp_path: Path) -> None:
    for name in (FIRST, SECOND, "evenweave.toml"):
        shutil.copy(sample_assets() / name, tmp_path)


def ran(*arguments: object) -> int:
    return main(["compare", *map(str, arguments)])


def test_a_better_pass_ends_with_0_and_is_called_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert ran(FIRST, SECOND) == 0
    out = capsys.readouterr().out
    assert "  Better: 8 faults, 13 warnings, 4 remarks fixed" in out
    assert "scaled        door 2: 2 times as large\n" in out
    assert "re-flattened  lintel_4: 8.3 % of it, the rest only moved\n" in out
    assert "added         hinge_upper\n" in out
    assert max(map(len, out.splitlines())) <= 96


def test_new_faults_end_with_1(capsys: pytest.CaptureFixture[str]) -> None:
    assert ran(SECOND, FIRST) == 1
    out = capsys.readouterr().out
    assert "  Worse: 8 faults, 13 warnings, 4 remarks new" in out
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
    assert result["verdict"].startswith("Better: 8 faults, 13 warnings, 4 remarks fixed")


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
    assert {finding["standing"] for finding in result["warnings"]} == {"new"}


def test_many_of_a_kind_are_counted_not_listed(capsys: pytest.CaptureFixture[str]) -> None:
    apart, heap = (Path(f"{name}.obj") for name in ("apart", "heap"))
    apart.write_text(panes(lambda number: (0.1 * number, 0.5)))
    heap.write_text(panes(lambda number: (0.07 * number, 0.5)))
    assert ran(apart, heap) == 1
    out = capsys.readouterr().out
    assert out.count("fault    overlap        pane_") == 5
    assert "    fault    overlap        3 more of this kind; --format json lists them all." in out


def panes(place: Callable[[int], tuple[float, float]]) -> str:
    """Nine squares of a metre, each at its own place of the tile."""
    lines = []
    for number in range(9):
        (u, v), size = place(number), 0.08 + 0.001 * number
        corners = (0, 0), (1, 0), (1, 1), (0, 1)
        lines += [f"o pane_{number}"]
        lines += [f"v {2 * number + x} {y} 0" for x, y in corners]
        lines += [f"vt {u + size * x} {v + size * y}" for x, y in corners]
        lines += ["f " + " ".join(f"{4 * number + k}/{4 * number + k}" for k in range(1, 5))]
    return "\n".join(lines) + "\n"


def waive_faults() -> int:
    """Waive every fault of the first pass beside it, and return how many there are."""
    done = review(read(Path(FIRST)), discover(Path.cwd()).limits)
    store = EMPTY
    for one in done.layouts:
        for finding in one.findings:
            if finding.severity is Severity.FAULT:
                store = with_waiver(store, new_waiver(one, finding, "A first pass", who="Mara"))
    save_notes(notes_path(Path(FIRST)), store)
    return len(store.waivers)


def test_what_is_waived_in_the_new_pass_is_told_apart_and_does_not_fail(
    capsys: pytest.CaptureFixture[str],
) -> None:
    count = waive_faults()
    assert ran(SECOND, FIRST) == 0
    out = capsys.readouterr().out
    assert "  Worse: 13 warnings, 4 remarks new" in out
    assert f"Waived: {count} faults." in " ".join(out.split())
    new, waived = out.index("\n  new\n"), out.index("\n  waived\n")
    assert new < waived
    assert "\n    fault " not in out[new:waived]
    assert out[waived:].count("\n    fault ") == count
    assert out[waived:].count("This fault is waived: A first pass (Mara, ") == count
    assert ran(SECOND, FIRST, "--fail-on", "warning") == 1
    # Those beside the old pass decide nothing.
    assert ran(FIRST, SECOND) == 0
    assert "  Better: 8 faults, 13 warnings, 4 remarks fixed" in capsys.readouterr().out


def test_json_keeps_what_is_waived_with_its_reason(capsys: pytest.CaptureFixture[str]) -> None:
    count = waive_faults()
    assert ran(SECOND, FIRST, "--format", "json") == 0
    result = json.loads(capsys.readouterr().out)
    schema = json.loads(resource("compare.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(result)
    assert len(result["warnings"]) == 25
    waived = [one for one in result["warnings"] if one["waived"]]
    assert len(waived) == count
    assert {one["severity"] for one in waived} == {"fault"}
    assert {one["waived"]["reason"] for one in waived} == {"A first pass"}


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
