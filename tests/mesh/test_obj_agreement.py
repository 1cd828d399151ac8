"""The OBJ reader beside a plain reading in Python, trimesh and tinyobjloader."""

from pathlib import Path

import numpy as np
import pytest
import tinyobjloader
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.benchmarks import big_mesh
from tests.mesh import obj_reference

from evenweave.errors import FileProblem
from evenweave.mesh.asset import Asset
from evenweave.mesh.obj import reader as obj

pytestmark = pytest.mark.kernels

blanks = st.sampled_from([" ", "  ", "\t", " \t ", " \\\n", " \\\r\n ", " \\\r"])
line_ends = st.sampled_from(["\n", "\n", "\r\n", "\r", " # note\n", "#\\\n", "\n\n", " \t\n"])
numbers = st.one_of(
    st.sampled_from(["0", "-1.5", "+2", ".25", "3.", "1e-3", "-4E+2", "0.1234567890123456789"]),
    st.floats(-1e6, 1e6).map(repr),
)
odd_numbers = st.sampled_from(
    ["nan", "-inf", "1.#IND", "x", "1..2", "1e", "-", "\\", "2\\3", "1/2"]
)
indices = st.one_of(st.integers(1, 4), st.integers(-4, -1)).map(str)
odd_indices = st.sampled_from(["0", "9", "-9", "", "1.0", "a", "+1", "99999999999999999999"])
names = st.sampled_from(["", "roof", "old  brass", "1 2 3", "Tür", "f", "off", "3"])


@st.composite
def statements(draw: st.DrawFn, oddness: int) -> str:
    """One statement; `oddness` in 100 words are odd."""

    def word(usual: st.SearchStrategy[str], odd: st.SearchStrategy[str]) -> str:
        return draw(odd if draw(st.integers(0, 99)) < oddness else usual)

    kind = draw(st.sampled_from(["v", "v", "vt", "vn", "f", "f", "f", "name", "other"]))
    if kind in ("v", "vt", "vn"):
        least = 1 if kind == "vt" else 3
        count = draw(st.integers(least - (oddness > 0), 6))
        words = [kind, *(word(numbers, odd_numbers) for _ in range(count))]
    elif kind == "f":
        shape = draw(st.sampled_from(["{}", "{}/{}", "{}//{}", "{}/{}/{}", "{}/", "{}/{}/"]))
        count = draw(st.integers(0, 5))
        words = ["f"] + [
            shape.format(*(word(indices, odd_indices) for _ in range(shape.count("{}"))))
            for _ in range(count)
        ]
    elif kind == "name":
        words = [draw(st.sampled_from(["o", "g", "usemtl", "s"])), draw(names)]
    else:
        words = draw(st.sampled_from([["l", "1", "2"], ["#", "f", "1"], ["vp", "1"], ["hm"], [""]]))
    text = draw(st.sampled_from(["", "", " ", "\t"]))
    end = draw(line_ends if kind != "name" else st.sampled_from(["\n", "\r\n", " \t\r"]))
    return text + "".join(word + draw(blanks) for word in words[:-1]) + words[-1] + end


SOUND_START = (
    "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\n"
    "vn 0 0 1\nvn 0 0 1\nvn 0 0 1\nvn 0 0 1\nf 1 2 3\n"
)


def as_text(asset: Asset) -> tuple[list[object], ...]:
    """Return every array as nested lists, so that NaN and -0.0 compare too."""
    uv = asset.uv_sets[0].corner_uv if asset.uv_sets else np.full(len(asset.corner_position), -1)
    corners = np.stack([asset.corner_position, uv, asset.corner_normal], axis=1).tolist()
    faces = [corners[a:b] for a, b in zip(asset.face_start, asset.face_start[1:], strict=False)]
    texture = repr(asset.uv_sets[0].uv.tolist()) if asset.uv_sets else ""
    return faces, [repr(asset.position.tolist()), texture, repr(asset.normal.tolist())]


def plain_as_text(plain: obj_reference.Plain) -> tuple[list[object], ...]:
    faces = [[[-1 if i is None else i for i in c] for c in face] for face in plain.faces]
    has_uv = any(corner[1] >= 0 for face in faces for corner in face)
    texture = repr(plain.uv) if has_uv else ""
    return faces, [repr(plain.position), texture, repr(plain.normal)]


def check_against_plain_reading(text: str, folder: Path) -> None:
    path = folder / "odd.obj"
    path.write_bytes(text.encode())
    plain = obj_reference.read(text)
    if isinstance(plain, obj_reference.Refused):
        with pytest.raises(FileProblem) as problem:
            obj.read(path)
        assert problem.value.place == f"line {plain.line}"
        return
    asset = obj.read(path)
    assert as_text(asset) == plain_as_text(plain)
    names = [asset.material_names[k] for k in asset.face_material]
    assert names == [material for _, _, material, _ in plain.face_names]


quick = settings(deadline=None, max_examples=250, derandomize=True)


@quick
@given(st.lists(statements(0), max_size=25), st.sampled_from([1, 40, 1 << 20]))
def test_sound_text_is_read_as_a_plain_reading_has_it(
    tmp_path_factory: pytest.TempPathFactory, lines: list[str], span: int
) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(obj, "_SPAN", span)
        check_against_plain_reading(SOUND_START + "".join(lines), tmp_path_factory.getbasetemp())


@quick
@given(st.lists(statements(8), max_size=15))
def test_odd_text_is_refused_in_the_line_where_a_plain_reading_refuses_it(
    tmp_path_factory: pytest.TempPathFactory, lines: list[str]
) -> None:
    text = SOUND_START + "".join(lines)
    check_against_plain_reading(text, tmp_path_factory.getbasetemp())


@quick
@given(st.binary(max_size=300), st.integers(0, 300))
def test_any_bytes_give_an_asset_or_one_sentence(
    tmp_path_factory: pytest.TempPathFactory, junk: bytes, place: int
) -> None:
    path = tmp_path_factory.getbasetemp() / "junk.obj"
    text = (SOUND_START + "f 1/1/1 2/2/2 3/3/3\n" * 5).encode()
    path.write_bytes(text[:place] + junk + text[place:])
    try:
        asset = obj.read(path)
    except FileProblem as problem:
        said = str(problem)
    else:
        said = f"{asset.corner_position.max()} of {len(asset.position)}"
        assert asset.corner_position.max() < len(asset.position)
    assert "\n" not in said


@pytest.fixture(scope="module")
def torus(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("torus") / "torus.obj"
    big_mesh.write_obj(big_mesh.torus(4000), path, materials=2)
    return path


def fans(asset: Asset) -> np.ndarray:
    """Return the corners of a plain fan of triangles over each face."""
    return np.array(
        [
            (a, k, k + 1)
            for a, b in zip(asset.face_start, asset.face_start[1:], strict=False)
            for k in range(a + 1, b - 1)
        ]
    )


def comparable(triangles: np.ndarray) -> np.ndarray:
    """Return (T, 3, k) triangles from their least corner on, in ascending order."""
    turned = []
    for triangle in triangles.tolist():
        first = triangle.index(min(triangle))
        turned.append(triangle[first:] + triangle[:first])
    return np.array(sorted(turned))


def test_a_torus_is_what_trimesh_reads(torus: Path) -> None:
    asset = obj.read(torus)
    scene = trimesh.load_scene(torus, process=False)
    theirs = [
        np.concatenate([mesh.vertices[mesh.faces], mesh.visual.uv[mesh.faces]], axis=2)
        for mesh in scene.geometry.values()
    ]
    triangle = fans(asset)
    position = asset.position[asset.corner_position[triangle]]
    uv = asset.uv_sets[0].uv[asset.uv_sets[0].corner_uv[triangle]]
    ours = np.concatenate([position, uv], axis=2)
    np.testing.assert_array_equal(comparable(ours), comparable(np.concatenate(theirs)))


def test_a_torus_is_what_the_lists_of_tinyobjloader_hold(torus: Path) -> None:
    asset = obj.read(torus)
    reader = tinyobjloader.ObjReader()
    config = tinyobjloader.ObjReaderConfig()
    config.triangulate = False
    assert reader.ParseFromFile(str(torus), config)
    theirs = reader.GetAttrib()
    # Its numbers are single precision, ours double.
    np.testing.assert_array_equal(
        asset.position.astype(np.float32), np.array(theirs.vertices, np.float32).reshape(-1, 3)
    )
    np.testing.assert_array_equal(
        asset.uv_sets[0].uv.astype(np.float32),
        np.array(theirs.texcoords, np.float32).reshape(-1, 2),
    )
    shapes = reader.GetShapes()
    indices = [i for shape in shapes for i in shape.mesh.indices]
    sizes = [n for shape in shapes for n in shape.mesh.num_face_vertices]
    assert sizes == np.diff(asset.face_start).tolist()
    assert [i.vertex_index for i in indices] == asset.corner_position.tolist()
    assert [i.texcoord_index for i in indices] == asset.uv_sets[0].corner_uv.tolist()
    assert [i.normal_index for i in indices] == asset.corner_normal.tolist()
    assert [shape.name for shape in shapes] == list(asset.part_names)
