"""COLLADA documents by hand, and beside pycollada and the OBJ reader."""

from pathlib import Path

import collada as pycollada
import numpy as np
import pytest
from tests.benchmarks import big_mesh

from evenweave.errors import FileProblem
from evenweave.layout.build import build_layouts
from evenweave.mesh.asset import Asset
from evenweave.mesh.collada import reader as collada
from evenweave.mesh.obj import reader as obj

POSITIONS = "0 0 0  1 0 0  1 1 0  0 1 0  2 0.5 0"
UVS = "0 0  1 0  1 1  0 1"
POLYLIST = (
    '<polylist material="m" count="2"><input semantic="VERTEX" source="#v" offset="0"/>'
    '<input semantic="TEXCOORD" source="#t" offset="1" set="0"/>'
    "<vcount>4 3</vcount><p>0 0 1 1 2 2 3 3  1 0 4 1 2 2</p></polylist>"
)
PLAIN = '<input semantic="VERTEX" source="#v" offset="0"/>'
NODE = '<node id="n" name="roof"><instance_geometry url="#g"/></node>'


def source(name: str, numbers: str, params: str) -> str:
    columns = "".join(f'<param name="{letter}" type="float"/>' for letter in params)
    return (
        f'<source id="{name}"><float_array count="{len(numbers.split())}">{numbers}</float_array>'
        f'<technique_common><accessor stride="{len(params)}">{columns}</accessor>'
        "</technique_common></source>"
    )


def document(faces: str = POLYLIST, nodes: str = NODE, *, asset: str = "", extra: str = "") -> str:
    sources = source("p", POSITIONS, "XYZ") + source("t", UVS, "ST")
    vertices = '<vertices id="v"><input semantic="POSITION" source="#p"/></vertices>'
    mesh = f"<mesh>{sources}{vertices}{faces}</mesh>"
    return (
        '<?xml version="1.0" encoding="utf-8"?>'
        '<COLLADA xmlns="http://www.collada.org/2005/11/COLLADASchema" version="1.4.1">'
        f"<asset>{asset}</asset>{extra}"
        f'<library_geometries><geometry id="g" name="panel">{mesh}</geometry></library_geometries>'
        f'<library_visual_scenes><visual_scene id="s">{nodes}</visual_scene>'
        '</library_visual_scenes><scene><instance_visual_scene url="#s"/></scene></COLLADA>'
    )


@pytest.fixture
def read(tmp_path: Path):
    def read_text(text: str | bytes) -> Asset:
        path = tmp_path / "lantern.dae"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return collada.read(path)

    return read_text


def faces(asset: Asset) -> list[list[list[float]]]:
    """Return each face as its corners' positions."""
    corners = asset.position[asset.corner_position].tolist()
    return [corners[a:b] for a, b in zip(asset.face_start, asset.face_start[1:], strict=False)]


def test_polygons_and_their_coordinates_stay(read) -> None:
    asset = read(document())
    assert np.diff(asset.face_start).tolist() == [4, 3]
    assert asset.corner_position.tolist() == [0, 1, 2, 3, 1, 4, 2]
    (uv_set,) = asset.uv_sets
    assert (uv_set.name, uv_set.uv.tolist()) == ("TEXCOORD0", [[0, 0], [1, 0], [1, 1], [0, 1]])
    assert uv_set.corner_uv.tolist() == [0, 1, 2, 3, 0, 1, 2]
    assert (asset.part_names, asset.material_names) == (("roof",), ("m",))


@pytest.mark.parametrize(
    ("tag", "inside", "expected"),
    [
        ("triangles", "<p>0 1 2 0 2</p><p>3</p>", [[0, 1, 2], [0, 2, 3]]),
        ("triangles", "<p>0 1 2 0 2 3</p>", [[0, 1, 2], [0, 2, 3]]),
        ("polygons", "<p>0 1 2 3</p><p>1 4 2</p>", [[0, 1, 2, 3], [1, 4, 2]]),
        ("polygons", "<p>0 1 2</p><ph><p>1 4 2</p><h>0 1 2</h></ph>", [[0, 1, 2], [1, 4, 2]]),
        ("trifans", "<p>0 1 4 2 3</p>", [[0, 1, 4], [0, 4, 2], [0, 2, 3]]),
        ("tristrips", "<p>0 1 3 2 4</p><p>0 1 2</p>", [[0, 1, 3], [3, 1, 2], [3, 2, 4], [0, 1, 2]]),
        ("polylist", "<vcount>3 2 4</vcount><p>0 1 2 0 1 0 1 2 3</p>", [[0, 1, 2], [0, 1, 2, 3]]),
    ],
)
def test_every_kind_of_faces_is_read(
    read, tag: str, inside: str, expected: list[list[int]]
) -> None:
    asset = read(document(f"<{tag}>{PLAIN}{inside}</{tag}><lines>{PLAIN}<p>0 1</p></lines>"))
    points = asset.corner_position.tolist()
    found = [points[a:b] for a, b in zip(asset.face_start, asset.face_start[1:], strict=False)]
    # A triangle may begin with any of its corners.
    least_first = [[*f[f.index(min(f)) :], *f[: f.index(min(f))]] for f in found]
    assert least_first == [[*f[f.index(min(f)) :], *f[: f.index(min(f))]] for f in expected]
    assert "Lines were left out: they carry no texture (1)." in asset.caveats


def test_every_set_of_coordinates_is_kept_with_its_number(read) -> None:
    second = (
        f'<triangles>{PLAIN}<input semantic="TEXCOORD" source="#t" offset="1" set="2"/>'
        '<input semantic="TEXCOORD" source="#t" offset="0" set="0"/><p>0 3 1 2 2 1</p></triangles>'
    )
    asset = read(document(second))
    assert [s.name for s in asset.uv_sets] == ["TEXCOORD0", "TEXCOORD2"]
    assert [s.corner_uv.tolist() for s in asset.uv_sets] == [[0, 1, 2], [3, 2, 1]]


def test_faces_of_one_mesh_may_lack_a_set(read) -> None:
    asset = read(document(POLYLIST + f"<triangles>{PLAIN}<p>0 1 2</p></triangles>"))
    assert asset.uv_sets[0].corner_uv.tolist() == [0, 1, 2, 3, 0, 1, 2, -1, -1, -1]


def test_transforms_act_in_their_order_down_the_nodes(read) -> None:
    nodes = (
        '<node name="house"><translate>10 0 0</translate><rotate>0 0 2 90</rotate>'
        '<node name="roof"><scale>2 3 1</scale><matrix>1 0 0 1 0 1 0 0 0 0 1 0 0 0 0 1</matrix>'
        '<instance_geometry url="#g"/></node></node>'
    )
    asset = read(document(nodes=nodes))
    # (x, y) moves to (x + 1, y), grows to (2x + 2, 3y), turns to (-3y, 2x + 2), moves by 10.
    np.testing.assert_allclose(
        asset.position, [[10, 2, 0], [10, 4, 0], [7, 4, 0], [7, 2, 0], [8.5, 6, 0]], atol=1e-12
    )


def test_a_mirroring_node_turns_its_faces_over(read) -> None:
    nodes = '<node><scale>-1 1 1</scale><instance_geometry url="#g"/></node>'
    asset = read(document(nodes=nodes))
    assert faces(asset)[0] == [[0, 0, 0], [0, 1, 0], [-1, 1, 0], [-1, 0, 0]]
    assert asset.uv_sets[0].corner_uv.tolist()[:4] == [0, 3, 2, 1]
    assert asset.part_names == ("panel",)


def test_instances_are_parts_of_their_own_that_share_their_coordinates(read) -> None:
    library = (
        '<library_nodes><node id="lamp" name="lamp"><instance_geometry url="#g"/></node>'
        "</library_nodes>"
    )
    nodes = (
        '<node><instance_node url="#lamp"/></node>'
        '<node><translate>5 0 0</translate><instance_node url="#lamp"/></node>'
    )
    asset = read(document(nodes=nodes, extra=library))
    assert asset.part_names == ("lamp", "lamp 2")
    assert asset.position[5:, 0].tolist() == (asset.position[:5, 0] + 5).tolist()
    assert len(asset.uv_sets[0].uv) == 4


def test_materials_are_named_by_what_their_symbols_are_bound_to(read) -> None:
    library = '<library_materials><material id="brass-1" name="brass"/></library_materials>'
    bound = (
        '<node><instance_geometry url="#g"><bind_material><technique_common>'
        '<instance_material symbol="m" target="#brass-1"/></technique_common></bind_material>'
        "</instance_geometry></node>"
    )
    assert read(document(nodes=bound, extra=library)).material_names == ("brass",)
    assert read(document(nodes=bound)).material_names == ("m",)


def test_a_skinned_mesh_stands_as_it_was_bound(read) -> None:
    skin = (
        '<library_controllers><controller id="c"><skin source="#g"><bind_shape_matrix>'
        "2 0 0 0 0 2 0 0 0 0 2 0 0 0 0 1</bind_shape_matrix></skin></controller>"
        '<controller id="d"><morph source="#c"/></controller></library_controllers>'
    )
    nodes = '<node name="doll"><scale>9 9 9</scale><instance_controller url="#d"/></node>'
    asset = read(document(nodes=nodes, extra=skin))
    assert asset.part_names == ("doll",)
    assert asset.position[1].tolist() == [2, 0, 0]


@pytest.mark.parametrize(
    ("stated", "metres", "is_stated", "up_axis", "second"),
    [
        ("", 1.0, False, "y", [1, 0, 0]),
        ('<unit name="inch" meter="0.0254"/><up_axis>Z_UP</up_axis>', 0.0254, True, "z", [1, 0, 0]),
        ("<unit/><up_axis> X_UP </up_axis>", 1.0, False, "y", [0, 1, 0]),
        ('<unit meter="-1"/><up_axis>Y_UP</up_axis>', 1.0, False, "y", [1, 0, 0]),
        ('<unit meter="1 m"/>', 1.0, False, "y", [1, 0, 0]),
    ],
)
def test_the_unit_and_the_up_axis_are_told(
    read, stated: str, metres: float, is_stated: bool, up_axis: str, second: list[float]
) -> None:
    asset = read(document(asset=stated))
    assert (asset.unit.metres, asset.unit.is_stated, asset.up_axis) == (metres, is_stated, up_axis)
    assert asset.position[1].tolist() == second


def test_without_a_scene_every_geometry_is_read(read) -> None:
    text = document().replace("visual_scene", "other")
    assert read(text).part_names == ("panel",)


def test_numbers_stay_exact_and_nan_stays_nan(read) -> None:
    asset = read(
        document()
        .replace("2 0.5 0", "2 0.123456789012345678 0")
        .replace(">0 0  1 0", ">NaN 0  1 0")
    )
    assert asset.position[4, 1] == 0.123456789012345678
    assert np.isnan(asset.uv_sets[0].uv[0, 0])


def test_unnamed_parameters_of_an_accessor_are_skipped(read) -> None:
    padded = source("t", "9 0 0  9 1 0  9 1 1  9 0 1", "QST").replace('name="Q" ', "")
    text = document().replace(source("t", UVS, "ST"), padded)
    assert read(text).uv_sets[0].uv.tolist() == [[0, 0], [1, 0], [1, 1], [0, 1]]


def test_a_byte_order_mark_and_other_encodings_are_read(read) -> None:
    text = document().replace("roof", "T\u00fcr")
    assert read(b"\xef\xbb\xbf" + text.encode()).part_names == ("T\u00fcr",)
    latin = text.replace("utf-8", "iso-8859-1").encode("latin-1")
    assert read(latin).part_names == ("T\u00fcr",)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("<COLLADA><a></COLLADA>", ", line 1: it is not well-formed XML (mismatched tag)"),
        (document()[:-40], ", line 1: it is not well-formed XML (unclosed token)"),
        (
            document().replace("1 0 4 1 2 2<", "1 0 9 1 2 2<"),
            ", geometry 'g': face uses vertex 9 but only 0 to 4 are defined",
        ),
        (
            document().replace("1 0 4 1 2 2<", "1 0 4 1 2 -2<"),
            ", geometry 'g': face uses texture coordinate -2, which cannot be",
        ),
        (
            document().replace("1 0 4 1 2 2<", "1 0 4 1 2 x<"),
            ", geometry 'g', polylist: “x” is not a number",
        ),
        (
            document().replace("1 0 4 1 2 2<", "1 0 4 1 2 1.5<"),
            ", geometry 'g', polylist: 1.5 is not an index",
        ),
        (
            document().replace("<vcount>4 3<", "<vcount>4 4<"),
            ", geometry 'g', polylist: its faces ask for other than the 7 corners it has",
        ),
        (
            document().replace("4 1 2 2<", "4 1 2<"),
            ", geometry 'g', polylist: its 13 indices do not make rows of 2",
        ),
        (
            document(f"<triangles>{PLAIN}<p>0 1</p></triangles>"),
            ", geometry 'g', triangles: its 2 corners do not make whole triangles",
        ),
        (
            document().replace('"#t" offset="1"', '"#t" offset="1000000000"'),
            ", geometry 'g', polylist: the offset “1000000000” of an input is not a small number",
        ),
        (
            document().replace('"#t" offset', '"#nowhere" offset'),
            ", geometry 'g', polylist: its TEXCOORD numbers are missing from the file",
        ),
        (
            document().replace('semantic="POSITION"', 'semantic="NORMAL"'),
            ", geometry 'g', polylist: it has no vertex positions",
        ),
        (
            document(nodes='<node name="a"><scale>1 1</scale></node>'),
            ", node 'a': its scale is not made of finite numbers",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_one_sentence(read, text: str, sentence: str) -> None:
    with pytest.raises(FileProblem) as problem:
        read(text)
    assert str(problem.value) == f"lantern.dae{sentence}; export it again."


def test_a_document_without_faces_says_what_was_left_out(read) -> None:
    with pytest.raises(FileProblem) as problem:
        read(document(f"<lines>{PLAIN}<p>0 1</p></lines>"))
    assert str(problem.value) == (
        "lantern.dae: it has no faces (lines were left out: they carry no texture);"
        " export the surface itself as polygons."
    )


def test_nodes_that_contain_themselves_or_multiply_end_in_a_sentence(read) -> None:
    loop = '<node id="n"><instance_geometry url="#g"/><instance_node url="#n"/></node>'
    assert read(document(nodes=loop)).caveats == (
        "Nodes that contain themselves were left out (1).",
    )
    doubling = "".join(
        f'<node id="n{k}"><instance_node url="#n{k + 1}"/><instance_node url="#n{k + 1}"/></node>'
        for k in range(60)
    )
    with pytest.raises(FileProblem, match="nested without end"):
        read(document(nodes=doubling))


def test_entities_cannot_multiply(read) -> None:
    levels = "".join(f'<!ENTITY e{k + 1} "{f"&e{k};" * 10}">' for k in range(12))
    text = f'<!DOCTYPE C [<!ENTITY e0 "0 1 2 3 4 5 6 7 8 9">{levels}]><COLLADA>&e12;</COLLADA>'
    with pytest.raises(FileProblem, match="not well-formed XML"):
        read(text)


@pytest.mark.filterwarnings("ignore:the matrix subclass:PendingDeprecationWarning")
def test_faces_are_those_that_pycollada_reads(read, tmp_path: Path) -> None:
    nodes = (
        "<node><translate>1 2 3</translate><rotate>1 0 0 30</rotate>"
        '<instance_geometry url="#g"/></node>'
    )
    asset = read(document(nodes=nodes))
    (bound,) = pycollada.Collada(str(tmp_path / "lantern.dae")).scene.objects("geometry")
    (theirs,) = bound.primitives()
    # pycollada keeps single precision.
    np.testing.assert_allclose(
        asset.position[asset.corner_position], theirs.vertex[theirs.vertex_index], rtol=1e-6
    )
    (uv_set,) = asset.uv_sets
    np.testing.assert_array_equal(
        uv_set.uv[uv_set.corner_uv], theirs.texcoordset[0][theirs.texcoord_indexset[0]]
    )


def test_islands_are_those_of_the_same_object_as_obj(read, tmp_path: Path) -> None:
    mesh = big_mesh.torus(2000)
    big_mesh.write_obj(mesh, tmp_path / "torus.obj")
    (expected,) = build_layouts(obj.read(tmp_path / "torus.obj"))
    text = document(
        '<polylist><input semantic="VERTEX" source="#v" offset="0"/>'
        '<input semantic="TEXCOORD" source="#t" offset="1"/>'
        f"<vcount>{' '.join(str(len(face)) for face in mesh.faces)}</vcount>"
        f"<p>{' '.join(f'{p} {t}' for face in mesh.faces for p, t in face)}</p></polylist>"
    )
    numbers = " ".join(f"{x:.6f}" for x in mesh.position.ravel())
    text = text.replace(POSITIONS, numbers)
    text = text.replace(UVS, " ".join(f"{x:.6f}" for x in mesh.uv.ravel()))
    (layout,) = build_layouts(read(text))
    np.testing.assert_array_equal(layout.face_island, expected.face_island)
