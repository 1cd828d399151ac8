"""OBJ text by hand: what each statement means, and the sentence when it means nothing."""

from pathlib import Path

import numpy as np
import pytest

from evenweave.errors import FileProblem
from evenweave.mesh.asset import Asset
from evenweave.mesh.obj import reader as obj

SQUARE = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\n"
NO_MESH = (
    "no mesh was found in it, neither points nor faces;"
    " check that it is the OBJ file that was meant"
)


@pytest.fixture
def read(tmp_path: Path):
    def read_text(text: str | bytes) -> Asset:
        path = tmp_path / "lantern.obj"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return obj.read(path)

    return read_text


def corners(asset: Asset) -> list[list[tuple[int, int, int]]]:
    uv = asset.uv_sets[0].corner_uv if asset.uv_sets else np.full(len(asset.corner_position), -1)
    rows = list(zip(asset.corner_position, uv, asset.corner_normal, strict=True))
    return [
        [tuple(map(int, row)) for row in rows[start:end]]
        for start, end in zip(asset.face_start, asset.face_start[1:], strict=False)
    ]


def parts(asset: Asset) -> list[str]:
    return [asset.part_names[k] for k in asset.face_part]


def materials(asset: Asset) -> list[str]:
    return [asset.material_names[k] for k in asset.face_material]


def test_a_polygon_stays_a_polygon_with_its_shared_indices(read) -> None:
    asset = read(SQUARE + "vn 0 0 1\nf 1/1/1 2/2/1 3/3/1 4/4/1\nf 1/1 2/2 3/3\n")
    assert corners(asset) == [
        [(0, 0, 0), (1, 1, 0), (2, 2, 0), (3, 3, 0)],
        [(0, 0, -1), (1, 1, -1), (2, 2, -1)],
    ]
    assert asset.position.tolist() == [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]
    assert asset.uv_sets[0].uv.tolist() == [[0, 0], [1, 0], [1, 1], [0, 1]]
    assert asset.normal.tolist() == [[0, 0, 1]]
    assert (asset.uv_sets[0].name, asset.format, asset.up_axis) == ("uv", "obj", "y")


def test_the_unit_is_assumed_even_if_a_comment_names_one(read) -> None:
    asset = read("# units: centimetres\n" + SQUARE + "f 1 2 3\n")
    assert (asset.unit.metres, asset.unit.is_stated) == (1.0, False)


def test_every_form_of_a_corner_may_stand_beside_the_others(read) -> None:
    asset = read(SQUARE + "vn 0 0 1\nf 1 2/2 3//1 4/4/1\nf 1/ 2/2/ 3//\n")
    assert corners(asset) == [
        [(0, -1, -1), (1, 1, -1), (2, -1, 0), (3, 3, 0)],
        [(0, -1, -1), (1, 1, -1), (2, -1, -1)],
    ]


def test_negative_indices_count_back_from_their_line(read) -> None:
    asset = read("v 9 9 9\n" + SQUARE + "f -4/-4 -3/-3 -2/-2\nv 5 5 5\nf -1 -2 -3\n")
    assert corners(asset) == [
        [(1, 0, -1), (2, 1, -1), (3, 2, -1)],
        [(5, -1, -1), (4, -1, -1), (3, -1, -1)],
    ]


def test_a_face_may_stand_before_its_points(read) -> None:
    assert corners(read("f 1 2 3\nv 0 0 0\nv 1 0 0\nv 0 1 0\n")) == [
        [(0, -1, -1), (1, -1, -1), (2, -1, -1)]
    ]


def test_joined_lines_comments_blanks_and_a_byte_order_mark_do_not_matter(read) -> None:
    text = (
        "\ufeff# \\\n \tv 0 0 0 # first\n v\t1 0 \\\n 0\nv 1 1 0#close\n\n"
        "vt 0 0\\\n\nf 1/1 \\\r\n2/1\\\n\\\n 3/1 # \\\nf 3 2 1"
    )
    asset = read(text)
    assert asset.position.tolist() == [[0, 0, 0], [1, 0, 0], [1, 1, 0]]
    assert corners(asset) == [
        [(0, 0, -1), (1, 0, -1), (2, 0, -1)],
        [(2, -1, -1), (1, -1, -1), (0, -1, -1)],
    ]


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_every_kind_of_line_end_is_read(read, line_end: str) -> None:
    asset = read((SQUARE + "usemtl brass\nf 1/1 2/2 3/3 4/4\n").replace("\n", line_end))
    assert (len(asset.position), asset.face_count, materials(asset)) == (4, 1, ["brass"])


def test_utf_16_text_is_read(read) -> None:
    assert materials(read((SQUARE + "usemtl messing\u00fc\nf 1 2 3\n").encode("utf-16"))) == [
        "messing\u00fc"
    ]


def test_colours_weights_and_third_texture_numbers_are_passed_over(read) -> None:
    asset = read(
        "v 0 0 0 nan nan nan\nv 1 0 0 0.5\nv 0 1 0 1 1 1 junk\nvt .5\nvt .25 .75 7\nf 1/1 2/2 3/2\n"
    )
    assert asset.position.tolist() == [[0, 0, 0], [1, 0, 0], [0, 1, 0]]
    assert asset.uv_sets[0].uv.tolist() == [[0.5, 0], [0.25, 0.75]]


def test_numbers_are_exactly_those_of_float(read) -> None:
    words = [
        "0.1",
        "1e-320",
        "4503599627370497.5",
        "123456789012345678901234567890",
        "-6.123233995736766e-17",
        "1e300",
    ]
    asset = read(f"v {' '.join(words[:3])}\nv {' '.join(words[3:])}\nv 0 0 0\nf 1 2 3\n")
    assert asset.position[:2].ravel().tolist() == [float(word) for word in words]


def test_texture_coordinates_and_normals_that_are_no_numbers_stay_nan(read) -> None:
    asset = read(SQUARE + "vt nan 0\nvt -1.#IND 1\nvt 1e999 inf\nvn nan 0 0\nf 1/5 2/6 3/7\n")
    assert np.isnan(asset.uv_sets[0].uv[4:]).tolist() == [
        [True, False],
        [True, False],
        [True, True],
    ]


def test_repeated_corners_are_kept(read) -> None:
    assert [c[0] for c in corners(read(SQUARE + "f 1 1 2 3 3\n"))[0]] == [0, 0, 1, 2, 2]


def test_objects_are_parts_and_come_again(read) -> None:
    asset = read(SQUARE + "o roof\nf 1 2 3\no door\nf 1 2 3\no roof\nf 2 3 4\no unused\n")
    assert parts(asset) == ["roof", "door", "roof"]
    assert asset.part_names == ("roof", "door")


def test_groups_are_parts_where_there_is_no_object(read) -> None:
    text = "f 1 2 3\ng roof\nf 1 2 3\ng door hinge\nf 2 3 4\ng\nf 1 2 3\n"
    assert parts(read(SQUARE + text)) == ["lantern", "roof", "door hinge", "lantern"]


def test_groups_that_subdivide_an_object_are_named_behind_it(read) -> None:
    text = "o roof\nf 1 2 3\ng cone\nf 1 2 3\ng rim\nf 1 2 3\no door\ng door_mesh\nf 1 2 3\n"
    assert parts(read(SQUARE + text)) == ["roof", "roof / cone", "roof / rim", "door"]


def test_materials_and_smoothing_hold_until_the_next(read) -> None:
    first = "f 1 2 3\nusemtl old brass\ns 3\nf 1 2 3\ns off\nf 1 2 3\n"
    second = "usemtl\ns 1\nf 1 2 3\nusemtl old brass\nf 1 2 3"
    asset = read(SQUARE + first + second)
    assert materials(asset) == ["", "old brass", "old brass", "", "old brass"]
    assert asset.face_smoothing.tolist() == [-1, 3, 0, 1, 1]


def test_names_may_be_in_any_encoding_and_hold_a_hash(read) -> None:
    text = SQUARE.encode() + b"o T\xfcr\nusemtl glas #3\nf 1 2 3\no T\xc3\xbcr\nf 1 2 3\n"
    asset = read(text)
    assert (parts(asset), materials(asset)) == (["T\u00fcr", "T\u00fcr"], ["glas #3", "glas #3"])


def test_a_missing_material_library_is_no_obstacle(read) -> None:
    assert read("mtllib nowhere.mtl\n" + SQUARE + "usemtl brass\nf 1 2 3\n").caveats == ()


def test_what_carries_no_texture_is_left_out_with_a_remark(read) -> None:
    text = SQUARE + "f 1 2\nl 1 2\nl 2 3\np 1\ncurv 0 1 1 2\nvp 1 2\nhello world\nf 1 2 3\nf\n"
    assert read(text).caveats == (
        "2 faces with fewer than three corners were left out.",
        "2 statements of lines were left out: they carry no texture.",
        "1 statement of points was left out: it carries no texture.",
        "1 statement of curves or curved surfaces was left out: it carries no texture.",
        "1 line begins with an unknown word and was passed over, in line 15.",
    )


def test_names_follow_their_faces_when_thin_faces_are_left_out(read) -> None:
    text = "usemtl a\nf 1 2 3\nf 1 2\nf 1 2\nusemtl b\nf 1 2 3\no gone\nf 1\no kept\nf 2 3 4\n"
    asset = read(SQUARE + text)
    assert materials(asset) == ["a", "b", "b"]
    assert parts(asset) == ["lantern", "lantern", "kept"]


def test_without_texture_coordinates_there_is_no_uv_set(read) -> None:
    assert read(SQUARE + "f 1 2 3\n").uv_sets == ()


@pytest.mark.parametrize(
    ("text", "line", "cause"),
    [
        ("f 1 2 99\n", 9, "face uses vertex 99 but only 4 are defined"),
        ("f 1 2 3\nf 1/1 2/2 3/5\n", 10, "face uses texture coordinate 5 but only 4 are defined"),
        ("f 1//1 2//1 3//1\n", 9, "face uses normal 1 but only 0 are defined"),
        ("f 0 1 2\n", 9, "face uses vertex 0, but counting begins at 1"),
        ("f -5 1 2\n", 9, "face counts 5 vertices back but fewer are defined before it"),
        ("f 1 2 1234567890\n", 9, "face uses vertex 1,234,567,890 but only 4 are defined"),
        ("f 1 2 3/4/5/6\n", 9, "“3/4/5/6” is not a corner of a face"),
        ("f 1 2 three\n", 9, "“three” is not a corner of a face"),
        ("f 1 2 -\n", 9, "“-” is not a corner of a face"),
        ("\r\rv 1 3.1+e2 0\rf 1 2 2\r", 11, "“3.1+e2” is not a number"),
        ("v 1\\\n\\\n x\n", 11, "“x” is not a number"),
        ("v 1 nan 0\r\nf 1 1 1", 9, "a vertex position is “nan”, which is not a finite number"),
        ("v 0 0 1e999\n", 9, "a vertex position is “1e999”, which is not a finite number"),
        ("v 0 0\n", 9, "a vertex needs three numbers but has 2"),
        ("vt # none\n", 9, "a texture coordinate needs a number but has 0"),
        ("vn 1\n", 9, "a normal needs three numbers but has 1"),
        ("f 1 2 3\nf 1 2", 10, "the file ends in the middle of a face"),
        (
            "f 1 2 3\nv 1 2",
            10,
            "a vertex needs three numbers but has 2, and the file ends here",
        ),
    ],
)
def test_a_line_that_cannot_be_used_is_named(read, text: str, line: int, cause: str) -> None:
    with pytest.raises(FileProblem) as problem:
        read(SQUARE + text + ("" if "ends" in cause else "f 1 2 3\n"))
    assert str(problem.value) == f"lantern.obj, line {line}: {cause}; export the mesh again."


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("v 0 0 0\n", "it has 1 point but no faces; export the surface itself as polygons"),
        (
            "v 0 0 0\nf 1 1\n",
            "none of its faces has three corners; export the surface itself as polygons",
        ),
        ("hello\n", NO_MESH),
        ("", NO_MESH),
    ],
)
def test_a_file_without_faces_is_one_sentence(read, text: str, sentence: str) -> None:
    with pytest.raises(FileProblem) as problem:
        read(text)
    assert str(problem.value) == f"lantern.obj: {sentence}."
