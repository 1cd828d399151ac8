"""`evenweave picture`: mip blocks, halos and kinds of seams on request."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from tests.command.squares import square
from tests.command.waived import waive

from evenweave.cli import main
from evenweave.notes.notes_file import notes_path
from evenweave.picture.lettering.sheet import Box, sheet
from evenweave.places import sample_assets


def drawn(folder: Path, *options: str) -> np.ndarray:
    path = folder / f"{'_'.join(options)}.png"
    mesh = sample_assets() / "lantern_first_pass.obj"
    arguments = ["picture", str(mesh), "--view", "flat", "--size", "800x600"]
    assert main([*arguments, *options, "--output", str(path)]) == 0
    with Image.open(path) as image:
        return np.asarray(image)


def part(picture: np.ndarray, box: Box) -> np.ndarray:
    return picture[box.top : box.top + box.height, box.left : box.left + box.width]


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> np.ndarray:
    return drawn(tmp_path_factory.mktemp("plain"))


@pytest.mark.parametrize("options", [("--mip", "4"), ("--halos",), ("--seam-kinds",)])
def test_what_is_asked_for_is_drawn_and_explained(
    plain: np.ndarray, tmp_path: Path, options: tuple[str, ...]
) -> None:
    picture = drawn(tmp_path, *options)
    differs = (picture != plain).any(axis=2)
    place = sheet(800, 600, views=1)
    assert part(differs, place.views[0]).mean() > 1e-3
    assert part(differs, place.legend).any()
    assert not part(differs, place.findings).any()


def test_every_mip_level_looks_different(tmp_path: Path) -> None:
    pictures = [drawn(tmp_path, "--mip", str(level))[80:440] for level in (2, 4, 6)]
    assert not (pictures[0] == pictures[1]).all()
    assert not (pictures[1] == pictures[2]).all()


def test_a_level_that_no_texture_has_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SystemExit) as error:
        drawn(tmp_path, "--mip", "15")
    assert error.value.code == 2


def test_waivers_beside_the_mesh_are_counted_apart_and_not_pointed_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    mesh = square(Path("a.obj"))
    mesh.write_text(mesh.read_text().replace("vt 0.75 0.75", "vt 0.75 0.95"))

    def taken(name: str) -> np.ndarray:
        arguments = ["picture", str(mesh), "--view", "flat", "--size", "800x600", "--marks"]
        assert main([*arguments, "--output", name]) == 0
        with Image.open(name) as image:
            return np.asarray(image)

    plain = taken("plain.png")
    waive(mesh, "stretch")
    differs = (taken("waived.png") != plain).any(axis=2)
    place = sheet(800, 600, views=1)
    for box in (place.title, place.views[0], place.findings):
        assert part(differs, box).any()
    assert not part(differs, place.legend).any()
    notes_path(mesh).write_bytes(b"{")
    assert (taken("broken.png") == plain).all()
    (line,) = capsys.readouterr().err.splitlines()
    assert line.endswith(
        "it is not JSON; restore it or move it away; until then nothing is waived."
    )


@pytest.mark.parametrize(
    ("name", "cause"),
    [("p.jpg", "pictures are written as PNG"), ("absent/p.png", "there is no folder")],
)
def test_a_place_that_cannot_be_written_is_told_before_anything_is_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, cause: str
) -> None:
    mesh, before = tmp_path / "missing.obj", list(tmp_path.iterdir())
    assert main(["picture", str(mesh), "--output", str(tmp_path / name)]) == 2
    assert cause in capsys.readouterr().err
    pair = ["compare", str(mesh), str(mesh), "--picture", str(tmp_path / name)]
    assert main(pair) == 2
    assert cause in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == before


@pytest.mark.parametrize("ending", ["svg", "png"])
def test_a_mesh_without_uvs_has_no_outlines_and_is_told_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], ending: str
) -> None:
    mesh = square(tmp_path / "mesh.obj")
    lines = [line for line in mesh.read_text().splitlines() if not line.startswith(("vt", "f"))]
    mesh.write_text("\n".join([*lines, "f 1 2 3 4", ""]))
    output = tmp_path / f"outlines.{ending}"
    assert main(["outlines", str(mesh), "--output", str(output)]) == 2
    assert "has no UVs to outline; unwrap it first" in capsys.readouterr().err
    assert not output.exists()
