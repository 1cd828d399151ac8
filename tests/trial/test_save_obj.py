"""Copies of OBJ files: what changes, byte for byte, and what is refused."""

import os
import resource
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenweave.errors import FileProblem
from evenweave.layout.build import build_layouts
from evenweave.mesh.asset import Asset
from evenweave.mesh.read import read
from evenweave.places import sample_assets
from evenweave.trial.save.save import save_copy, suffixes
from evenweave.trial.uvs.asset_uvs import corner_values, trial_asset
from evenweave.trial.uvs.corner_uvs import CornerUvs

pytestmark = pytest.mark.kernels

SHEET = b"""\
# two faces of one sheet
o sheet
v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
vt 0.10 0.100000   # lower left
\tvt  0.4\t0.1 0.5
vt 0.4 0.4
vt 0.1 0.4
vn 0 0 1
f 1/1/1 2/2/1 3/3/1
f -4/-4/-1  -2/-2/-1 4/4/1 # the other
"""


def opened(path: Path, data: bytes) -> Asset:
    path.write_bytes(data)
    return read(path)


def moved(asset: Asset, corners: list[int], offset: tuple[float, float]) -> Asset:
    """Move some corners of the first layout."""
    (layout, *_) = build_layouts(asset)
    corner = np.array(corners, np.int32)
    uv = layout.uv[layout.corner_uv[corner]] + np.array(offset)
    return trial_asset(asset, layout, CornerUvs.of(corner, uv))


def saved(asset: Asset, changed: Asset, name: str = "copy.obj") -> bytes:
    target = asset.path.with_name(name)
    save_copy(asset, changed, target)
    return target.read_bytes()


def test_only_the_numbers_of_lines_that_move_differ(tmp_path: Path) -> None:
    asset = opened(tmp_path / "sheet.obj", SHEET)
    copy = saved(asset, moved(asset, [1], (0.05, 0.0)))
    assert copy == SHEET.replace(b"vt  0.4\t0.1 0.5", b"vt  0.450000\t0.100000 0.5")


def test_comments_and_third_numbers_stay_where_all_moves(tmp_path: Path) -> None:
    asset = opened(tmp_path / "sheet.obj", SHEET)
    copy = saved(asset, moved(asset, [0, 1, 2, 3, 4, 5], (0.25, 0.5)))
    assert b"vt 0.350000 0.600000   # lower left\n" in copy
    assert b"\tvt  0.650000\t0.600000 0.5\n" in copy


@pytest.mark.parametrize("line_end", [b"\r\n", b"\r", b"\n"])
def test_line_ends_stay(tmp_path: Path, line_end: bytes) -> None:
    data = SHEET.replace(b"\n", line_end)
    asset = opened(tmp_path / "sheet.obj", data)
    copy = saved(asset, moved(asset, [3, 4, 5], (0.25, 0.5)))
    assert copy.count(line_end) == data.count(line_end) + 2
    if line_end == b"\r\n":
        assert copy.count(b"\n") == copy.count(b"\r")


def test_a_copy_without_changes_is_the_file_itself(tmp_path: Path) -> None:
    asset = opened(tmp_path / "sheet.obj", SHEET)
    assert saved(asset, asset) == SHEET


def test_a_new_seam_adds_lines_and_rewrites_only_the_faces_field(tmp_path: Path) -> None:
    asset = opened(tmp_path / "sheet.obj", SHEET)
    copy = saved(asset, moved(asset, [3, 4, 5], (0.25, 0.5)))
    # Corners 0 and 2 of the sheet part; the fourth coordinate moves with the second face.
    expected = SHEET.replace(
        b"vt 0.1 0.4\n", b"vt 0.350000 0.900000\nvt 0.350000 0.600000\nvt 0.650000 0.900000\n"
    ).replace(b"f -4/-4/-1  -2/-2/-1 4/4/1", b"f -4/5/-1  -2/6/-1 4/4/1")
    assert copy == expected


TWO_OBJECTS = b"""\
o first
v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
vt 0.1 0.1
vt 0.4 0.1
vt 0.4 0.4
vt 0.1 0.4
f 1/1 2/2 3/3
f 1/1 3/3 4/4
o second
v 0 0 2
v 1 0 2
v 1 1 2
vt 0.6 0.6
vt 0.9 0.6
vt 0.9 0.9
l 5/5 6/-2
f 5/5 6/6 7/-1
f 6 7
"""


def test_lines_are_added_before_the_faces_and_later_numbers_move_on(tmp_path: Path) -> None:
    asset = opened(tmp_path / "two.obj", TWO_OBJECTS)
    copy = saved(asset, moved(asset, [3, 4, 5], (0.0, 0.5)))
    expected = (
        TWO_OBJECTS.replace(
            b"vt 0.1 0.4\n", b"vt 0.100000 0.900000\nvt 0.100000 0.600000\nvt 0.400000 0.900000\n"
        )
        .replace(b"f 1/1 3/3 4/4", b"f 1/5 3/6 4/4")
        .replace(b"l 5/5 6/-2", b"l 5/7 6/8")
        .replace(b"f 5/5 6/6 7/-1", b"f 5/7 6/8 7/9")
    )
    assert copy == expected


def test_a_second_number_that_is_missing_is_added(tmp_path: Path) -> None:
    data = SHEET.replace(b"vt 0.4 0.4", b"vt 0.4 # flat")
    asset = opened(tmp_path / "sheet.obj", data)
    copy = saved(asset, moved(asset, [2, 4], (0.0, 0.25)))
    assert copy == data.replace(b"vt 0.4 # flat", b"vt 0.400000 0.250000 # flat")


def test_joined_lines_stay_joined(tmp_path: Path) -> None:
    data = SHEET.replace(b"vt 0.4 0.4", b"vt 0.4 \\\n 0.4").replace(b"2/2/1 3", b"2/2/1 \\\n 3")
    asset = opened(tmp_path / "sheet.obj", data)
    copy = saved(asset, moved(asset, [0, 1, 2, 3, 4, 5], (0.25, 0.25)))
    assert copy.count(b"\\\n") == 2
    assert b"vt 0.650000 \\\n 0.650000\n" in copy


def test_finer_numbers_keep_their_decimals(tmp_path: Path) -> None:
    data = SHEET.replace(b"vt 0.4 0.4", b"vt 0.37500000 0.375")
    asset = opened(tmp_path / "sheet.obj", data)
    assert b"vt 0.62500000 0.62500000\n" in saved(asset, moved(asset, [2, 4], (0.25, 0.25)))


def test_a_last_line_without_end_gets_one(tmp_path: Path) -> None:
    points = b"v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\n"
    data = points + b"f 1/1 2/2 3/3\nf 1/1 3/3 4/4\nvt 0.1 0.1\nvt 0.4 0.1\nvt 0.1 0.4\nvt 0.4 0.4"
    data = data.replace(b"3/3", b"3/4").replace(b"4/4\nvt", b"4/3\nvt")
    asset = opened(tmp_path / "sheet.obj", data)
    copy = saved(asset, moved(asset, [4], (0.25, 0.0)))
    assert copy == data.replace(b"3/4 4/3", b"3/5 4/3") + b"\nvt 0.650000 0.400000"


def test_a_mark_of_utf_8_stays(tmp_path: Path) -> None:
    data = b"\xef\xbb\xbf" + SHEET
    asset = opened(tmp_path / "sheet.obj", data)
    copy = saved(asset, moved(asset, [1], (0.05, 0.0)))
    assert copy == data.replace(b"vt  0.4\t0.1 0.5", b"vt  0.450000\t0.100000 0.5")


def test_a_part_named_like_its_file_is_no_hindrance(tmp_path: Path) -> None:
    for name, data in (("sheet", SHEET), ("bare", SHEET.replace(b"o sheet\n", b""))):
        asset = opened(tmp_path / f"{name}.obj", data)
        saved(asset, moved(asset, [1], (0.05, 0.0)), f"{name} copy.obj")


@settings(deadline=None, max_examples=30, derandomize=True)
@given(st.data())
def test_any_corners_can_go_anywhere(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    folder = tmp_path_factory.mktemp("copy")
    asset = opened(folder / "two.obj", TWO_OBJECTS)
    (layout,) = build_layouts(asset)
    count = len(layout.corner_uv)
    corner = data.draw(st.lists(st.integers(0, count - 1), unique=True, min_size=1))
    place = st.floats(-3, 3, allow_nan=False)
    uv = np.array([[data.draw(place), data.draw(place)] for _ in corner])
    changed = trial_asset(asset, layout, CornerUvs.of(np.array(corner, np.int32), uv))
    # Saving itself compares what is read back, corner by corner.
    done = save_copy(asset, changed, folder / "copy.obj")
    assert done.worst_difference <= 1e-6
    back = read(folder / "copy.obj")
    difference = corner_values(back.uv_sets[0]) - corner_values(changed.uv_sets[0])
    assert np.nanmax(np.abs(difference)) == pytest.approx(done.worst_difference)


def test_the_lantern_in_pieces_comes_back(tmp_path: Path) -> None:
    asset = read(sample_assets() / "lantern_first_pass.obj")
    layout = build_layouts(asset)[0]
    random = np.random.default_rng(1)
    face = np.repeat(np.arange(len(layout.face_start) - 1), np.diff(layout.face_start))
    offset = random.uniform(0, 1, (face.max() + 1, 2))[face]
    uv = layout.uv[layout.corner_uv] + offset
    changed = trial_asset(asset, layout, CornerUvs.of(np.arange(len(uv), dtype=np.int32), uv))
    done = save_copy(asset, changed, tmp_path / "copy.obj")
    assert 0 < done.worst_difference <= 1e-6
    back = build_layouts(read(tmp_path / "copy.obj"))[0]
    assert back.island_count == len(layout.face_start) - 1


# What is refused


def test_the_source_is_never_written_over(tmp_path: Path) -> None:
    asset = opened(tmp_path / "sheet.obj", SHEET)
    changed = moved(asset, [1], (0.05, 0.0))
    os.symlink(asset.path, tmp_path / "link.obj")
    os.link(asset.path, tmp_path / "hard.obj")
    for name in ("sheet.obj", "link.obj", "hard.obj"):
        with pytest.raises(FileProblem, match="meshes are never changed"):
            save_copy(asset, changed, tmp_path / name, replace=True)
    assert asset.path.read_bytes() == SHEET


def test_another_file_is_replaced_only_when_asked(tmp_path: Path) -> None:
    asset = opened(tmp_path / "sheet.obj", SHEET)
    changed = moved(asset, [1], (0.05, 0.0))
    target = tmp_path / "copy.obj"
    target.write_text("mine")
    with pytest.raises(FileProblem, match="exists already"):
        save_copy(asset, changed, target)
    assert target.read_text() == "mine"
    save_copy(asset, changed, target, replace=True)
    assert target.read_bytes().startswith(b"# two faces")


def test_what_cannot_be_written_is_told_by_its_own_name_and_leaves_nothing(tmp_path: Path) -> None:
    asset = opened(tmp_path / "sheet.obj", SHEET)
    changed = moved(asset, [1], (0.05, 0.0))
    with pytest.raises(FileProblem, match=r"^copy\.obj: there is no folder"):
        save_copy(asset, changed, tmp_path / "absent" / "copy.obj")
    was = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (64, was[1]))
    try:
        with pytest.raises(FileProblem, match=r"^copy\.obj: it cannot be written"):
            save_copy(asset, changed, tmp_path / "copy.obj")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, was)
    assert [one.name for one in tmp_path.iterdir()] == ["sheet.obj"]


def test_a_file_changed_meanwhile_is_refused(tmp_path: Path) -> None:
    asset = opened(tmp_path / "sheet.obj", SHEET)
    asset.path.write_bytes(SHEET.replace(b"0.10 ", b"0.11 "))
    with pytest.raises(FileProblem, match="changed since it was opened"):
        save_copy(asset, moved(asset, [1], (0.05, 0.0)), tmp_path / "copy.obj")


def test_another_format_and_another_suffix_are_refused(tmp_path: Path) -> None:
    asset = opened(tmp_path / "sheet.obj", SHEET)
    with pytest.raises(FileProblem, match=r"let its name end in \.obj"):
        save_copy(asset, asset, tmp_path / "copy.glb")
    for name, words in (("ply", "PLY"), ("collada", "COLLADA")):
        with pytest.raises(FileProblem, match=f"copies of {words} files cannot be saved"):
            save_copy(replace(asset, format=name), asset, tmp_path / "copy.obj")
        assert suffixes(replace(asset, format=name)) == ()


def test_curved_surfaces_and_new_seams_do_not_go_together(tmp_path: Path) -> None:
    data = SHEET + b"surf 0 1 0 1 1/1/1 2/2/1 3/3/1\n"
    asset = opened(tmp_path / "sheet.obj", data)
    saved(asset, moved(asset, [1], (0.05, 0.0)))
    with pytest.raises(FileProblem, match="curved surfaces"):
        saved(asset, moved(asset, [3, 4, 5], (0.25, 0.5)), "other.obj")


def test_a_copy_that_reads_back_otherwise_is_not_kept(tmp_path: Path) -> None:
    asset = opened(tmp_path / "sheet.obj", SHEET)
    # The position is not what saving writes, so the copy can only differ from what is wanted.
    wrong = replace(asset, position=asset.position + 1.0)
    with pytest.raises(FileProblem, match="differs in its positions"):
        save_copy(asset, wrong, tmp_path / "copy.obj")
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.obj"]
