"""glTF files that cannot be read: one sentence that names the place and what to do."""

from __future__ import annotations

import json
import os
import struct
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.mesh.gltf_files import QUAD, QUAD_INDICES, GltfFile

from evenweave.errors import FileProblem
from evenweave.mesh.asset import Asset
from evenweave.mesh.gltf import reader as gltf

TRILLION = 10**12


def problem(path: Path) -> FileProblem:
    with pytest.raises(FileProblem) as caught:
        gltf.read(path)
    sentence = str(caught.value)
    assert sentence.startswith(path.name)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    assert len(sentence) < 300
    return caught.value


def roof(**more: Any) -> GltfFile:
    """Return a file whose mesh 'roof' is a quad: accessors 0 position, 1 uv, 2 indices."""
    file = GltfFile()
    file.show(file.quad(**more), mesh="roof")
    return file


Edit = Callable[[dict[str, Any]], Any]

BROKEN: list[tuple[str, Edit, str, str]] = [
    (
        "a count that the bytes do not bear out",
        lambda d: d["accessors"][0].update(count=TRILLION),
        "mesh 'roof', primitive 0, POSITION, accessor 0",
        "its 1000000000000 elements need 12000000000000 bytes, but its buffer view has 48",
    ),
    (
        "a view longer than the file",
        lambda d: [
            d["accessors"][0].update(count=TRILLION),
            d["bufferViews"][0].update(byteLength=TRILLION * 12),
        ],
        "mesh 'roof', primitive 0, POSITION, accessor 0",
        "its 1000000000000 elements need 12000000000000 bytes, but the data ends after 92",
    ),
    (
        "a count without any bytes",
        lambda d: [
            d["accessors"][0].update(count=TRILLION),
            d["accessors"][0].pop("bufferView"),
        ],
        "mesh 'roof', primitive 0, POSITION, accessor 0",
        "it claims 1000000000000 elements, and the file has no bytes for them",
    ),
    (
        "an accessor that starts beyond its view",
        lambda d: d["accessors"][1].update(byteOffset=4),
        "mesh 'roof', primitive 0, TEXCOORD_0, accessor 1",
        "its 4 elements need 36 bytes, but its buffer view has 32",
    ),
    (
        "a stride shorter than an element",
        lambda d: d["bufferViews"][0].update(byteStride=8),
        "mesh 'roof', primitive 0, POSITION, accessor 0",
        "its elements of 12 bytes overlap at a stride of 8",
    ),
    (
        "a missing accessor",
        lambda d: d["meshes"][0]["primitives"][0]["attributes"].update(NORMAL=9),
        "mesh 'roof', primitive 0, NORMAL, accessor 9",
        "accessor 9 is asked for, but the file has only 3 of them",
    ),
    (
        "a missing buffer view",
        lambda d: d["accessors"][2].update(bufferView=7),
        "mesh 'roof', primitive 0, accessor 2, buffer view 7",
        "buffer view 7 is asked for, but the file has only 3 of them",
    ),
    (
        "a missing buffer",
        lambda d: d["bufferViews"][2].update(buffer=3),
        "",
        "buffer 3 is asked for, but the file has only 1 of them",
    ),
    (
        "a missing mesh",
        lambda d: d["nodes"][0].update(mesh=5),
        "",
        "mesh 5 is asked for, but the file has only 1 of them",
    ),
    (
        "a missing material",
        lambda d: d["meshes"][0]["primitives"][0].update(material=0),
        "mesh 'roof', primitive 0, TEXCOORD_0",
        "material 0 is asked for, but the file has none",
    ),
    (
        "a missing scene",
        lambda d: d.update(scene=2),
        "",
        "scene 2 is asked for, but the file has only 1 of them",
    ),
    (
        "a missing node",
        lambda d: d["nodes"][0].update(children=[6]),
        "",
        "node 6 is asked for, but the file has only 1 of them",
    ),
    (
        "positions of the wrong type",
        lambda d: d["accessors"][0].update(type="VEC2"),
        "mesh 'roof', primitive 0, POSITION, accessor 0",
        "it is of type 'VEC2', which has no use here",
    ),
    (
        "a type that is none",
        lambda d: d["accessors"][0].update(type=["VEC3"]),
        "mesh 'roof', primitive 0, POSITION, accessor 0",
        "'type' should be one such as 'VEC3', not ['VEC3']",
    ),
    (
        "a component type that is none",
        lambda d: d["accessors"][0].update(componentType=5124),
        "mesh 'roof', primitive 0, POSITION, accessor 0",
        "'componentType' 5124 is none of glTF's",
    ),
    (
        "signed indices",
        lambda d: d["accessors"][2].update(componentType=5122),
        "mesh 'roof', primitive 0, accessor 2",
        "indices should be single unsigned whole numbers",
    ),
    (
        "a text for a number",
        lambda d: d["accessors"][1].update(count="four"),
        "mesh 'roof', primitive 0, TEXCOORD_0, accessor 1",
        "'count' should be a whole number, not 'four'",
    ),
    (
        "a negative number",
        lambda d: d["accessors"][1].update(byteOffset=-8),
        "mesh 'roof', primitive 0, TEXCOORD_0, accessor 1",
        "'byteOffset' should be a whole number, not -8",
    ),
    (
        "a count left out",
        lambda d: d["accessors"][1].pop("count"),
        "mesh 'roof', primitive 0, TEXCOORD_0, accessor 1",
        "'count' is missing",
    ),
    (
        "a mode that is none",
        lambda d: d["meshes"][0]["primitives"][0].update(mode=9),
        "mesh 'roof', primitive 0, accessor 2",
        "its 'mode' 9 is none of glTF's",
    ),
    (
        "a matrix of fifteen numbers",
        lambda d: d["nodes"][0].update(name="ridge", matrix=[1] * 15),
        "node 'ridge'",
        "'matrix' should be 16 numbers, not [1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1,…",
    ),
    (
        "a scale that overflows",
        lambda d: [
            d["nodes"][0].update(scale=[1e300] * 3, children=[1]),
            d["nodes"].append({"scale": [1e300] * 3}),
        ],
        "node 1",
        "its transforms multiply beyond all numbers",
    ),
    (
        "a node that is its own ancestor",
        lambda d: [
            d["nodes"][0].update(name="ridge", children=[1]),
            d["nodes"].append({"children": [0]}),
        ],
        "node 'ridge'",
        "it is its own ancestor",
    ),
    (
        "a node with two parents",
        lambda d: [
            d["nodes"].extend([{"children": [2], "name": "shed"}, {}]),
            d["nodes"][0].update(children=[2, 1]),
        ],
        "node 2",
        "it stands in the hierarchy twice, under node 0 and node 'shed'",
    ),
    (
        "a root that is a child as well",
        lambda d: [
            d["nodes"].append({"name": "shed"}),
            d["nodes"][0].update(children=[1]),
            d["scenes"][0].update(nodes=[1, 0]),
        ],
        "node 'shed'",
        "it stands in the hierarchy twice, under the scene and node 0",
    ),
    (
        "a list that is an object",
        lambda d: d.update(meshes={"roof": 1}),
        "",
        "'meshes' should be a list, not {'roof': 1}",
    ),
    (
        "no meshes",
        lambda d: [d.update(meshes=[]), d.update(nodes=[])],
        "",
        "it holds no meshes",
    ),
    (
        "a scene of lines",
        lambda d: d["meshes"][0]["primitives"][0].update(mode=1),
        "",
        "its scene shows no triangles (points and lines are left out)",
    ),
    (
        "Draco",
        lambda d: [
            d["meshes"][0]["primitives"][0].update(
                extensions={"KHR_draco_mesh_compression": {"bufferView": 0}}
            ),
            *(accessor.pop("bufferView") for accessor in d["accessors"]),
        ],
        "mesh 'roof', primitive 0",
        "its vertices are compressed with KHR_draco_mesh_compression, which is not read",
    ),
    (
        "meshopt",
        lambda d: [
            d["buffers"].append({"byteLength": 48}),
            d["bufferViews"][0].update(buffer=1, extensions={"EXT_meshopt_compression": {}}),
        ],
        "mesh 'roof', primitive 0, POSITION, accessor 0, buffer view 0",
        "its vertices are compressed with EXT_meshopt_compression, which is not read",
    ),
    (
        "glTF 1",
        lambda d: d["asset"].update(version="1.0"),
        "",
        "it is glTF version '1.0'",
    ),
]


@pytest.mark.parametrize(
    ("edit", "place", "cause"),
    [pytest.param(*case[1:], id=case[0].replace(" ", "-")) for case in BROKEN],
)
def test_what_is_wrong_is_named_with_its_place(
    tmp_path: Path, edit: Edit, place: str, cause: str
) -> None:
    file = roof()
    edit(file.document)
    found = problem(file.glb(tmp_path / "house.glb"))
    assert (found.place, found.cause) == (place, cause)


@pytest.mark.parametrize(
    ("indices", "cause"),
    [
        (np.array([0, 1, 4], "<u1"), "index 4 is beyond its 4 vertices"),
        (np.array([0, 1, 0xFF], "<u1"), "index 255 is the restart value, which glTF forbids"),
        (np.array([0, 1, 0xFFFF], "<u2"), "index 65535 is the restart value, which glTF forbids"),
        (
            np.array([0, 1, 0xFFFFFFFF], "<u4"),
            "index 4294967295 is the restart value, which glTF forbids",
        ),
        (np.array([0, 1, 2, 3], "<u1"), "4 indices make no whole number of triangles"),
    ],
)
def test_indices_are_checked(tmp_path: Path, indices: Any, cause: str) -> None:
    file = roof()
    number = file.accessor(indices)
    file.document["meshes"][0]["primitives"][0]["indices"] = number
    found = problem(file.glb(tmp_path / "house.glb"))
    assert (found.place, found.cause) == ("mesh 'roof', primitive 0, accessor 3", cause)


def test_without_indices_attributes_need_as_many_elements_as_positions(tmp_path: Path) -> None:
    file = roof()
    primitive = file.document["meshes"][0]["primitives"][0]
    del primitive["indices"]
    primitive["attributes"]["TEXCOORD_0"] = file.accessor(np.zeros((3, 2), "<f4"))
    found = problem(file.glb(tmp_path / "house.glb"))
    assert found.cause == "TEXCOORD_0 has 3 elements for 4 positions"


def test_sparse_indices_are_checked(tmp_path: Path) -> None:
    file = roof()
    file.document["accessors"][0]["sparse"] = {
        "count": 1,
        "indices": {"bufferView": file.view(b"\4"), "componentType": 5121},
        "values": {"bufferView": file.view(bytes(12))},
    }
    found = problem(file.glb(tmp_path / "house.glb"))
    assert found.place == "mesh 'roof', primitive 0, POSITION, accessor 0, sparse"
    assert found.cause == "index 4 is beyond its 4 elements"


@pytest.mark.parametrize(
    ("uri", "cause"),
    [
        ("gone.bin", "the file 'gone.bin' is not there"),
        ("%2e%2e/gone%20too.bin", "the file '../gone too.bin' is not there"),
        (
            "https://a.b/c.bin",
            "it lies at 'https://a.b/c.bin', and only files beside this one are read",
        ),
        ("file:///c.bin", "it lies at 'file:///c.bin', and only files beside this one are read"),
        ("C:/c.bin", "it lies at 'C:/c.bin', and only files beside this one are read"),
        ("/c.bin", "it names the absolute path '/c.bin', which belongs to another machine"),
        ("%2Fc.bin", "it names the absolute path '/c.bin', which belongs to another machine"),
        ("data:text/plain;base64", "its data URI has no data"),
        ("data:;base64,A", "its data URI is not valid base64"),
        ("a%00b", "the file 'a\\x00b' is not there"),
        ("", "the file '' is not there"),
    ],
)
def test_buffers_that_cannot_be_had_are_named(tmp_path: Path, uri: str, cause: str) -> None:
    found = problem(roof().gltf(tmp_path / "house.gltf", uri))
    assert (found.place, found.cause) == ("buffer 0", cause)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with names are Unix")
def test_a_pipe_in_a_buffer_s_place_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.bin")
    assert "is not there" in problem(roof().gltf(tmp_path / "house.gltf", "pipe.bin")).cause


def test_a_buffer_cut_short_is_noticed(tmp_path: Path) -> None:
    path = roof().gltf(tmp_path / "house.gltf", "b.bin")
    (tmp_path / "b.bin").write_bytes(bytes(60))
    found = problem(path)
    assert found.place == "mesh 'roof', primitive 0, TEXCOORD_0, accessor 1"
    assert found.cause == "its 4 elements need 32 bytes, but the data ends after 12"


GOOD_JSON = b'{"asset":{"version":"2.0"}}  '[:28]


def glb(*chunks: tuple[bytes, bytes], version: int = 2, length: int | None = None) -> bytes:
    body = b"".join(struct.pack("<I", len(data)) + kind + data for kind, data in chunks)
    total = 12 + len(body) if length is None else length
    return b"glTF" + struct.pack("<II", version, total) + body


@pytest.mark.parametrize(
    ("data", "place", "cause"),
    [
        (b"", "", "its JSON document is empty"),
        (b"glTF", "", "the file ends inside the GLB header"),
        (glb((b"JSON", GOOD_JSON), version=1), "", "it is GLB version 1"),
        (
            glb((b"JSON", GOOD_JSON), length=99),
            "",
            "its header claims 99 bytes, but the file has 48",
        ),
        (glb((b"JSON", GOOD_JSON), length=0), "", "its header claims 0 bytes, but the file has 48"),
        (
            glb((b"JSON", GOOD_JSON))[:-1].replace(b"\x30\0\0\0", b"\x2f\0\0\0", 1),
            "chunk 0",
            "it claims 28 bytes, but 27 are left",
        ),
        (glb((b"BIN\0", GOOD_JSON)), "chunk 0", "the first chunk is not the JSON document"),
        (glb(), "", "it has no JSON chunk"),
        (glb((b"JSON", b"    ")), "", "its JSON document is empty"),
        (
            glb((b"JSON", b"{no}")),
            "line 1, column 2",
            "it is not valid JSON (Expecting property name enclosed in double quotes)",
        ),
        (b'{"a": NaN}', "", "it is not valid JSON (NaN is not a JSON number)"),
        (b"\xff\xfe{}", "", "its JSON is not UTF-8 at byte 0"),
        (b"[" * 100_000, "", "its JSON is nested too deeply"),
        (b"[1]", "", "an object was expected, not [1]"),
        (b'{"a": 1}', "", "it is JSON but not glTF"),
    ],
)
def test_broken_containers_are_named(tmp_path: Path, data: bytes, place: str, cause: str) -> None:
    path = tmp_path / "house.glb"
    path.write_bytes(data)
    found = problem(path)
    assert (found.place, found.cause) == (place, cause)


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    path = roof().gltf(tmp_path / "house.gltf", "base64")
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert gltf.read(path).face_count == 2


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    assert problem(tmp_path / "gone.glb").remedy == "check the file and its permissions"
    assert problem(tmp_path).remedy == "check the file and its permissions"


def test_instances_beyond_all_memory_are_refused_at_once(tmp_path: Path) -> None:
    """20,000 nodes that show one mesh of 100,000 triangles would take 100 GB."""
    file = GltfFile()
    many = np.tile(QUAD_INDICES, 50_000)
    primitive = {"attributes": {"POSITION": file.accessor(QUAD)}, "indices": file.accessor(many)}
    file.show(primitive)
    for _ in range(20_000):
        file.root(mesh=0, translation=[1, 0, 0])
    found = problem(file.glb(tmp_path / "house.glb"))
    assert found.cause == "its instances repeat the same data until it no longer fits in memory"


JUNK = st.sampled_from(
    [None, True, -1, 0, 1, 3, 2.5, 1e308, 10**30, "", "VEC3", "\ud800", [], [0], [[]], {}, {"a": 0}]
)


@settings(deadline=None, max_examples=150, derandomize=True)
@given(data=st.data())
def test_any_value_replaced_by_any_other_gives_an_asset_or_a_sentence(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    file = roof(material=0)
    file.document["materials"] = [
        {
            "emissiveTexture": {
                "index": 0,
                "extensions": {"KHR_texture_transform": {"scale": [2, 2]}},
            }
        }
    ]
    file.document["nodes"][0].update(skin=0, scale=[1, 1, 1], name="n", children=[])
    file.document["skins"] = [{"joints": [0]}]
    file.gltf(tmp_path_factory.getbasetemp() / "base.gltf", "base64")
    holder, key = data.draw(st.sampled_from(list(_slots(file.document))))
    holder[key] = data.draw(JUNK)
    path = tmp_path_factory.getbasetemp() / "house.gltf"
    path.write_text(json.dumps(file.document), encoding="utf-8")
    try:
        asset = gltf.read(path)
    except FileProblem as found:
        sentence = str(found)
    else:
        assert_in_range(asset)
        sentence = " ".join([*asset.caveats, *asset.part_names, *asset.material_names])
    assert len(sentence.encode()) < 400


def _slots(value: Any) -> Any:
    """Yield every place in a document that holds a value, as (holder, key)."""
    keys = value.keys() if isinstance(value, dict) else range(len(value))
    for key in keys:
        yield value, key
        if isinstance(value[key], dict | list):
            yield from _slots(value[key])


def assert_in_range(asset: Asset) -> None:
    assert ((asset.corner_position >= 0) & (asset.corner_position < len(asset.position))).all()
    assert ((asset.corner_normal >= -1) & (asset.corner_normal < len(asset.normal))).all()
    for uv_set in asset.uv_sets:
        assert ((uv_set.corner_uv >= -1) & (uv_set.corner_uv < len(uv_set.uv))).all()
    assert asset.face_start[-1] == len(asset.corner_position) == len(asset.corner_normal)
    assert (asset.face_material < len(asset.material_names)).all()
    assert (asset.face_part < len(asset.part_names)).all()
