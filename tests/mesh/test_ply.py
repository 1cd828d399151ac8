"""PLY: the same rows as text and in both byte orders, beside trimesh and the OBJ reader."""

import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.benchmarks import big_mesh

from evenweave.errors import FileProblem
from evenweave.layout.build import build_layouts
from evenweave.mesh.asset import Asset
from evenweave.mesh.obj import reader as obj
from evenweave.mesh.ply import reader as ply
from evenweave.mesh.validation import validated

ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
CODES = {"uchar": "B", "int": "i", "float": "f", "double": "d", "ushort": "H", "int8": "b"}


def written(order: str, elements: list[tuple[str, list[str], list[list[object]]]]) -> bytes:
    """Return a PLY file: each element has a name, properties as declared, and rows."""
    lines = ["ply", f"format {order} 1.0", "comment made for a test", "obj_info none"]
    for name, properties, rows in elements:
        lines.append(f"element {name} {len(rows)}")
        lines += [f"property {declared}" for declared in properties]
    head = "\n".join([*lines, "end_header", ""]).encode()
    return head + b"".join(
        _row(order, properties, row) for _, properties, rows in elements for row in rows
    )


def _row(order: str, properties: list[str], row: list[object]) -> bytes:
    types: list[str] = []
    values: list[object] = []
    for declared, value in zip(properties, row, strict=True):
        words = declared.split()
        if words[0] == "list":
            types += [words[1], *[words[2]] * len(value)]
            values += [len(value), *value]
        else:
            types.append(words[0])
            values.append(value)
    if order == "ascii":
        return " ".join(map(repr, values)).encode() + b"\n"
    return struct.pack(ORDERS[order] + "".join(CODES[kind] for kind in types), *values)


POINTS = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [1.0, 1.0, 0.0], [0.0, 1.0, 0.0], [2.0, 0.5, 0.0]]
XYZ = ["double x", "double y", "double z"]
INDICES = ["list uchar int vertex_indices"]
VERTEX = ("vertex", XYZ, POINTS)
FACES = ("face", INDICES, [[[0, 1, 2, 3]], [[1, 4, 2]], [[0, 1, 4, 2, 3]]])


@pytest.fixture
def read(tmp_path: Path):
    def read_bytes(data: bytes) -> Asset:
        path = tmp_path / "lantern.ply"
        path.write_bytes(data)
        return ply.read(path)

    return read_bytes


def faces(asset: Asset) -> list[list[int]]:
    corners = asset.corner_position.tolist()
    return [corners[a:b] for a, b in zip(asset.face_start, asset.face_start[1:], strict=False)]


@pytest.mark.parametrize("order", ORDERS)
def test_polygons_and_shared_vertices_stay_in_every_encoding(read, order: str) -> None:
    asset = read(written(order, [VERTEX, FACES]))
    assert asset.position.tolist() == POINTS
    assert faces(asset) == [[0, 1, 2, 3], [1, 4, 2], [0, 1, 4, 2, 3]]
    assert (asset.uv_sets, asset.part_names, asset.material_names) == ((), ("lantern",), ("",))


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("pair", [("s", "t"), ("u", "v"), ("texture_u", "texture_v")])
def test_each_pair_of_names_for_vertex_coordinates_is_known(
    read, order: str, pair: tuple[str, str]
) -> None:
    rows = [[*point, point[0] / 4, point[1] / 2] for point in POINTS]
    vertex = ("vertex", [*XYZ, f"float {pair[0]}", f"float {pair[1]}"], rows)
    (uv_set,) = read(written(order, [vertex, FACES])).uv_sets
    assert uv_set.uv.tolist() == [row[3:] for row in rows]
    assert uv_set.corner_uv.tolist() == [0, 1, 2, 3, 1, 4, 2, 0, 1, 4, 2, 3]


@pytest.mark.parametrize("order", ORDERS)
def test_faces_may_carry_their_own_coordinates_or_none(read, order: str) -> None:
    properties = ["int8 odd", *INDICES, "list uchar float texcoord", "ushort flags"]
    rows = [
        [1, [0, 1, 2], [0.0, 0.0, 1.0, 0.0, 1.0, 1.0], 7],
        [-1, [0, 2, 3], [], 7],
        [-1, [0, 1], [0.5, 0.5, 0.5, 0.5], 7],
        [1, [1, 4, 2, 3], [0.25] * 8, 7],
        [1, [1, 4, 2], [0.25] * 4, 7],
    ]
    asset = read(written(order, [VERTEX, ("face", properties, rows)]))
    (uv_set,) = asset.uv_sets
    assert faces(asset) == [[0, 1, 2], [0, 2, 3], [1, 4, 2, 3], [1, 4, 2]]
    assert uv_set.uv.tolist() == [[0, 0], [1, 0], [1, 1], *[[0.25, 0.25]] * 4]
    assert uv_set.corner_uv.tolist() == [0, 1, 2, -1, -1, -1, 3, 4, 5, 6, -1, -1, -1]
    assert asset.caveats == (
        "Faces with fewer than three corners were left out (1).",
        "Faces whose texture coordinates do not match their corners have none (1).",
    )


def test_normals_belong_to_vertices(read) -> None:
    vertex = (
        "vertex",
        [*XYZ, "float nx", "float ny", "float nz"],
        [[*p, 0.0, 0.0, 1.0] for p in POINTS],
    )
    asset = read(written("binary_big_endian", [vertex, FACES]))
    assert asset.normal.tolist() == [[0, 0, 1]] * 5
    assert asset.corner_normal.tolist() == asset.corner_position.tolist()


def test_textures_of_faces_become_materials(read) -> None:
    rows = [[[0, 1, 2], 1], [[0, 2, 3], 0], [[1, 4, 2], 5]]
    data = written("ascii", [VERTEX, ("face", [*INDICES, "int texnumber"], rows)])
    data = data.replace(
        b"comment made", b"comment TextureFile brass.png\ncomment TextureFile glass.png\ncomment"
    )
    asset = read(data)
    names = [asset.material_names[k] for k in asset.face_material]
    assert names == ["glass.png", "brass.png", "texture 5"]


def test_other_elements_are_passed_over(read) -> None:
    edges = ("edge", ["int vertex1", "list uchar double weights"], [[0, [1.0, 2.0]], [3, []]])
    for order in ORDERS:
        asset = read(written(order, [edges, VERTEX, ("odd", ["uchar a"], []), FACES]))
        assert asset.position.tolist() == POINTS


def test_the_header_may_end_lines_in_any_way_and_rows_may_begin_with_a_line_feed_byte(read) -> None:
    tens = ("vertex", ["uchar x", "uchar y", "uchar z"], [[10, 10, 13], [1, 2, 3], [4, 5, 6]])
    data = written("binary_little_endian", [tens, ("face", INDICES, [[[0, 1, 2]]])])
    head, body = data.split(b"end_header\n")
    for line_end in (b"\n", b"\r\n", b"\r"):
        asset = read(head.replace(b"\n", line_end) + b"end_header" + line_end + body)
        assert asset.position[0].tolist() == [10, 10, 13]


def test_texture_coordinates_that_are_no_numbers_stay_nan_and_infinite_vertices_are_refused(
    read,
) -> None:
    rows = [[*point, float("nan"), 0.5] for point in POINTS]
    data = written("ascii", [("vertex", [*XYZ, "float s", "float t"], rows), FACES])
    assert np.isnan(validated(read(data)).uv_sets[0].uv[:, 0]).all()
    odd = [["inf" if k == 2 else 0.0, 0.0, 0.0] for k in range(5)]
    odd_data = written("ascii", [("vertex", XYZ, odd), FACES]).replace(b"'inf'", b"inf")
    with pytest.raises(FileProblem, match=r"vertex 2 .* is not finite"):
        validated(read(odd_data))


def header(*lines: str) -> bytes:
    return "\n".join(["ply", *lines, "end_header", ""]).encode()


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (
            header("format ascii 1.0", "element vertex 1000000000000", "property float x"),
            ": its header promises 1,000,000,000,000 rows of “vertex”, more than the file can hold",
        ),
        (
            header("format binary_little_endian 1.0", "element face 99999999999999999999999")
            + b"\0" * 50,
            ": its header promises 99,999,999,999,999,999,999,999 rows of “face”,"
            " more than the file can hold",
        ),
        (
            written("binary_little_endian", [VERTEX, FACES])[:-1],
            ", “face”: the file ends, or a list is too long, in row 3 of 3",
        ),
        (
            written("ascii", [VERTEX, ("face", INDICES, [[[0, 1, 5]]])]),
            ", face 1: face uses vertex 5 but only 0 to 4 are defined",
        ),
        (
            written("binary_big_endian", [VERTEX, ("face", INDICES, [[[0, 1, 2]], [[0, -1, 2]]])]),
            ", face 2: face uses vertex -1 but only 0 to 4 are defined",
        ),
        (
            written("ascii", [VERTEX, FACES]).replace(b"4 0 1 2 3", b"4 0 one 2 3"),
            ", line 17: “one” is not a number",
        ),
        (
            written("ascii", [VERTEX, FACES]).replace(b"4 0 1 2 3", b"-4 0 1 2 3"),
            ", “face”: the file ends, or a list is too long, in row 1 of 3",
        ),
        (b"ply\nformat ascii 1.0\n", ": its PLY header has no end"),
        (
            header("format ascii 1.0", "shape 3"),
            ", line 3: the header line “shape 3” means nothing",
        ),
        (
            header("format ascii 1.0", "element vertex 0", "property quad x"),
            ", line 4: the property “quad x” is of no known type",
        ),
        (
            header("format ascii 1.0", "element face 0", "property list float int vertex_index"),
            ", line 4: the list “vertex_index” is counted in fractions",
        ),
        (header("format ascii 1.0"), ": it has no vertices with x, y and z"),
    ],
)
def test_what_cannot_be_used_is_one_sentence(read, data: bytes, sentence: str) -> None:
    with pytest.raises(FileProblem) as problem:
        read(data)
    assert str(problem.value) == f"lantern.ply{sentence}; export the mesh again."


@pytest.mark.parametrize(
    ("elements", "cause"),
    [
        ([VERTEX], "it has 5 points but no faces"),
        ([VERTEX, ("face", INDICES, [])], "it has 5 points but no faces"),
        ([VERTEX, ("face", INDICES, [[[0, 1]]])], "none of its faces has three corners"),
        ([VERTEX, ("tristrips", INDICES, [[[0, 1, 2]]])], "its faces are stored as strips"),
    ],
)
def test_a_file_without_polygons_is_one_sentence(read, elements, cause: str) -> None:
    with pytest.raises(FileProblem) as problem:
        read(written("ascii", elements))
    assert str(problem.value) == f"lantern.ply: {cause}; export the surface itself as polygons."


@pytest.mark.kernels
@settings(deadline=None, max_examples=300, derandomize=True)
@given(st.sampled_from(sorted(ORDERS)), st.integers(0, 500), st.binary(max_size=12))
def test_any_bytes_give_an_asset_or_one_sentence(
    tmp_path_factory: pytest.TempPathFactory, order: str, place: int, junk: bytes
) -> None:
    path = tmp_path_factory.getbasetemp() / "junk.ply"
    data = written(order, [VERTEX, FACES])
    path.write_bytes(data[:place] + junk + data[place + len(junk) :])
    try:
        said = f"{validated(ply.read(path)).face_count} faces"
    except FileProblem as problem:
        said = str(problem)
    assert said.endswith(("faces", "."))
    assert "\n" not in said


def test_triangles_are_what_trimesh_reads(tmp_path: Path) -> None:
    theirs = trimesh.creation.torus(2, 1)
    for encoding in ("ascii", "binary"):
        path = tmp_path / f"{encoding}.ply"
        path.write_bytes(trimesh.exchange.ply.export_ply(theirs, encoding=encoding))
        asset = ply.read(path)
        back = trimesh.load_mesh(path, process=False)
        # trimesh rounds a text's numbers to the single precision that its header declares.
        np.testing.assert_array_equal(asset.position.astype(np.float32), back.vertices)
        np.testing.assert_array_equal(asset.corner_position.reshape(-1, 3), back.faces)


@pytest.mark.parametrize("per_face", [True, False])
def test_islands_are_those_of_the_same_object_as_obj(tmp_path: Path, per_face: bool) -> None:
    mesh = big_mesh.torus(3000)
    big_mesh.write_obj(mesh, tmp_path / "torus.obj")
    (expected,) = build_layouts(obj.read(tmp_path / "torus.obj"), None, ())
    point, uv = np.round(mesh.position, 6).tolist(), np.round(mesh.uv, 6).tolist()
    if per_face:
        vertex = ("vertex", XYZ, point)
        properties = [*INDICES, "list uchar double texcoord"]
        rows = [[[p for p, _ in face], [x for _, t in face for x in uv[t]]] for face in mesh.faces]
    else:
        corners = sorted({corner for face in mesh.faces for corner in face})
        number = {corner: k for k, corner in enumerate(corners)}
        properties = INDICES
        vertex = (
            "vertex",
            [*XYZ, "double s", "double t"],
            [[*point[p], *uv[t]] for p, t in corners],
        )
        rows = [[[number[corner] for corner in face]] for face in mesh.faces]
    path = tmp_path / "torus.ply"
    path.write_bytes(written("binary_little_endian", [vertex, ("face", properties, rows)]))
    (layout,) = build_layouts(ply.read(path), None, ())
    assert layout.island_count == expected.island_count == max(mesh.face_island) + 1
    np.testing.assert_array_equal(layout.face_island, expected.face_island)
