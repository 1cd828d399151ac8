"""USD reading: geometry, UV sets, materials, names and remarks.

Sources of the conventions: OpenUSD's UsdGeom, UsdShade and UsdPreviewSurface documentation;
`pxr` itself is the reference for transforms and flattened primvars.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from pxr import Usd, UsdGeom, UsdUtils

from evenweave.mesh.asset import Asset, Unit
from evenweave.mesh.usd import reader as usd

# Two quads side by side, four metres wide, and one triangle on top: F 3, C 11, V 7.
SHEET = """
    point3f[] points = [(0,0,0), (2,0,0), (4,0,0), (0,1,0), (2,1,0), (4,1,0), (2,3,0)]
    int[] faceVertexCounts = [4, 4, 3]
    int[] faceVertexIndices = [0,1,4,3, 1,2,5,4, 3,4,6]
"""
CORNERS = [0, 1, 4, 3, 1, 2, 5, 4, 3, 4, 6]
QUAD = """
    point3f[] points = [(0,0,0), (2,0,0), (2,1,0), (0,1,0)]
    int[] faceVertexCounts = [4]
    int[] faceVertexIndices = [0,1,2,3]
"""
QUAD_ST = """
    texCoord2f[] primvars:st = [(0,0), (1,0), (1,0.5), (0,0.5)] (interpolation = "faceVarying")
"""


def written(folder: Path, body: str, *, header: str = "", name: str = "a.usda") -> Path:
    path = folder / name
    # USD wants every statement on a line of its own.
    lines = body.replace("}", "\n}")
    path.write_text(f"#usda 1.0\n(\n{header}\n)\n{lines}", encoding="utf-8")
    return path


def read(folder: Path, body: str, *, header: str = "") -> Asset:
    return usd.read(written(folder, body, header=header))


def corner_positions(asset: Asset) -> NDArray[np.float64]:
    return asset.position[asset.corner_position]


def corner_uvs(asset: Asset, number: int = 0) -> NDArray[np.float64]:
    """Return (C, 2), NaN where absent."""
    uv_set = asset.uv_sets[number]
    return np.vstack([uv_set.uv, [np.nan, np.nan]])[uv_set.corner_uv]


def face_normals(asset: Asset) -> NDArray[np.float64]:
    """Return (F, 3) unit normals by the winding at each face's first corner."""
    start = asset.face_start[:-1]
    a, b, c = (corner_positions(asset)[start + k] for k in range(3))
    cross = np.cross(b - a, c - a)
    return cross / np.linalg.norm(cross, axis=1, keepdims=True)


def test_polygons_are_read_as_the_file_has_them(tmp_path: Path) -> None:
    path = written(tmp_path, f'def Xform "set" {{ def Mesh "sheet" {{ {SHEET} }} }}')
    asset = usd.read(path)
    assert asset.format == "usd"
    assert asset.part_names == ("sheet",)
    assert asset.material_names == ("",)
    assert asset.uv_sets == ()
    assert asset.caveats == ()
    np.testing.assert_array_equal(asset.face_start, [0, 4, 8, 11])
    np.testing.assert_array_equal(asset.corner_position, CORNERS)
    np.testing.assert_array_equal(asset.position[6], [2, 3, 0])
    np.testing.assert_array_equal(asset.corner_normal, np.full(11, -1))
    np.testing.assert_array_equal(asset.face_smoothing, [-1, -1, -1])


def test_the_texture_origin_is_the_lower_left_so_v_stays(tmp_path: Path) -> None:
    """OpenUSD, UsdPreviewSurface, texture coordinates: the lower left corner is (0, 0)."""
    asset = read(tmp_path, f'def Mesh "m" {{ {QUAD} {QUAD_ST} }}')
    np.testing.assert_array_equal(corner_uvs(asset), [[0, 0], [1, 0], [1, 0.5], [0, 0.5]])


def test_every_array_is_read_only(tmp_path: Path) -> None:
    asset = read(tmp_path, f'def Mesh "m" {{ {QUAD} {QUAD_ST} }}')
    arrays = [value for value in vars(asset).values() if isinstance(value, np.ndarray)]
    arrays += [array for s in asset.uv_sets for array in (s.uv, s.corner_uv)]
    assert len(arrays) == 10
    assert not any(array.flags.writeable for array in arrays)
    assert all(array.dtype in (np.int32, np.float64) for array in arrays)


@pytest.mark.parametrize(
    ("header", "unit", "up_axis"),
    [
        ("", Unit(0.01, is_stated=False), "y"),
        ('metersPerUnit = 0.01; upAxis = "Z"', Unit(0.01, is_stated=True), "z"),
        ('metersPerUnit = 0.0254; upAxis = "Y"', Unit(0.0254, is_stated=True), "y"),
    ],
)
def test_units_are_stated_or_usd_s_centimetre_is_assumed(
    tmp_path: Path, header: str, unit: Unit, up_axis: str
) -> None:
    asset = read(tmp_path, f'def Mesh "m" {{ {QUAD} }}', header=header)
    assert (asset.unit, asset.up_axis) == (unit, up_axis)


def test_a_unit_without_length_is_told_and_not_used(tmp_path: Path) -> None:
    asset = read(tmp_path, f'def Mesh "m" {{ {QUAD} }}', header="metersPerUnit = 0")
    assert asset.unit == Unit(0.01, is_stated=False)
    assert asset.caveats == ("metersPerUnit is 0, which is no length: 0.01 is assumed.",)


@pytest.mark.parametrize("is_indexed", [True, False])
@pytest.mark.parametrize(
    ("interpolation", "count"),
    [("faceVarying", 11), ("vertex", 7), ("varying", 7), ("uniform", 3), ("constant", 1)],
)
def test_interpolations_agree_with_flattened_primvars(
    tmp_path: Path, interpolation: str, count: int, is_indexed: bool
) -> None:
    rng = np.random.default_rng(count)
    values = rng.integers(0, 64, (count, 2)) / 64
    text = ", ".join(f"({u}, {v})" for u, v in values)
    order = rng.integers(0, count, count).tolist()
    indices = f"int[] primvars:uv:indices = {order}" if is_indexed else ""
    path = written(
        tmp_path,
        f'def Mesh "m" {{ {SHEET} texCoord2f[] primvars:uv = [{text}] '
        f'(interpolation = "{interpolation}")\n {indices} }}',
    )
    stage = Usd.Stage.Open(str(path))
    mesh = UsdGeom.Mesh(stage.GetPrimAtPath("/m"))
    flat = np.array(UsdGeom.PrimvarsAPI(mesh).GetPrimvar("uv").ComputeFlattened())
    corner_element = {
        "faceVarying": range(11),
        "vertex": CORNERS,
        "varying": CORNERS,
        "uniform": [0] * 4 + [1] * 4 + [2] * 3,
        "constant": [0] * 11,
    }[interpolation]
    asset = usd.read(path)
    assert [s.name for s in asset.uv_sets] == ["uv"]
    np.testing.assert_array_equal(corner_uvs(asset), flat[list(corner_element)])
    np.testing.assert_array_equal(asset.uv_sets[0].uv, values)


@pytest.mark.parametrize(
    ("value_type", "is_uv_set"),
    [
        ("texCoord2f[]", True),
        ("texCoord2d[]", True),
        ("texCoord2h[]", True),
        ("texCoord3f[]", True),
        ("float2[]", True),
        ("double2[]", True),
        ("half2[]", True),
        ("float[]", False),
        ("float3[]", False),
        ("color3f[]", False),
        ("int2[]", False),
        ("texCoord2f", False),
    ],
)
def test_uv_sets_are_known_by_their_type(tmp_path: Path, value_type: str, is_uv_set: bool) -> None:
    width = next((int(c) for c in value_type if c.isdigit()), 1)
    one = "(" + ", ".join(["0.5", "0.25", "7"][:width]) + ")" if width > 1 else "0.5"
    one = one.replace("0.5, 0.25", "1, 2") if value_type == "int2[]" else one
    value = f"[{one}, {one}, {one}, {one}]" if value_type.endswith("[]") else one
    asset = read(
        tmp_path,
        f'def Mesh "m" {{ {QUAD} {value_type} primvars:any = {value} (interpolation = "vertex") }}',
    )
    assert [s.name for s in asset.uv_sets] == (["any"] if is_uv_set else [])
    if is_uv_set:
        np.testing.assert_array_equal(corner_uvs(asset), np.tile([0.5, 0.25], (4, 1)))


def test_st_comes_first_then_coordinates_as_authored_then_plain_pairs(tmp_path: Path) -> None:
    def primvar(kind: str, name: str) -> str:
        return (
            f'{kind}[] primvars:{name} = [(0,0), (1,0), (1,1), (0,1)] (interpolation = "vertex")\n'
        )

    body = (
        primvar("float2", "pair")
        + primvar("texCoord2f", "zebra")
        + primvar("texCoord2f", "apple")
        + primvar("float2", "st")
    )
    asset = read(tmp_path, f'def Mesh "m" {{ {QUAD} {body} }}')
    assert [s.name for s in asset.uv_sets] == ["st", "zebra", "apple", "pair"]


def test_a_set_that_does_not_fit_its_mesh_is_left_out_with_a_remark(tmp_path: Path) -> None:
    asset = read(tmp_path, f'def Mesh "m" {{ {SHEET} {QUAD_ST} }}')
    assert asset.face_count == 3
    assert asset.uv_sets == ()
    assert asset.caveats == ("Mesh '/m', st: 4 values are given where 11 are needed; left out.",)


def test_indices_without_a_value_mean_no_coordinates(tmp_path: Path) -> None:
    asset = read(
        tmp_path,
        f'def Mesh "m" {{ {QUAD} texCoord2f[] primvars:st = [(0,0), (1,1)] '
        '(interpolation = "faceVarying")\n int[] primvars:st:indices = [0, -1, 1, 9] }',
    )
    np.testing.assert_array_equal(asset.uv_sets[0].corner_uv, [0, -1, 1, -1])
    assert asset.caveats == ("Mesh '/m', st: indices beyond its 2 values are taken as absent.",)


def test_parts_without_uvs_are_kept(tmp_path: Path) -> None:
    asset = read(
        tmp_path, f'def Mesh "bare" {{ {QUAD} }}\ndef Mesh "dressed" {{ {QUAD} {QUAD_ST} }}'
    )
    assert asset.part_names == ("bare", "dressed")
    np.testing.assert_array_equal(asset.uv_sets[0].corner_uv, [-1, -1, -1, -1, 0, 1, 2, 3])
    np.testing.assert_array_equal(asset.face_part, [0, 1])


MATERIALS = """
def Scope "looks" {
    def Material "brass" {}
    def Material "glass" {}
    def Material "cork" {}
}
"""


def test_subsets_bind_faces_and_the_rest_have_the_mesh_s_material(tmp_path: Path) -> None:
    subset = """
        uniform token elementType = "face"
        uniform token familyName = "materialBind"
        int[] indices = [1]
        rel material:binding = </looks/glass>
    """
    asset = read(
        tmp_path,
        f"""{MATERIALS}
        def Mesh "m" (prepend apiSchemas = ["MaterialBindingAPI"]) {{
            {SHEET}
            rel material:binding = </looks/brass>
            def GeomSubset "pane" (prepend apiSchemas = ["MaterialBindingAPI"]) {{ {subset} }}
            def GeomSubset "grip" {{
                uniform token familyName = "selection"
                int[] indices = [0]
            }}
        }}""",
    )
    assert asset.material_names == ("brass", "glass")
    np.testing.assert_array_equal(asset.face_material, [0, 1, 0])


def test_materials_are_inherited_and_may_be_missing(tmp_path: Path) -> None:
    asset = read(
        tmp_path,
        f"""{MATERIALS}
        def Xform "lamp" (prepend apiSchemas = ["MaterialBindingAPI"]) {{
            rel material:binding = </looks/cork>
            def Mesh "base" {{ {QUAD} }}
            def Mesh "roof" (prepend apiSchemas = ["MaterialBindingAPI"]) {{
                {QUAD}
                rel material:binding = </elsewhere/brass>
            }}
        }}
        def Mesh "bare" {{ {QUAD} }}""",
    )
    assert asset.material_names == ("cork", "brass", "")
    np.testing.assert_array_equal(asset.face_material, [0, 1, 2])
    assert asset.caveats == ("Materials that are not in the file are known by name only (1).",)


def test_names_are_as_short_as_keeps_them_distinct(tmp_path: Path) -> None:
    def lamp(name: str) -> str:
        return f"""def Xform "{name}" {{
            def Material "paint" {{}}
            def Mesh "shape" (prepend apiSchemas = ["MaterialBindingAPI"]) {{
                {QUAD}
                rel material:binding = </{name}/paint>
            }}
        }}\n"""

    asset = read(tmp_path, lamp("left") + lamp("right") + f'def Mesh "floor" {{ {QUAD} }}')
    assert asset.part_names == ("left/shape", "right/shape", "floor")
    assert asset.material_names == ("left/paint", "right/paint", "")


def test_instances_are_parts_of_their_own_and_share_their_material(tmp_path: Path) -> None:
    asset = read(
        tmp_path,
        f"""
        class "chain" {{
            def Material "brass" {{}}
            def Mesh "link" (prepend apiSchemas = ["MaterialBindingAPI"]) {{
                {QUAD} {QUAD_ST}
                rel material:binding = </chain/brass>
            }}
        }}
        def Xform "a" (instanceable = true; prepend references = </chain>) {{}}
        def Xform "b" (instanceable = true; prepend references = </chain>) {{
            double3 xformOp:translate = (0, 0, 5)
            uniform token[] xformOpOrder = ["xformOp:translate"]
        }}""",
    )
    assert asset.part_names == ("a/link", "b/link")
    assert asset.material_names == ("brass",)
    np.testing.assert_array_equal(asset.position[:, 2], [0, 0, 0, 0, 5, 5, 5, 5])
    np.testing.assert_array_equal(corner_uvs(asset)[:4], corner_uvs(asset)[4:])


def test_prototypes_of_a_point_instancer_are_read_once(tmp_path: Path) -> None:
    asset = read(
        tmp_path,
        f"""def PointInstancer "nails" {{
            point3f[] positions = [(0,0,0), (1,0,0)]
            int[] protoIndices = [0, 0]
            rel prototypes = </nails/nail>
            def Mesh "nail" {{ {QUAD} }}
        }}""",
    )
    assert asset.part_names == ("nail",)
    assert asset.caveats == (
        "Prototypes of point instancers are read once, not at every point (1).",
    )


def test_world_positions_agree_with_pxr(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        f"""def Xform "outer" {{
            double3 xformOp:translate = (3, -1, 2)
            float3 xformOp:rotateXYZ = (10, 20, 30)
            float3 xformOp:scale = (1, 2, 0.5)
            uniform token[] xformOpOrder = [
                "xformOp:translate", "xformOp:rotateXYZ", "xformOp:scale"]
            def Mesh "m" {{
                {SHEET}
                matrix4d xformOp:transform = ((0,1,0,0), (-1,0,0,0), (0,0,1,0), (5,6,7,1))
                uniform token[] xformOpOrder = ["xformOp:transform"]
            }}
        }}""",
    )
    stage = Usd.Stage.Open(str(path))
    mesh = UsdGeom.Mesh(stage.GetPrimAtPath("/outer/m"))
    matrix = mesh.ComputeLocalToWorldTransform(Usd.TimeCode.Default())
    expected = [matrix.Transform(point) for point in mesh.GetPointsAttr().Get()]
    np.testing.assert_allclose(usd.read(path).position, expected, atol=1e-6)


MIRROR = """
    float3 xformOp:scale = (-1, 1, 1)
    uniform token[] xformOpOrder = ["xformOp:scale"]
"""
LEFT = 'uniform token orientation = "leftHanded"'


@pytest.mark.parametrize(
    ("body", "facing"),
    [("", 1), (LEFT, -1), (MIRROR, 1), (LEFT + MIRROR, -1)],
)
def test_left_handed_and_mirrored_meshes_face_as_meant(
    tmp_path: Path, body: str, facing: int
) -> None:
    """UsdGeomGprim: leftHanded turns the normals that winding gives; a mirroring transform keeps
    the side a surface is seen from, so that its corners must be turned over."""
    asset = read(tmp_path, f'def Mesh "m" {{ {SHEET} {body} }}')
    np.testing.assert_array_equal(face_normals(asset), np.tile([0, 0, facing], (3, 1)))
    first = asset.corner_position[asset.face_start[:-1]]
    np.testing.assert_array_equal(first, [0, 1, 3])


def test_turned_over_faces_keep_their_corners_together(tmp_path: Path) -> None:
    asset = read(tmp_path, f'def Mesh "m" {{ {QUAD} {QUAD_ST} {LEFT} }}')
    np.testing.assert_array_equal(asset.corner_position, [0, 3, 2, 1])
    np.testing.assert_array_equal(corner_uvs(asset), [[0, 0], [0, 0.5], [1, 0.5], [1, 0]])


def test_holes_and_faces_without_area_are_left_out(tmp_path: Path) -> None:
    asset = read(
        tmp_path,
        """def Mesh "m" {
            point3f[] points = [(0,0,0), (1,0,0), (1,1,0), (0,1,0)]
            int[] faceVertexCounts = [3, 2, 3, 4]
            int[] faceVertexIndices = [0,1,2, 0,1, 0,2,3, 0,1,2,3]
            int[] holeIndices = [2, 77]
            texCoord2f[] primvars:st = [(0,0), (1,0), (2,0), (3,0), (4,0), (5,0), (6,0), (7,0),
                (8,0), (9,0), (10,0), (11,0)] (interpolation = "faceVarying")
        }""",
    )
    np.testing.assert_array_equal(asset.corner_position, [0, 1, 2, 0, 1, 2, 3])
    np.testing.assert_array_equal(corner_uvs(asset)[:, 0], [0, 1, 2, 8, 9, 10, 11])
    assert asset.caveats == ("Faces with fewer than three corners are left out (1).",)


@pytest.mark.parametrize(
    ("name", "interpolation", "count", "corner"),
    [
        ("normals", "vertex", 4, [0, 1, 2, 3]),
        ("normals", "faceVarying", 4, [0, 1, 2, 3]),
        ("normals", "uniform", 1, [0, 0, 0, 0]),
        ("primvars:normals", "faceVarying", 4, [0, 1, 2, 3]),
    ],
)
def test_normals_are_read_and_carried(
    tmp_path: Path, name: str, interpolation: str, count: int, corner: list[int]
) -> None:
    """A normal that leans (1, 0, 1), stretched to twice its width, leans (1, 0, 2)."""
    values = ", ".join(["(0.6, 0, 0.6)"] * count)
    asset = read(
        tmp_path,
        f"""def Mesh "m" {{
            {QUAD}
            normal3f[] {name} = [{values}] (interpolation = "{interpolation}")
            float3 xformOp:scale = (2, 1, 1)
            uniform token[] xformOpOrder = ["xformOp:scale"]
        }}""",
    )
    np.testing.assert_array_equal(asset.corner_normal, corner)
    np.testing.assert_allclose(
        asset.normal, np.tile(np.array([1, 0, 2]) / np.sqrt(5), (count, 1)), atol=1e-7
    )


def test_a_subdivision_surface_is_read_as_its_control_mesh_without_normals(
    tmp_path: Path,
) -> None:
    normals = 'normal3f[] normals = [(0,0,1), (0,0,1), (0,0,1), (0,0,1)] (interpolation = "vertex")'
    asset = read(
        tmp_path,
        f'def Mesh "m" {{ {QUAD} {normals}\n uniform token subdivisionScheme = "catmullClark" }}',
    )
    assert asset.face_count == 1
    assert len(asset.normal) == 0
    assert asset.caveats == ("Subdivision surfaces are read as their control meshes (1).",)


def test_what_moves_is_read_at_its_earliest_time(tmp_path: Path) -> None:
    asset = read(
        tmp_path,
        """def Mesh "m" {
            point3f[] points.timeSamples = {
                3: [(0,0,3), (1,0,3), (1,1,3)], 1: [(0,0,1), (1,0,1), (1,1,1)] }
            int[] faceVertexCounts = [3]
            int[] faceVertexIndices = [0,1,2]
            double3 xformOp:translate.timeSamples = { 2: (0,0,10), 8: (0,0,90) }
            uniform token[] xformOpOrder = ["xformOp:translate"]
        }""",
    )
    np.testing.assert_array_equal(asset.position, [[0, 0, 11], [1, 0, 11], [1, 1, 11]])


def test_purposes_visibility_and_other_shapes_are_said(tmp_path: Path) -> None:
    def mesh(name: str, more: str) -> str:
        return f'def Mesh "{name}" {{ {QUAD} {more} }}\n'

    asset = read(
        tmp_path,
        mesh("plain", "")
        + mesh("final", 'uniform token purpose = "render"')
        + mesh("stand_in", 'uniform token purpose = "proxy"')
        + mesh("handle", 'uniform token purpose = "guide"')
        + mesh("hidden", 'token visibility = "invisible"')
        + 'def Mesh "empty" {}\n'
        + 'def Sphere "ball" {}\n def Sphere "bead" {}\n',
    )
    assert asset.part_names == ("plain", "final", "hidden")
    assert asset.caveats == (
        "Meshes of purpose proxy are left out (1).",
        "Meshes of purpose guide are left out (1).",
        "Invisible meshes are read like visible ones (1).",
        "Meshes without points or faces are left out (1).",
        "Sphere prims have no layout and are left out (2).",
    )


def test_missing_references_are_said_and_nothing_is_printed(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    written(tmp_path, "def Mesh {", name="torn.usda")
    asset = read(
        tmp_path,
        f"""def Mesh "m" {{ {QUAD} }}
        def Xform "gone" (references = @gone.usd@) {{}}
        def Xform "torn" (references = @torn.usda@</torn>) {{}}""",
    )
    assert asset.part_names == ("m",)
    assert sorted(asset.caveats) == [
        "The file gone.usd could not be opened and is left out.",
        "The file torn.usda could not be opened and is left out.",
    ]
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("suffix", [".usd", ".usdc", ".usdz"])
def test_binary_and_packed_files_read_like_text(tmp_path: Path, suffix: str) -> None:
    source = written(tmp_path, f'def Mesh "m" {{ {SHEET} }}\ndef Mesh "n" {{ {QUAD} {QUAD_ST} }}')
    path = tmp_path / f"b{suffix}"
    if suffix == ".usdz":
        UsdUtils.CreateNewUsdzPackage(str(source), str(path))
    else:
        Usd.Stage.Open(str(source)).Export(str(path))
    expected, asset = usd.read(source), usd.read(path)
    assert asset.part_names == expected.part_names
    np.testing.assert_array_equal(asset.corner_position, expected.corner_position)
    np.testing.assert_array_equal(asset.position, expected.position)
    np.testing.assert_array_equal(asset.uv_sets[0].uv, expected.uv_sets[0].uv)


def test_a_file_exported_again_is_read_anew(tmp_path: Path) -> None:
    first = read(tmp_path, f'def Mesh "m" {{ {QUAD} }}')
    second = read(tmp_path, f'def Mesh "n" {{ {SHEET} }}')
    assert (first.part_names, second.part_names) == (("m",), ("n",))
    assert (first.face_count, second.face_count) == (1, 3)
