"""glTF reading: geometry, attributes, materials, names and remarks.

Source of the conventions: Khronos, glTF 2.0 specification.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from tests.mesh.gltf_files import (
    QUAD,
    QUAD_INDICES,
    QUAD_UV,
    GltfFile,
    described,
    face_normals,
    face_positions,
    face_uvs,
)

from evenweave.mesh.gltf import reader as gltf

QUAD_TRIANGLES = QUAD[QUAD_INDICES].reshape(-1, 3, 3)
UPWARD_UV = np.array([[0, 0], [1, 0], [1, 0.5], [0, 0.5]])[QUAD_INDICES].reshape(-1, 3, 2)


@pytest.fixture
def file() -> GltfFile:
    return GltfFile()


def test_a_quad_is_read_in_metres_y_up_as_the_file_has_it(file: GltfFile, tmp_path: Path) -> None:
    file.show(file.quad(), name="roof")
    path = file.glb(tmp_path / "a.glb")
    asset = gltf.read(path)
    assert (asset.format, asset.up_axis, asset.unit.metres) == ("glb", "y", 1.0)
    assert asset.unit.is_stated
    assert asset.part_names == ("roof",)
    assert asset.material_names == ("",)
    assert asset.caveats == ()
    np.testing.assert_array_equal(asset.face_start, [0, 3, 6])
    np.testing.assert_array_equal(asset.face_smoothing, [-1, -1])
    np.testing.assert_array_equal(asset.corner_normal, np.full(6, -1))
    np.testing.assert_array_equal(face_positions(asset), QUAD_TRIANGLES)


def test_the_texture_origin_is_the_upper_left_so_v_is_turned_to_run_up(
    file: GltfFile, tmp_path: Path
) -> None:
    """glTF 2.0, Images: "The origin of the texture coordinates (0, 0) corresponds to the upper
    left corner of a texture image"."""
    file.show(file.quad())
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    assert [uv_set.name for uv_set in asset.uv_sets] == ["TEXCOORD_0"]
    np.testing.assert_array_equal(face_uvs(asset), UPWARD_UV)


def test_every_array_is_read_only(file: GltfFile, tmp_path: Path) -> None:
    file.show(file.quad())
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    arrays = [value for value in vars(asset).values() if isinstance(value, np.ndarray)]
    arrays += [array for s in asset.uv_sets for array in (s.uv, s.corner_uv)]
    assert len(arrays) == 10
    assert not any(array.flags.writeable for array in arrays)
    assert all(array.dtype in (np.int32, np.float64) for array in arrays)


@pytest.mark.parametrize("uri", ["base64", "percent", "tale%20of%20b%C3%BCffers.bin", "sub/b.bin"])
def test_buffers_come_from_data_uris_and_from_files_beside(
    file: GltfFile, tmp_path: Path, uri: str
) -> None:
    (tmp_path / "sub").mkdir()
    file.show(file.quad())
    path = file.gltf(tmp_path / "a.gltf", uri)
    beside = {"sub/b.bin": "sub/b.bin", "tale%20of%20b%C3%BCffers.bin": "tale of büffers.bin"}
    if uri in beside:
        (tmp_path / beside[uri]).write_bytes(file.data)
    asset = gltf.read(path)
    assert asset.format == "gltf"
    np.testing.assert_array_equal(face_positions(asset), QUAD_TRIANGLES)
    np.testing.assert_array_equal(face_uvs(asset), UPWARD_UV)


def test_interleaved_attributes_are_taken_apart(file: GltfFile, tmp_path: Path) -> None:
    vertices = np.hstack([QUAD, QUAD_UV]).astype("<f4")
    view = file.view(vertices.tobytes(), byteStride=20)
    position = file.add("accessors", {"bufferView": view, **described(QUAD)})
    uv = file.add("accessors", {"bufferView": view, "byteOffset": 12, **described(QUAD_UV)})
    indices = file.accessor(QUAD_INDICES)
    file.show({"attributes": {"POSITION": position, "TEXCOORD_0": uv}, "indices": indices})
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    np.testing.assert_array_equal(face_positions(asset), QUAD_TRIANGLES)
    np.testing.assert_array_equal(face_uvs(asset), UPWARD_UV)


@pytest.mark.parametrize("has_base", [True, False])
def test_sparse_elements_replace_those_of_the_base_or_of_zeros(
    file: GltfFile, tmp_path: Path, has_base: bool
) -> None:
    sparse = {
        "count": 2,
        "indices": {
            "bufferView": file.view(np.array([1, 2], "<u1").tobytes()),
            "componentType": 5121,
        },
        "values": {"bufferView": file.view(np.array([[9, 0, 0], [9, 9, 0]], "<f4").tobytes())},
    }
    base = {"bufferView": file.view(QUAD.tobytes())} if has_base else {}
    position = file.add("accessors", {**base, **described(QUAD), "sparse": sparse})
    file.show({"attributes": {"POSITION": position}, "indices": file.accessor(QUAD_INDICES)})
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    expected = QUAD.copy() if has_base else np.zeros_like(QUAD)
    expected[1:3] = [[9, 0, 0], [9, 9, 0]]
    np.testing.assert_array_equal(asset.position, expected)


@pytest.mark.parametrize(
    ("stored", "normalized", "expected"),
    [
        (np.array([[0, 255], [51, 0]], "<u1"), True, [[0, 1], [0.2, 0]]),
        (np.array([[0, 65535], [13107, 0]], "<u2"), True, [[0, 1], [0.2, 0]]),
        (np.array([[-128, 127], [-127, 0]], "<i1"), True, [[-1, 1], [-1, 0]]),
        (np.array([[-32768, 32767], [-32767, 0]], "<i2"), True, [[-1, 1], [-1, 0]]),
        (np.array([[3, 4], [200, 0]], "<u1"), False, [[3, 4], [200, 0]]),
        (np.array([[0.25, 0.5], [2, -1]], "<f4"), True, [[0.25, 0.5], [2, -1]]),
    ],
)
def test_whole_numbers_are_normalised_by_the_specification_s_table(
    file: GltfFile, tmp_path: Path, stored: Any, normalized: bool, expected: Any
) -> None:
    """glTF 2.0, Accessors: f = c / 127, c / 255, c / 32767, c / 65535, signed ones not below -1."""
    uv = file.accessor(stored[[0, 1, 1]], normalized=normalized)
    file.show({"attributes": {"POSITION": file.accessor(QUAD[:3]), "TEXCOORD_0": uv}})
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    downward = np.array(expected, np.float64)[[0, 1, 1]]
    np.testing.assert_allclose(face_uvs(asset)[0], downward * [1, -1] + [0, 1], atol=1e-15)


def test_quantised_positions_are_carried_by_their_node(file: GltfFile, tmp_path: Path) -> None:
    """KHR_mesh_quantization: whole numbers, brought to size by the node's scale."""
    file.document["extensionsUsed"] = file.document["extensionsRequired"] = [
        "KHR_mesh_quantization"
    ]
    position = file.accessor((QUAD * 100).astype("<u2"))
    primitive = {"attributes": {"POSITION": position}, "indices": file.accessor(QUAD_INDICES)}
    file.show(primitive, scale=[0.01, 0.01, 0.01])
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    np.testing.assert_allclose(face_positions(asset), QUAD_TRIANGLES, rtol=1e-15)
    assert asset.caveats == ()


def test_every_uv_set_is_kept_and_absent_ones_are_minus_one(file: GltfFile, tmp_path: Path) -> None:
    both = file.quad()
    both["attributes"]["TEXCOORD_1"] = file.accessor(QUAD_UV * 0.5)
    both["attributes"]["TEXCOORD_10"] = file.accessor(QUAD_UV)
    file.show(both, name="both")
    file.show(file.quad(), name="one")
    bare = file.quad()
    del bare["attributes"]["TEXCOORD_0"]
    file.show(bare, name="none")
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    assert [s.name for s in asset.uv_sets] == ["TEXCOORD_0", "TEXCOORD_1", "TEXCOORD_10"]
    assert asset.part_names == ("both", "one", "none")
    absent = [(s.corner_uv.reshape(3, 6) < 0).all(axis=1).tolist() for s in asset.uv_sets]
    assert absent == [[False, False, True], [False, True, True], [False, True, True]]
    assert (asset.uv_sets[1].corner_uv[:6] >= 0).all()


STRIP_VERTICES = np.array([[0, 0, 0], [0, 1, 0], [1, 0, 0], [1, 1, 0], [2, 0, 0]], "<f4")


@pytest.mark.parametrize(
    ("mode", "indices", "expected"),
    [
        (4, [0, 2, 1], [[0, 2, 1]]),
        (5, [0, 1, 2, 3, 4], [[0, 1, 2], [1, 3, 2], [2, 3, 4]]),
        (5, [0, 1, 2, 2, 2, 3, 4], [[0, 1, 2], [2, 3, 4]]),
        (6, [0, 1, 2, 3], [[1, 2, 0], [2, 3, 0]]),
        (5, [0, 1], []),
        (6, [], []),
    ],
)
@pytest.mark.parametrize("is_indexed", [True, False])
def test_lists_strips_and_fans_are_taken_apart_as_specified(
    file: GltfFile, tmp_path: Path, mode: int, indices: list[int], expected: Any, is_indexed: bool
) -> None:
    """glTF 2.0, Meshes: strips p_i = {v_i, v_(i+1+i%2), v_(i+2-i%2)},
    fans p_i = {v_(i+1), v_(i+2), v_0}."""
    if is_indexed:
        position = file.accessor(STRIP_VERTICES)
        more = {"indices": file.accessor(np.array(indices, "<u4"))}
    else:
        position = file.accessor(STRIP_VERTICES[indices])
        more = {}
    file.show({"attributes": {"POSITION": position}, "mode": mode, **more})
    file.show(file.quad())
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    read = face_positions(asset)[:-2]
    wanted = STRIP_VERTICES[np.array(expected, int).reshape(-1, 3)]
    if not is_indexed and len(set(indices)) < len(indices):
        # Repeated vertices are different ones without indices: nothing marks them as a link.
        assert len(read) == len(indices) - 2
    else:
        np.testing.assert_array_equal(read, wanted)


def test_points_and_lines_are_left_out_with_a_remark(file: GltfFile, tmp_path: Path) -> None:
    file.show(file.quad(), file.quad(mode=0), file.quad(mode=1), file.quad(mode=3))
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    assert asset.face_count == 2
    assert asset.caveats == ("Points and lines are left out (3).",)


def test_primitives_of_a_mesh_keep_sharing_their_vertices(file: GltfFile, tmp_path: Path) -> None:
    brass = file.add("materials", {"name": "brass"})
    glass = file.add("materials", {"name": "glass"})
    whole = file.quad()
    first = {**whole, "indices": file.accessor(QUAD_INDICES[:3]), "material": brass}
    second = {**whole, "indices": file.accessor(QUAD_INDICES[3:]), "material": glass}
    file.show(first, second, mesh="pane")
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    assert asset.part_names == ("pane",)
    assert asset.material_names == ("brass", "glass")
    np.testing.assert_array_equal(asset.face_material, [0, 1])
    np.testing.assert_array_equal(asset.corner_position, QUAD_INDICES)
    np.testing.assert_array_equal(asset.uv_sets[0].corner_uv, QUAD_INDICES)


def test_materials_are_told_apart_by_number_not_by_name(file: GltfFile, tmp_path: Path) -> None:
    for material in ({"name": "paint"}, {"name": "paint"}, {}, {"name": "unused"}):
        file.add("materials", material)
    file.show(*(file.quad(material=number) for number in (2, 1, 0)), file.quad())
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    assert asset.material_names == ("material 2", "paint 2", "paint", "")


def test_normals_are_carried_by_the_inverse_transpose(file: GltfFile, tmp_path: Path) -> None:
    """A slope of 45 degrees, stretched to twice its width: its normal leans (1, 2) / sqrt 5."""
    slope = np.array([[0, 1, 0], [0, 1, 1], [1, 0, 0]], "<f4")
    normal = np.tile(np.array([[1, 1, 0]], "<f4") / np.float32(np.sqrt(2)), (3, 1)).astype("<f4")
    primitive = {"attributes": {"POSITION": file.accessor(slope), "NORMAL": file.accessor(normal)}}
    file.show(primitive, scale=[2, 1, 1])
    file.show(primitive, scale=[-2, 1, 1])
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    carried = asset.normal[asset.corner_normal].reshape(2, 3, 3)
    expected = np.array([[1, 2, 0], [-1, 2, 0]]) / np.sqrt(5)
    np.testing.assert_allclose(carried, np.repeat(expected[:, None], 3, axis=1), atol=1e-7)
    np.testing.assert_allclose(face_normals(asset), expected, atol=1e-7)


def test_a_mirrored_instance_still_faces_outwards(file: GltfFile, tmp_path: Path) -> None:
    box = trimesh.creation.box()
    primitive = {
        "attributes": {"POSITION": file.accessor(box.vertices.astype("<f4"))},
        "indices": file.accessor(box.faces.astype("<u2").ravel()),
    }
    file.show(primitive, scale=[1, 1, -3])
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    centre = face_positions(asset).mean(axis=1)
    assert (np.einsum("ij,ij->i", face_normals(asset), centre) > 0).all()


def test_world_positions_agree_with_trimesh(file: GltfFile, tmp_path: Path) -> None:
    """trimesh as the reference for node hierarchies; it turns mirrored faces over as well."""
    rng = np.random.default_rng(4)
    box = trimesh.creation.box()
    mesh = file.add(
        "meshes",
        {
            "primitives": [
                {
                    "attributes": {"POSITION": file.accessor(box.vertices.astype("<f4"))},
                    "indices": file.accessor(box.faces.astype("<u1").ravel()),
                    "material": file.add("materials", {}),
                }
            ]
        },
    )
    turn = rng.normal(size=4)
    matrix = np.eye(4)
    matrix[:3] = rng.normal(size=(3, 4))
    leaf = file.add("nodes", {"mesh": mesh, "matrix": matrix.T.ravel().tolist(), "name": "leaf"})
    twig = file.add(
        "nodes",
        {"mesh": mesh, "rotation": (turn / np.linalg.norm(turn)).tolist(), "children": [leaf]},
    )
    file.root(translation=[1, 2, 3], scale=[2, -0.5, 1], children=[twig])
    path = file.glb(tmp_path / "a.glb")
    asset = gltf.read(path)
    reference = trimesh.load_scene(path, process=False).to_mesh()
    assert asset.face_count == len(reference.triangles) == 24
    np.testing.assert_allclose(
        _canonical(face_positions(asset)), _canonical(reference.triangles), atol=1e-5
    )


def _canonical(triangles: Any) -> Any:
    """Return (T, 9) oriented triangles in an order that does not depend on the reader."""
    triangles = np.round(np.asarray(triangles), 4) + 0.0
    key = [np.lexsort(t.T[::-1])[0] for t in triangles]
    rolled = np.array([np.roll(t, -k, axis=0) for t, k in zip(triangles, key, strict=True)])
    flat = rolled.reshape(-1, 9)
    return flat[np.lexsort(flat.T[::-1])]


def test_parts_get_distinct_names_node_first_then_mesh(file: GltfFile, tmp_path: Path) -> None:
    file.show(file.quad(), mesh="wheel", name="left")
    for _ in range(2):
        file.root(mesh=0)
    file.root(mesh=0, name="wheel 2")
    file.show(file.quad())
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    assert asset.part_names == ("left", "wheel", "wheel 2", "wheel 2 2", "node 4")
    np.testing.assert_array_equal(asset.face_part, np.repeat(range(5), 2))


def test_instances_share_uv_points_and_not_positions(file: GltfFile, tmp_path: Path) -> None:
    file.show(file.quad())
    file.root(mesh=0, translation=[5, 0, 0])
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    assert len(asset.position) == 8
    assert len(asset.uv_sets[0].uv) == 4
    np.testing.assert_array_equal(face_positions(asset)[2:] - [5, 0, 0], QUAD_TRIANGLES)


def test_without_scenes_all_roots_are_read(file: GltfFile, tmp_path: Path) -> None:
    child = file.add("nodes", {"mesh": 0, "name": "child"})
    file.show(file.quad(), name="root", children=[child], translation=[0, 0, 1])
    del file.document["scenes"], file.document["scene"]
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    assert asset.part_names == ("root", "child")
    np.testing.assert_array_equal(asset.position[:, 2], np.ones(8))


def test_without_nodes_every_mesh_is_read_once(file: GltfFile, tmp_path: Path) -> None:
    file.show(file.quad(), mesh="a")
    file.show(file.quad())
    del file.document["scenes"], file.document["scene"], file.document["nodes"]
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    assert asset.part_names == ("a", "mesh 1")


def test_only_the_default_scene_is_read_and_the_rest_is_told(
    file: GltfFile, tmp_path: Path
) -> None:
    file.show(file.quad(), name="here")
    other = file.add("nodes", {"mesh": file.add("meshes", {"primitives": [file.quad()]})})
    file.add("scenes", {"nodes": [other]})
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    assert asset.part_names == ("here",)
    assert asset.caveats == (
        "Scenes other than the default one are left out (1).",
        "Meshes that no node of the scene shows are left out (1).",
    )


def test_a_chain_of_ten_thousand_nodes_is_followed_to_its_end(
    file: GltfFile, tmp_path: Path
) -> None:
    file.show(file.quad(), translation=[1, 0, 0])
    for _ in range(9_999):
        nodes = file.document["nodes"]
        nodes.append({"translation": [1, 0, 0], "children": [len(nodes) - 1]})
    file.document["scenes"][0]["nodes"] = [len(file.document["nodes"]) - 1]
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    np.testing.assert_array_equal(asset.position[0], [10_000, 0, 0])


def test_a_skinned_part_stands_where_its_skeleton_rests(file: GltfFile, tmp_path: Path) -> None:
    """glTF 2.0, Skins: the skinned node's own transform is ignored. Stored in centimetres, the
    skeleton brings the quad to metres."""
    joint = file.root(scale=[0.01, 0.01, 0.01], translation=[0, 7, 0])
    inverse_bind = np.eye(4, dtype="<f4")
    inverse_bind[:3, 3] = [0, -100, 0]
    skin = file.add(
        "skins",
        {"joints": [joint], "inverseBindMatrices": file.accessor(inverse_bind.T.reshape(1, 16))},
    )
    file.show(file.quad(), skin=skin, translation=[1000, 0, 0])
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    np.testing.assert_allclose(asset.position, QUAD * 0.01 + [0, 6, 0], atol=1e-7)
    assert asset.caveats == ("Parts with a skeleton are read at rest (1).",)


def test_what_is_not_carried_over_is_said(file: GltfFile, tmp_path: Path) -> None:
    file.document["extensionsRequired"] = ["KHR_materials_unlit", "XYZ_shape"]
    targets = [{"POSITION": file.accessor(QUAD)}]
    file.show(file.quad(targets=targets), weights=[0.5])
    file.show(file.quad(targets=targets), weights=[0])
    file.root(mesh=0, extensions={"EXT_mesh_gpu_instancing": {"attributes": {}}})
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    assert asset.caveats == (
        "Nodes repeated by EXT_mesh_gpu_instancing are read once (1).",
        "Parts with morph targets are read in their base shape (1).",
        "The file requires XYZ_shape, which is not read.",
    )


def textured(file: GltfFile, transforms: list[dict[str, Any] | None]) -> int:
    """Put in a material whose base colour and emissive textures have these transforms."""
    infos = [
        {"index": 0} if t is None else {"index": 0, "extensions": {"KHR_texture_transform": t}}
        for t in transforms
    ]
    return file.add(
        "materials",
        {
            "name": "tiles",
            "pbrMetallicRoughness": {"baseColorTexture": infos[0]},
            "emissiveTexture": infos[-1],
        },
    )


def test_a_texture_transform_belongs_to_its_slot_and_the_set_is_kept_as_stored(
    file: GltfFile, tmp_path: Path
) -> None:
    file.show(file.quad(material=textured(file, [{"scale": [4, 4]}, None])))
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    np.testing.assert_array_equal(face_uvs(asset), UPWARD_UV)
    assert asset.caveats == ()
    transforms = {slot.name: slot.transform for one in asset.textured for slot in one.slots}
    assert transforms["base colour"] is not None
    assert transforms["base colour"].words() == "scaled by 4 × 4, moved by 0, -3"
    assert transforms["emission"] is None


@pytest.mark.parametrize("transform", [None, {}, {"scale": [4, 4], "texCoord": 1}])
def test_a_texture_transform_that_moves_nothing_here_needs_no_remark(
    file: GltfFile, tmp_path: Path, transform: dict[str, Any] | None
) -> None:
    file.show(file.quad(material=textured(file, [transform])))
    assert gltf.read(file.glb(tmp_path / "a.glb")).caveats == ()


def test_quantised_uvs_are_brought_back_by_the_texture_transform(
    file: GltfFile, tmp_path: Path
) -> None:
    """KHR_texture_transform: translation * rotation * scale * (u, v), in its own matrices."""
    file.document["extensionsUsed"] = ["KHR_mesh_quantization", "KHR_texture_transform"]
    transform = {"scale": [1 / 4096, 2 / 4096], "offset": [0.25, 0.5], "rotation": 0.5}
    stored = np.array([[0, 4096], [4096, 4096], [4096, 2048], [0, 2048]], "<u2")
    primitive = file.quad(material=textured(file, [transform]))
    primitive["attributes"]["TEXCOORD_0"] = file.accessor(stored)
    file.show(primitive)
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    c, s = np.cos(0.5), np.sin(0.5)
    translation = np.array([[1, 0, 0.25], [0, 1, 0.5], [0, 0, 1]])
    rotation = np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
    scale = np.diag([1 / 4096, 2 / 4096, 1])
    downward = (translation @ rotation @ scale @ np.c_[stored, np.ones(4)].T).T[:, :2]
    np.testing.assert_allclose(asset.uv_sets[0].uv, downward * [1, -1] + [0, 1], atol=1e-15)
    assert "was brought back by its KHR_texture_transform" in asset.caveats[0]


def test_compression_with_an_uncompressed_fallback_is_read(file: GltfFile, tmp_path: Path) -> None:
    file.show(file.quad(extensions={"KHR_draco_mesh_compression": {"bufferView": 0}}))
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    np.testing.assert_array_equal(face_positions(asset), QUAD_TRIANGLES)


def test_not_finite_positions_are_left_for_the_front_door_to_judge(
    file: GltfFile, tmp_path: Path
) -> None:
    broken = QUAD.copy()
    broken[2, 1] = np.nan
    broken[3, 0] = np.inf
    broken.view("<u4")[3, 1] = 0x7F800001  # a signalling NaN
    primitive = {"attributes": {"POSITION": file.accessor(broken)}}
    file.show({**primitive, "indices": file.accessor(QUAD_INDICES)}, scale=[2, 2, 2])
    asset = gltf.read(file.glb(tmp_path / "a.glb"))
    assert asset.face_count == 2
    assert not np.isfinite(asset.position).all()
