"""UV outlines: every island once, in texels, on nothing."""

import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from PIL import Image
from tests import shapes

from evenweave.cli import main
from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout, Tile
from evenweave.limits.file import write_limits
from evenweave.limits.limits import Limits
from evenweave.mesh.asset import Asset
from evenweave.mesh.read import read
from evenweave.picture.outlines import (
    island_rings,
    outlines_picture,
    outlines_svg,
    painted_tiles,
    tile_files,
)
from evenweave.pipeline import review
from evenweave.places import sample_assets

SVG = "{http://www.w3.org/2000/svg}"
LANTERN = sample_assets() / "lantern_first_pass.obj"


def only(asset: Asset) -> Layout:
    (layout,) = build_layouts(asset, None, ())
    return layout


def paths(svg: str) -> dict[str, str]:
    root = ElementTree.fromstring(svg.encode())
    return {path.attrib["id"]: path.attrib["d"] for path in root.iter(f"{SVG}path")}


def polygon(data: str) -> shapely.Polygon:
    """The one closed ring of a path as shapely reads it."""
    numbers = [float(x) for x in re.findall(r"-?[\d.]+", data)]
    return shapely.Polygon(np.reshape(numbers, (-1, 2)))


def test_a_square_is_one_closed_path_in_texels_with_v_up() -> None:
    svg = outlines_svg([only(shapes.plane(bounds=(0.25, 0.5, 0.5, 1.0)))], Tile(400, 200), [(0, 0)])
    assert 'viewBox="0 -200 400 200"' in svg
    (data,) = paths(svg).values()
    assert data.endswith("Z")
    assert polygon(data).equals(shapely.box(100, -200, 200, -100))


def test_the_path_of_a_curved_island_encloses_the_area_that_was_measured() -> None:
    layout = only(shapes.cone())
    (data,) = paths(outlines_svg([layout], Tile(1000, 1000), [(0, 0)])).values()
    corner = layout.uv[layout.corner_uv[layout.triangle_corner]] * 1000
    area = sum(shapely.Polygon(triangle).area for triangle in corner)
    assert polygon(data).area == pytest.approx(area, rel=1e-4)


def test_every_outline_edge_is_walked_once() -> None:
    (layout, *_) = build_layouts(read(LANTERN), None, ())
    rings = island_rings(layout)
    assert len(rings) == layout.island_count
    walked = sum(len(ring) - 1 for island in rings for ring in island)
    assert walked == len(layout.edges.outline)


def test_a_hole_is_a_second_outline() -> None:
    grid = shapes.grid_faces(3, 3).tolist()
    s, t = np.meshgrid(np.linspace(0, 1, 4), np.linspace(0, 1, 4))
    uv = np.column_stack([s.ravel(), t.ravel()])
    ring = [face for k, face in enumerate(grid) if k != 4]
    layout = only(shapes.asset(np.column_stack([uv, 0 * uv[:, 0]]), ring, uv))
    assert sorted(len(one) - 1 for one in island_rings(layout)[0]) == [4, 12]


def test_names_are_identifiers_each_once_and_titles_are_escaped() -> None:
    names = ("2 <b> & 'c'", "2 <b> & 'c' 2", "x", "Straße/门", "")
    many = shapes.together(*(shapes.plane(part=name) for name in names))
    svg = outlines_svg([only(many), only(shapes.plane(part="x"))], Tile(), [(0, 0)])
    root = ElementTree.fromstring(svg.encode())
    ids = [element.attrib["id"] for element in root.iter() if "id" in element.attrib]
    assert len(ids) == len(set(ids)) == 2 + len(only(many).island_name) + 1
    assert all(re.fullmatch(r"[^\W\d][\w.-]*", one) for one in ids)
    titles = [element.text for element in root.iter(f"{SVG}title")]
    assert "2 <b> & 'c'" in titles


def test_the_picture_is_transparent_but_for_the_lines() -> None:
    image = outlines_picture(only(shapes.plane(bounds=(0.25, 0.25, 0.75, 0.75))), Tile(64, 32))
    assert image.shape == (32, 64, 4)
    drawn = image[:, :, 3] > 0
    inside = np.zeros_like(drawn)
    inside[8:24, 16:48] = True
    hull = np.zeros_like(drawn)
    hull[7:25, 15:49] = True
    assert drawn[16, 16] or drawn[16, 15]
    assert not drawn[12:20, 20:44].any()
    assert not drawn[~hull].any()


def test_the_next_tile_has_a_picture_of_its_own() -> None:
    layout = only(shapes.plane(bounds=(1.25, 0.25, 1.75, 0.75)))
    assert outlines_picture(layout, Tile(64, 64), (0, 0))[:, :, 3].max() == 0
    own = outlines_picture(only(shapes.plane(bounds=(0.25, 0.25, 0.75, 0.75))), Tile(64, 64))
    assert np.array_equal(outlines_picture(layout, Tile(64, 64), (1, 0)), own)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_command_writes_all_layouts_as_svg_and_one_as_png(folder: Path) -> None:
    assert main(["outlines", str(LANTERN), "--output", "all.svg"]) == 0
    root = ElementTree.fromstring((folder / "all.svg").read_bytes())
    assert [group.attrib["id"] for group in root.iter(f"{SVG}g")] == ["brass", "glass", "cork"]
    assert len(list(root.iter(f"{SVG}path"))) == 40
    assert main(["outlines", str(LANTERN), "--layout", "glass", "--tile", "512x256",
                 "--output", "glass.png"]) == 0  # fmt: skip
    with Image.open(folder / "glass.png") as image:
        assert (image.size, image.mode) == ((512, 256), "RGBA")
        assert image.getextrema()[3] == (0, 255)


def test_the_command_numbers_the_pictures_of_udim_tiles(folder: Path) -> None:
    write_limits(folder / "evenweave.toml", Limits(udim=True, tile_width=64, tile_height=64))
    square = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\n"
    for u in (0, 1):
        square += "".join(f"vt {u + x} {y}\n" for x, y in ((0.1, 0.1), (0.9, 0.1), (0.9, 0.9)))
    (folder / "two.obj").write_text(square + "f 1/1 2/2 3/3\nf 1/4 2/5 3/6\n")
    assert main(["outlines", "two.obj", "--output", "two.png"]) == 0
    assert sorted(path.name for path in folder.glob("*.png")) == ["two.1001.png", "two.1002.png"]


def test_other_suffixes_and_the_mesh_itself_are_refused(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["outlines", str(LANTERN), "--output", "x.pdf"]) == 2
    assert "end it with .svg or .png" in capsys.readouterr().err
    assert main(["outlines", str(LANTERN), "--output", str(LANTERN)]) == 2
    assert "meshes are never changed" in capsys.readouterr().err


def test_only_tiles_with_a_number_are_painted_each_into_a_file_of_its_own(tmp_path: Path) -> None:
    pieces = [shapes.plane(bounds=(u + 0.2, 0.2, u + 0.8, 0.8), part=f"{u}") for u in (0, 2, 9, 12)]
    limits = Limits(udim=True, tile_width=64, tile_height=64)
    (one,) = review(shapes.together(*pieces), limits).layouts
    tiles = painted_tiles(one)
    assert tiles == [(0, 0), (2, 0), (9, 0)]
    names = [path.name for path in tile_files(tmp_path / "brass.png", tiles).values()]
    assert names == ["brass.1001.png", "brass.1003.png", "brass.1010.png"]
    assert painted_tiles(replace(one, limits=Limits())) == [(0, 0)]
    assert tile_files(tmp_path / "brass.png", [(0, 0)]) == {(0, 0): tmp_path / "brass.png"}
