"""`evenweave advise`: what it says and in which forms."""

import json
import shutil
from pathlib import Path

import pytest

from evenweave.cli import main
from evenweave.places import sample_assets


@pytest.fixture
def lantern(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copy(sample_assets() / "evenweave.toml", tmp_path)
    monkeypatch.setattr("evenweave.trial.survey.PACK_SECONDS", 0.2)
    monkeypatch.chdir(tmp_path)
    return Path(shutil.copy(sample_assets() / "lantern_first_pass.obj", "."))


def test_the_worst_islands_come_first_in_words(
    lantern: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["advise", str(lantern), "--islands", "4"]) == 0
    out = capsys.readouterr().out
    # Planted: font folded back, rib_3 unevenly spaced, door squeezed; cap 3 cut off; handle bowed.
    for told in ("triangles of font are turned over", "rib_3 has a stretch energy of 1.2",
                 "door has a stretch energy", "cap 3 is a straggler"):  # fmt: skip
        assert told in " ".join(out.split())
    assert max(map(len, out.splitlines()[1:])) <= 96


def test_json_tells_the_same_in_numbers(lantern: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["advise", str(lantern), "--islands", "3", "--format", "json"]) == 0
    result = json.loads(capsys.readouterr().out)
    brass, glass, cork = result["layouts"]
    assert [one["name"] for one in (brass, glass, cork)] == ["brass", "glass", "cork"]
    assert len(brass["islands"]) == 3
    font = next(one for one in brass["islands"] if one["name"] == "font")
    assert font["verdicts"] == ["unwrap again"]
    assert font["now"]["flips"] == 32
    # The font's wall is a cylinder: it can be laid flat without any stretch.
    assert font["attainable"]["energy"] == pytest.approx(1.0, abs=1e-4)
    assert glass["pack"]["coverage"] > 3 * glass["pack"]["coverage_now"]
    assert glass["pack"]["coverage"] <= glass["pack"]["bound"]


def test_a_file_that_cannot_be_read_ends_with_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["advise", str(tmp_path / "absent.obj")]) == 2
    assert "there is no such file" in capsys.readouterr().err


def test_the_mesh_is_not_written_over(lantern: Path) -> None:
    before = lantern.read_bytes()
    assert main(["advise", str(lantern), "--output", str(lantern)]) == 2
    assert lantern.read_bytes() == before
