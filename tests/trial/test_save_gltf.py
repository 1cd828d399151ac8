"""Copies of glTF and GLB files: patched in place, or with vertices doubled and all else kept."""

import json
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from tests.mesh.gltf_files import QUAD, QUAD_INDICES, QUAD_UV, GltfFile, face_positions, face_uvs

from evenweave.errors import FileProblem
from evenweave.layout.build import build_layouts
from evenweave.mesh.asset import Asset
from evenweave.mesh.read import read
from evenweave.places import sample_assets
from evenweave.trial.save.save import Saved, save_copy
from evenweave.trial.uvs.asset_uvs import asset_change, trial_asset, with_changes
from evenweave.trial.uvs.corner_uvs import CornerUvs

Rows = NDArray[np.float64]


def moved(
    asset: Asset, corners: list[int], offset: tuple[float, float], uv_set: str | None = None
) -> Asset:
    """Move some corners of the first layout."""
    layout = build_layouts(asset, uv_set)[0]
    corner = np.array(corners, np.int32)
    uv = layout.uv[layout.corner_uv[corner]] + np.array(offset)
    return trial_asset(asset, layout, CornerUvs.of(corner, uv))


def saved(source: Path, corners: list[int], offset: tuple[float, float] = (0.25, 0.5)) -> Path:
    target = source.with_name(f"copy{source.suffix}")
    asset = read(source)
    save_copy(asset, moved(asset, corners, offset), target)
    return target


def document(path: Path) -> dict[str, Any]:
    data = path.read_bytes()
    if data[:4] != b"glTF":
        return json.loads(data)  # type: ignore[no-any-return]
    (size,) = struct.unpack_from("<I", data, 12)
    return json.loads(data[20 : 20 + size])  # type: ignore[no-any-return]


def differing(one: Path, other: Path) -> list[int]:
    a, b = (np.frombuffer(path.read_bytes(), np.uint8) for path in (one, other))
    assert len(a) == len(b)
    return np.flatnonzero(a != b).tolist()


ALL = [0, 1, 2, 3, 4, 5]
SHIFT = np.array([0.25, 0.5])


def test_floats_are_written_in_place_and_nothing_else_changes(tmp_path: Path) -> None:
    file = GltfFile()
    file.show(file.quad(extras={"kept": [1.5]}))
    source = file.glb(tmp_path / "quad.glb")
    copy = saved(source, ALL)
    view = file.document["bufferViews"][1]
    json_size = struct.unpack_from("<I", source.read_bytes(), 12)[0]
    first = 28 + json_size + view["byteOffset"]
    assert set(differing(source, copy)) <= set(range(first, first + view["byteLength"]))
    assert face_uvs(read(copy)) == pytest.approx(face_uvs(read(source)) + SHIFT, abs=1e-6)


def test_interleaved_floats_are_written_between_the_others(tmp_path: Path) -> None:
    file = GltfFile()
    rows = np.hstack([QUAD, QUAD_UV]).astype("<f4")
    view = file.view(rows.tobytes(), byteStride=20)
    base = {"bufferView": view, "componentType": 5126, "count": 4}
    attributes = {
        "POSITION": file.add("accessors", {**base, "type": "VEC3"}),
        "TEXCOORD_0": file.add("accessors", {**base, "type": "VEC2", "byteOffset": 12}),
    }
    file.show({"attributes": attributes, "indices": file.accessor(QUAD_INDICES)})
    source = file.glb(tmp_path / "quad.glb")
    copy = saved(source, ALL)
    json_size = struct.unpack_from("<I", source.read_bytes(), 12)[0]
    first = 28 + json_size
    allowed = {first + 20 * k + b for k in range(4) for b in range(12, 20)}
    assert set(differing(source, copy)) <= allowed


def test_stated_bounds_follow(tmp_path: Path) -> None:
    file = GltfFile()
    primitive = file.quad()
    accessor = file.document["accessors"][primitive["attributes"]["TEXCOORD_0"]]
    accessor |= {"min": [0.0, 0.5], "max": [1.0, 1.0]}
    file.show(primitive)
    copy = document(saved(file.glb(tmp_path / "quad.glb"), ALL))
    changed = copy["accessors"][primitive["attributes"]["TEXCOORD_0"]]
    assert (changed["min"], changed["max"]) == ([0.25, 0.0], [1.25, 0.5])


@pytest.mark.parametrize("kind", ["u1", "u2"])
def test_whole_numbers_become_floats_that_hold_what_was_tried(tmp_path: Path, kind: str) -> None:
    file = GltfFile()
    primitive = file.quad()
    steps = (QUAD_UV * np.iinfo(kind).max).astype(f"<{kind}")
    if kind == "u1":
        steps = np.hstack([steps, np.zeros((4, 2), steps.dtype)])
    view = file.view(steps.tobytes(), byteStride=4)
    primitive["attributes"]["TEXCOORD_0"] = file.add(
        "accessors",
        {"bufferView": view, "componentType": 5121 if kind == "u1" else 5123, "count": 4,
         "type": "VEC2", "normalized": True, "name": "flat"},
    )  # fmt: skip
    file.show(primitive)
    copy = saved(file.glb(tmp_path / "quad.glb"), ALL, (1.25, 0.1))
    written = document(copy)
    new = written["accessors"][written["meshes"][0]["primitives"][0]["attributes"]["TEXCOORD_0"]]
    assert (new["componentType"], new["name"]) == (5126, "flat")
    assert "normalized" not in new


def test_sparse_coordinates_become_plain_ones(tmp_path: Path) -> None:
    file = GltfFile()
    primitive = file.quad()
    sparse = {
        "count": 1,
        "indices": {"bufferView": file.view(np.array([2], "<u2").tobytes()), "componentType": 5123},
        "values": {"bufferView": file.view(np.array([[0.5, 0.25]], "<f4").tobytes())},
    }
    file.document["accessors"][primitive["attributes"]["TEXCOORD_0"]]["sparse"] = sparse
    file.show(primitive)
    source = file.glb(tmp_path / "quad.glb")
    copy = saved(source, ALL)
    assert face_uvs(read(copy)) == pytest.approx(face_uvs(read(source)) + SHIFT, abs=1e-6)
    written = document(copy)
    index = written["meshes"][0]["primitives"][0]["attributes"]["TEXCOORD_0"]
    assert "sparse" not in written["accessors"][index]


def rich(file: GltfFile) -> dict[str, Any]:
    """A quad with everything a vertex can carry."""
    primitive = file.quad(
        extras={"kept": True},
        extensions={"EXT_unheard_of": {"deep": [1, {"a": None}]}},
    )
    four = np.arange(4, dtype="<f4")
    attributes = primitive["attributes"]
    attributes["NORMAL"] = file.accessor(np.tile(np.array([[0, 0, 1]], "<f4"), (4, 1)))
    attributes["TANGENT"] = file.accessor(np.tile(np.array([[1, 0, 0, 1]], "<f4"), (4, 1)))
    colour = np.arange(16, dtype="u1").reshape(4, 4)
    attributes["COLOR_0"] = file.add(
        "accessors",
        {"bufferView": file.view(colour.tobytes(), byteStride=4), "componentType": 5121,
         "count": 4, "type": "VEC3", "normalized": True},
    )  # fmt: skip
    attributes["JOINTS_0"] = file.accessor(np.zeros((4, 4), "<u1"))
    attributes["WEIGHTS_0"] = file.accessor(np.tile(np.array([[1, 0, 0, 0]], "<f4"), (4, 1)))
    attributes["_OWN"] = file.accessor(four)
    sparse = {
        "count": 1,
        "indices": {"bufferView": file.view(np.array([2], "<u2").tobytes()), "componentType": 5123},
        "values": {"bufferView": file.view(np.array([[0, 0, 7]], "<f4").tobytes())},
    }
    target = {"componentType": 5126, "count": 4, "type": "VEC3", "sparse": sparse}
    primitive["targets"] = [{"POSITION": file.add("accessors", target)}]
    return primitive


def test_where_corners_part_vertices_are_doubled_with_all_they_carry(tmp_path: Path) -> None:
    file = GltfFile()
    node = file.show(rich(file), mesh="sheet", name="sheet", skin=0)
    file.add("skins", {"joints": [node]})
    sampler = {"input": file.accessor(np.array([0, 1], "<f4")),
               "output": file.accessor(np.array([0, 1], "<f4"))}  # fmt: skip
    file.add(
        "animations",
        {"channels": [{"sampler": 0, "target": {"node": node, "path": "weights"}}],
         "samplers": [sampler]},
    )  # fmt: skip
    file.add("materials", {"name": "oak", "extras": 3})
    source = file.glb(tmp_path / "quad.glb")
    asset = read(source)
    done = save_copy(asset, moved(asset, [3, 4, 5], (0.25, 0.0)), tmp_path / "copy.glb")
    assert done.caveats
    assert "Tangents are kept" in done.caveats[0]
    old, new = document(source), document(done.files[0])
    for key in ("nodes", "scenes", "skins", "animations", "materials", "asset"):
        assert new[key] == old[key]
    (primitive,) = new["meshes"][0]["primitives"]
    assert primitive["extras"] == {"kept": True}
    assert primitive["extensions"] == {"EXT_unheard_of": {"deep": [1, {"a": None}]}}
    # Corners 0 and 2 of the quad part; the fourth vertex belongs to the second triangle alone.
    for index in (*primitive["attributes"].values(), *primitive["targets"][0].values()):
        assert new["accessors"][index]["count"] == 6
    values = {name: stored(done.files[0], index) for name, index in primitive["attributes"].items()}
    assert values["_OWN"][:, 0].tolist() == [0, 1, 2, 3, 0, 2]
    assert values["COLOR_0"].tolist() == [[4 * k, 4 * k + 1, 4 * k + 2] for k in (0, 1, 2, 3, 0, 2)]
    morph = stored(done.files[0], primitive["targets"][0]["POSITION"])
    assert morph[:, 2].tolist() == [0, 0, 7, 0, 0, 7]


def stored(path: Path, index: int) -> Rows:
    """Read an accessor of the binary chunk by hand."""
    data = path.read_bytes()
    (size,) = struct.unpack_from("<I", data, 12)
    new = document(path)
    accessor = new["accessors"][index]
    view = new["bufferViews"][accessor["bufferView"]]
    kind = {5121: "u1", 5123: "<u2", 5125: "<u4", 5126: "<f4"}[accessor["componentType"]]
    width = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4}[accessor["type"]]
    item = np.dtype(kind).itemsize
    stride = view.get("byteStride", width * item)
    assert stride % 4 == 0 or "target" not in view or view["target"] == 34963
    return np.ndarray(
        (accessor["count"], width), kind, data,
        28 + size + view["byteOffset"] + accessor.get("byteOffset", 0), (stride, item),
    ).astype(float)  # fmt: skip


def test_another_program_s_library_reads_the_same_triangles(tmp_path: Path) -> None:
    source = sample_assets() / "lantern.glb"
    asset = read(source)
    random = np.random.default_rng(1)
    changes = []
    for layout in build_layouts(asset):
        face = np.repeat(np.arange(len(layout.face_start) - 1), np.diff(layout.face_start))
        offset = random.uniform(0, 0.5, (face.max() + 1, 2))[face] * (face % 3 == 0)[:, None]
        corner = np.arange(len(layout.corner_uv), dtype=np.int32)
        change = CornerUvs.of(corner, layout.uv[layout.corner_uv] + offset)
        changes.append(asset_change(asset, layout, change))
    changed = with_changes(asset, changes)
    save_copy(asset, changed, tmp_path / "copy.glb")
    scene = trimesh.load(tmp_path / "copy.glb", process=False, force="scene")
    found = []
    for name in scene.graph.nodes_geometry:
        matrix, geometry = scene.graph[name]
        mesh = scene.geometry[geometry]
        point = trimesh.transform_points(mesh.vertices, matrix)[mesh.faces]
        found.append(np.concatenate([point, mesh.visual.uv[mesh.faces]], axis=2).reshape(-1, 15))
    ours = np.concatenate([face_positions(asset), face_uvs(changed)], axis=2).reshape(-1, 15)
    theirs = np.concatenate(found)
    assert len(theirs) == len(ours)
    # Triangles are found by their place: their order is the library's own.
    distance, twin = cKDTree(ours[:, corner_places()]).query(theirs[:, corner_places()])
    assert distance.max() < 1e-5
    assert sorted(twin.tolist()) == list(range(len(ours)))
    assert theirs == pytest.approx(ours[twin], abs=2e-6)


def corner_places() -> list[int]:
    """The columns of positions in rows of three corners with x, y, z, u, v."""
    return [5 * corner + axis for corner in range(3) for axis in range(3)]


def test_coordinates_shared_with_another_set_are_parted(tmp_path: Path) -> None:
    file = GltfFile()
    primitive = file.quad()
    primitive["attributes"]["TEXCOORD_1"] = primitive["attributes"]["TEXCOORD_0"]
    file.show(primitive)
    source = file.glb(tmp_path / "quad.glb")
    after = read(saved(source, ALL))
    assert face_uvs(after, 0) == pytest.approx(face_uvs(read(source)) + SHIFT, abs=1e-6)
    assert (face_uvs(after, 1) == face_uvs(read(source), 1)).all()


def test_coordinates_over_the_same_bytes_are_parted(tmp_path: Path) -> None:
    file = GltfFile()
    primitive = file.quad()
    same = dict(file.document["accessors"][primitive["attributes"]["TEXCOORD_0"]])
    primitive["attributes"]["TEXCOORD_1"] = file.add("accessors", same)
    file.show(primitive)
    source = file.glb(tmp_path / "quad.glb")
    after = read(saved(source, ALL))
    assert (face_uvs(after, 1) == face_uvs(read(source), 1)).all()


def test_primitives_that_share_coordinates_can_part(tmp_path: Path) -> None:
    file = GltfFile()
    first = file.quad()
    second = {**first, "attributes": dict(first["attributes"])}
    raised = QUAD + np.array([0, 0, 1], "<f4")
    second["attributes"]["POSITION"] = file.accessor(raised)
    file.show(first, second)
    source = file.glb(tmp_path / "quad.glb")
    after, before = face_uvs(read(saved(source, ALL))), face_uvs(read(source))
    assert after[:2] == pytest.approx(before[:2] + SHIFT, abs=1e-6)
    assert (after[2:] == before[2:]).all()


def test_a_mesh_shown_twice_is_parted_only_where_its_coordinates_do(tmp_path: Path) -> None:
    file = GltfFile()
    file.show(file.quad(), mesh="wheel", name="left")
    file.root(mesh=0, name="right", translation=[5, 0, 0])
    source = file.glb(tmp_path / "quad.glb")
    assert len(document(saved(source, [*range(12)]))["meshes"]) == 1
    (tmp_path / "copy.glb").unlink()
    copy = saved(source, ALL)
    parted = document(copy)
    assert len(parted["meshes"]) == 2
    assert [node["mesh"] for node in parted["nodes"]] == [0, 1]
    before, after = face_uvs(read(source)), face_uvs(read(copy))
    assert after[:2] == pytest.approx(before[:2] + SHIFT, abs=1e-6)
    assert (after[2:] == before[2:]).all()


@pytest.mark.parametrize("scale", [[1, 1, 1], [-1, 1, 1]])
@pytest.mark.parametrize("mode", [4, 5, 6])
def test_strips_fans_and_mirrored_nodes_part_too(
    tmp_path: Path, scale: list[float], mode: int
) -> None:
    file = GltfFile()
    primitive = file.quad(mode=mode)
    order = {4: QUAD_INDICES, 5: np.array([0, 1, 3, 2], "<u2"), 6: np.array([0, 1, 2, 3], "<u2")}
    primitive["indices"] = file.accessor(order[mode])
    file.show(primitive, scale=scale)
    copy = document(saved(file.glb(tmp_path / "quad.glb"), [3, 4, 5]))
    (written,) = copy["meshes"][0]["primitives"]
    assert written.get("mode", 4) == 4
    assert copy["accessors"][written["indices"]]["count"] == 6


def test_vertices_drawn_without_indices_move_in_place(tmp_path: Path) -> None:
    file = GltfFile()
    primitive = file.quad()
    del primitive["indices"]
    for name, rows in (("POSITION", QUAD), ("TEXCOORD_0", QUAD_UV)):
        primitive["attributes"][name] = file.accessor(rows[QUAD_INDICES])
    file.show(primitive)
    source = file.glb(tmp_path / "quad.glb")
    assert len(differing(source, saved(source, [3, 4, 5]))) > 0


def test_an_own_chunk_of_a_glb_stays(tmp_path: Path) -> None:
    file = GltfFile()
    file.show(file.quad())
    source = file.glb(tmp_path / "quad.glb")
    own = struct.pack("<II", 8, 0x4E574F) + b"mystery!"
    data = source.read_bytes() + own
    source.write_bytes(data[:8] + struct.pack("<I", len(data)) + data[12:])
    copy = saved(source, [3, 4, 5]).read_bytes()
    assert copy.endswith(own)
    assert struct.unpack_from("<I", copy, 8)[0] == len(copy)


# Files beside a .gltf


def in_a_file(folder: Path) -> tuple[Path, GltfFile]:
    file = GltfFile()
    file.show(file.quad())
    file.document["images"] = [{"uri": "wood%20grain.png"}]
    (folder / "quad.bin").write_bytes(bytes(file.data))
    return file.gltf(folder / "quad.gltf", "quad.bin"), file


def save(source: Path, target: Path, corners: list[int]) -> Saved:
    asset = read(source)
    return save_copy(asset, moved(asset, corners, (0.25, 0.5)), target)


def test_a_buffer_beside_is_written_anew_beside_the_copy(tmp_path: Path) -> None:
    source, file = in_a_file(tmp_path)
    done = save(source, tmp_path / "copy.gltf", ALL)
    assert [path.name for path in done.files] == ["copy.gltf", "copy.bin"]
    assert (tmp_path / "quad.bin").read_bytes() == bytes(file.data)
    assert document(done.files[0])["buffers"][0]["uri"] == "copy.bin"
    again = save(source, tmp_path / "copy2.gltf", [3, 4, 5])
    # New vertices go to a file of their own; the old buffer stays where it is.
    uris = [buffer["uri"] for buffer in document(again.files[0])["buffers"]]
    assert uris == ["quad.bin", "copy2.bin"]


def test_a_file_that_is_there_already_is_not_taken_for_the_buffer(tmp_path: Path) -> None:
    source, _ = in_a_file(tmp_path)
    (tmp_path / "copy.bin").write_bytes(b"mine")
    done = save(source, tmp_path / "copy.gltf", ALL)
    assert [path.name for path in done.files] == ["copy.gltf", "copy-2.bin"]
    assert (tmp_path / "copy.bin").read_bytes() == b"mine"


def test_a_copy_saved_again_leaves_nothing_of_the_earlier_one_behind(tmp_path: Path) -> None:
    source, _ = in_a_file(tmp_path)
    target = tmp_path / "copy.gltf"
    for corners, name in ((ALL, "copy.bin"), ([3, 4, 5], "copy-2.bin"), (ALL, "copy.bin")):
        assert again(source, target, corners) == (target, tmp_path / name)
        names = sorted(path.name for path in tmp_path.iterdir())
        assert names == sorted(["copy.gltf", name, "quad.bin", "quad.gltf"])


def again(source: Path, target: Path, corners: list[int]) -> tuple[Path, ...]:
    asset = read(source)
    return save_copy(asset, moved(asset, corners, (0.25, 0.5)), target, replace=True).files


@pytest.mark.parametrize("spoil", ["changed", "unmarked", "named", "linked", "elsewhere"])
def test_what_may_be_somebody_elses_stays(tmp_path: Path, spoil: str) -> None:
    source, _ = in_a_file(tmp_path)
    target, binary = tmp_path / "copy.gltf", tmp_path / "copy.bin"
    again(source, target, ALL)
    if spoil == "changed":
        binary.write_bytes(binary.read_bytes() + b"mine")
    elif spoil == "unmarked":
        written = document(target)
        del written["buffers"][0]["extras"]
        target.write_text(json.dumps(written))
    elif spoil == "named":
        (tmp_path / "other.gltf").write_bytes(target.read_bytes())
    elif spoil == "linked":
        binary.rename(tmp_path / "kept")
        binary.symlink_to(tmp_path / "kept")
    else:
        target.write_bytes(target.read_bytes().replace(b'"copy.bin"', b'"../copy.bin"'))
        (tmp_path.parent / "copy.bin").write_bytes(binary.read_bytes())
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    again(source, target, ALL)
    after = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert {name: after.get(name) for name in before if name != "copy.gltf"} == {
        name: data for name, data in before.items() if name != "copy.gltf"
    }
    if spoil == "elsewhere":
        assert (tmp_path.parent / "copy.bin").exists()


def test_a_copy_of_a_copy_leaves_the_first_ones_files_alone(tmp_path: Path) -> None:
    source, _ = in_a_file(tmp_path)
    first, second = tmp_path / "copy.gltf", tmp_path / "second.gltf"
    again(source, first, ALL)
    again(first, second, [3, 4, 5])
    again(first, second, ALL)
    assert read(first).digest
    assert (tmp_path / "copy.bin").exists()
    assert sorted(path.name for path in tmp_path.glob("second*.bin")) == ["second-2.bin"]


def test_from_another_folder_the_files_beside_the_source_are_found(tmp_path: Path) -> None:
    source, _ = in_a_file(tmp_path)
    (tmp_path / "tried here").mkdir()
    done = save(source, tmp_path / "tried here" / "copy.gltf", [3, 4, 5])
    written = document(done.files[0])
    assert [buffer["uri"] for buffer in written["buffers"]] == ["../quad.bin", "copy.bin"]
    assert written["images"][0]["uri"] == "../wood%20grain.png"


def test_embedded_buffers_stay_embedded(tmp_path: Path) -> None:
    for name in ("base64", "percent"):
        file = GltfFile()
        file.show(file.quad())
        source = file.gltf(tmp_path / f"{name}.gltf", name)
        for corners in (ALL, [3, 4, 5]):
            target = tmp_path / f"{name} {len(corners)}.gltf"
            assert save(source, target, corners).files == (target,)


def test_what_is_refused_leaves_nothing_behind(tmp_path: Path) -> None:
    source, _ = in_a_file(tmp_path)
    asset = read(source)
    changed = moved(asset, ALL, (0.25, 0.5))
    wrong = Asset(**{**changed.__dict__, "position": asset.position + 1.0})
    with pytest.raises(FileProblem, match="differs in its positions"):
        save_copy(asset, wrong, tmp_path / "copy.gltf")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["quad.bin", "quad.gltf"]


# What is refused by name


def test_compressed_vertices_are_refused_by_name(tmp_path: Path) -> None:
    file = GltfFile()
    file.show(file.quad(extensions={"KHR_draco_mesh_compression": {"bufferView": 0}}))
    with pytest.raises(FileProblem, match="compressed with KHR_draco_mesh_compression"):
        saved(file.glb(tmp_path / "draco.glb"), ALL)
    file = GltfFile()
    primitive = file.quad()
    view = file.document["accessors"][primitive["attributes"]["TEXCOORD_0"]]["bufferView"]
    file.document["bufferViews"][view]["extensions"] = {"EXT_meshopt_compression": {}}
    file.show(primitive)
    with pytest.raises(FileProblem, match="TEXCOORD_0 is compressed with EXT_meshopt_compression"):
        saved(file.glb(tmp_path / "meshopt.glb"), ALL)


def test_quantised_coordinates_with_a_transform_are_refused_by_name(tmp_path: Path) -> None:
    file = GltfFile()
    moves = {"KHR_texture_transform": {"scale": [4.0, 4.0]}}
    texture = {"index": 0, "extensions": moves}
    file.add("materials", {"pbrMetallicRoughness": {"baseColorTexture": texture}})
    file.document["extensionsUsed"] = ["KHR_mesh_quantization", "KHR_texture_transform"]
    primitive = file.quad(material=0)
    steps = (QUAD_UV * 65535 / 4).astype("<u2")
    primitive["attributes"]["TEXCOORD_0"] = file.accessor(steps, normalized=True)
    file.show(primitive)
    with pytest.raises(FileProblem, match="quantised and brought back by a KHR_texture_transform"):
        saved(file.glb(tmp_path / "quantised.glb"), ALL)


def test_a_buffer_changed_meanwhile_is_refused_and_no_copy_takes_its_place(tmp_path: Path) -> None:
    file = GltfFile()
    file.show(file.quad())
    buffer = tmp_path / "shape.gltf"  # a name that a copy might be given
    buffer.write_bytes(bytes(file.data))
    asset = read(file.gltf(tmp_path / "quad.gltf", "shape.gltf"))
    changed = moved(asset, ALL, (0.25, 0.5))
    with pytest.raises(FileProblem, match="composed of it"):
        save_copy(asset, changed, buffer, replace=True)
    assert buffer.read_bytes() == bytes(file.data)
    buffer.write_bytes(bytes(file.data)[:-1] + b"\1")
    with pytest.raises(FileProblem, match=r"its part shape\.gltf has changed since it was opened"):
        save_copy(asset, changed, tmp_path / "copy.gltf")
    assert not (tmp_path / "copy.gltf").exists()
