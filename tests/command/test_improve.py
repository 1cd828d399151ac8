"""`evenweave improve`: a copy is saved, numbers are told, and the file itself stays."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from evenweave.cli import main
from evenweave.limits.file import read_limits, write_limits
from evenweave.mesh.read import read
from evenweave.pipeline import Review, review
from evenweave.places import sample_assets
from evenweave.trial.safe.options import JUDGEMENT
from evenweave.trial.uvs.asset_uvs import corner_values

# A square of 1 m on a quarter of the tile, off to one side: only its place is wrong.
SQUARE = """\
o square
v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
vt {0} 0.25
vt {1} 0.25
vt {1} 0.75
vt {0} 0.75
f 1/1 2/2 3/3 4/4
"""


def ran(*arguments: object) -> int:
    return main(["improve", *map(str, arguments)])


def square(name: str, u: float) -> Path:
    path = Path(name)
    path.write_text(SQUARE.format(u, u + 0.5))
    return path


def judged(path: Path) -> Review:
    return review(read(path), read_limits(sample_assets() / "evenweave.toml"))


def test_the_sample_passes_every_check_that_needs_no_judgement(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    name = "lantern_first_pass.obj"
    source = Path(shutil.copy(sample_assets() / name, tmp_path))
    shutil.copy(sample_assets() / "evenweave.toml", tmp_path)
    before = source.read_bytes()
    assert ran(source, "-o", "better.obj", "--seconds", 1.5) == 0
    assert source.read_bytes() == before
    after = judged(Path("better.obj"))
    assert {w.check for one in after.layouts for w in one.findings} <= JUDGEMENT
    first = judged(source)
    assert len({w.check for one in first.layouts for w in one.findings} - JUDGEMENT) >= 10
    out = capsys.readouterr().out
    assert "brass: unwrapped 3 islands again." in out
    assert "cork: nothing to do." in out
    assert "Saved better.obj, read back and compared." in out


def test_only_what_is_asked_for_is_done(capsys: pytest.CaptureFixture[str]) -> None:
    source = square("square.obj", 0.25)
    assert ran(source, "-o", "packed.obj", "--pack", "--seconds", 2) == 0
    out = capsys.readouterr().out
    assert "packed" in out
    assert "levelled" not in out
    # One square fills the tile but for the margin of 8 texels on each side.
    (one,) = judged(Path("packed.obj")).layouts
    assert one.measures.coverage.total == pytest.approx((2032 / 2048) ** 2, abs=0.05)
    assert one.measures.gaps.margin_px[0] >= 8


def test_nothing_to_do_ends_with_1_and_writes_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    write_limits(Path("quiet.toml"), read_limits(sample_assets() / "evenweave.toml"))
    source = Path(shutil.copy(sample_assets() / "lantern_second_pass.obj", "."))
    assert ran(source, "-o", "better.obj", "--limits", "quiet.toml") == 1
    assert not Path("better.obj").exists()
    assert "There was nothing to do; no copy was saved." in capsys.readouterr().out


def test_the_source_is_refused_before_any_work(capsys: pytest.CaptureFixture[str]) -> None:
    source = square("square.obj", 1.25)
    before = source.read_bytes()
    for target in ("square.obj", "../" + Path.cwd().name + "/square.obj"):
        assert ran(source, "-o", target, "--replace") == 2
    assert source.read_bytes() == before
    assert "meshes are never changed" in capsys.readouterr().err


def test_a_folder_that_is_not_there_is_told_before_any_work(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert ran(square("square.obj", 1.25), "-o", "absent/copy.obj") == 2
    told = capsys.readouterr()
    assert told.err.startswith("evenweave: copy.obj: there is no folder absent;")
    assert not told.out


def test_an_existing_copy_is_replaced_only_when_asked(capsys: pytest.CaptureFixture[str]) -> None:
    source = square("square.obj", 1.25)
    Path("copy.obj").write_text("mine")
    assert ran(source, "-o", "copy.obj", "--seconds", 0.2) == 2
    assert "exists already" in capsys.readouterr().err
    assert Path("copy.obj").read_text() == "mine"
    assert ran(source, "-o", "copy.obj", "--seconds", 0.2, "--replace") == 0
    assert Path("copy.obj").read_text().startswith("o square")


def test_a_format_that_cannot_be_written_is_one_sentence(
    capsys: pytest.CaptureFixture[str],
) -> None:
    source = Path("square.ply")
    source.write_text(
        "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\n"
        "property float z\nproperty float s\nproperty float t\nelement face 1\n"
        "property list uchar int vertex_indices\nend_header\n"
        "0 0 0 0 0\n1 0 0 3 0\n0 1 0 0 3\n3 0 1 2\n"
    )
    assert ran(source, "-o", "copy.ply") == 2
    assert "copies of PLY files cannot be saved" in capsys.readouterr().err


def test_a_wrong_time_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    for text in ("0", "-1", "nan", "soon"):
        with pytest.raises(SystemExit) as ended:
            ran(square("square.obj", 1.25), "-o", "copy.obj", "--seconds", text)
        assert ended.value.code == 2
    assert "must be a number above 0" in capsys.readouterr().err


def test_a_second_uv_set_can_be_improved_alone() -> None:
    source = Path(shutil.copy(sample_assets() / "lantern.glb", "."))
    assert ran(source, "-o", "light.glb", "--uv-set", "TEXCOORD_1", "--pack",
               "--seconds", 0.3) == 0  # fmt: skip
    before, after = read(source), read(Path("light.glb"))
    same, other = ([corner_values(one.uv_sets[k]) for one in (before, after)] for k in (0, 1))
    assert (same[0] == same[1]).all()
    assert not (other[0] == other[1]).all()


def test_seams_are_moved_only_when_asked(capsys: pytest.CaptureFixture[str]) -> None:
    source = Path(shutil.copy(sample_assets() / "lantern_first_pass.obj", "."))
    assert ran(source, "-o", "sewn.obj", "--sew") == 0
    out = capsys.readouterr().out
    assert "brass: sewed 1 straggler on." in out
    assert "packed" not in out
    assert "--pack places them anew" not in out
    before, after = judged(source), judged(Path("sewn.obj"))
    assert [one.layout.island_count for one in before.layouts] == [32, 4, 4]
    assert [one.layout.island_count for one in after.layouts] == [31, 4, 4]
    assert "fragment" not in {w.check for one in after.layouts for w in one.findings}


def test_islands_left_lying_on_others_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    source = Path("two.obj")
    # Two equal squares, the second at a third of the density, so close that levelled they overlap.
    source.write_text(
        SQUARE.format(0.1, 0.7) + "o small\nv 2 0 0\nv 3 0 0\nv 3 1 0\nv 2 1 0\n"
        "vt 0.71 0.4\nvt 0.91 0.4\nvt 0.91 0.6\nvt 0.71 0.6\nf 5/5 6/6 7/7 8/8\n"
    )
    assert ran(source, "-o", "level.obj", "--level") == 0
    assert "Islands lie on others that did not before; --pack" in capsys.readouterr().out
    assert ran(source, "-o", "packed.obj", "--level", "--pack", "--seconds", 0.2) == 0
    assert "--pack places them anew" not in capsys.readouterr().out


def test_a_step_that_finds_nothing_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert ran(square("square.obj", 0.2), "-o", "copy.obj", "--sew", "--cut") == 1
    out = capsys.readouterr().out
    assert "no straggler can be sewn on." in out
    assert "no island is cut open: none is helped by it." in out


def test_a_layout_left_alone_is_told_once_with_its_reason(
    capsys: pytest.CaptureFixture[str],
) -> None:
    text = "".join(
        line.format(0.0, 3.0) if "vt" in line else line for line in SQUARE.splitlines(keepends=True)
    )
    source = Path("tiled.obj")
    source.write_text(text.replace("0.25", "-1").replace("0.75", "2"))
    for steps in (("--sew",), ("--sew", "--cut", "--pack")):
        assert ran(source, "-o", "copy.obj", *steps) == 1
        out = capsys.readouterr().out
        assert out.count("left as it is, it looks like a repeating texture") == 1


def test_a_busy_machine_comes_to_the_same_bytes(tmp_path: Path) -> None:
    source = sample_assets() / "lantern_first_pass.obj"
    command = [
        sys.executable,
        "-m",
        "evenweave",
        "improve",
        str(source),
        "--sew",
        "--cut",
        "--safe",
    ]

    def improved(name: str) -> bytes:
        output = tmp_path / f"{name}.obj"
        subprocess.run([*command, "--output", str(output)], check=True, capture_output=True)
        return output.read_bytes()

    calm = improved("calm")
    busy = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(6)]
    try:
        assert improved("busy") == calm
    finally:
        for process in busy:
            process.kill()
            process.wait()
