"""What each format says of its textures: image, UV set and transform of every slot.

The same quad with the same textures is written in every format that can hold it; the numbers
expected are worked out by hand from the formats' own definitions (Khronos glTF 2.0 and
KHR_texture_transform, OpenUSD's UsdPreviewSurface, COLLADA 1.4.1, MTL).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from tests.mesh.gltf_files import QUAD_UV, GltfFile

from evenweave.mesh.asset import Asset
from evenweave.mesh.read import read
from evenweave.mesh.texturing import Slot, TextureImage, UvTransform, slot_words

TURNED = UvTransform.of((2.0, 0.5), 90.0, (0.25, 0.0))


def slots(asset: Asset, material: str = "paint") -> dict[str, Slot]:
    (found,) = [one for one in asset.textured if one.material == material]
    return {slot.name: slot for slot in found.slots}


def image(folder: Path, name: str, size: tuple[int, int] = (64, 32)) -> None:
    (folder / name).parent.mkdir(parents=True, exist_ok=True)
    Image.new("RGB", size).save(folder / name)


def gltf_quad(folder: Path, material: dict[str, Any], **document: Any) -> Asset:
    file = GltfFile()
    file.document.update(document)
    number = file.add("materials", {"name": "paint", **material})
    primitive = file.quad(material=number)
    primitive["attributes"]["TEXCOORD_1"] = file.accessor(QUAD_UV * 0.5)
    file.show(primitive)
    return read(file.glb(folder / "quad.glb"))


def test_gltf_slots_name_their_image_and_set(tmp_path: Path) -> None:
    image(tmp_path, "skin colour.png")
    asset = gltf_quad(
        tmp_path,
        {
            "occlusionTexture": {"index": 1, "texCoord": 1},
            "pbrMetallicRoughness": {"baseColorTexture": {"index": 0}},
            "extensions": {"KHR_materials_clearcoat": {"clearcoatTexture": {"index": 0}}},
        },
        textures=[{"source": 0}, {"source": 1}],
        images=[{"uri": "skin%20colour.png"}, {"uri": "gone.png"}],
    )
    found = slots(asset)
    assert list(found) == ["base colour", "occlusion", "clearcoat"]
    base = TextureImage("skin colour.png", tmp_path / "skin colour.png", 64, 32)
    assert found["base colour"] == Slot("base colour", base, "TEXCOORD_0")
    assert found["clearcoat"].image == base
    assert found["occlusion"].uv_set == "TEXCOORD_1"
    assert found["occlusion"].image.width == 0


def test_gltf_transform_overrides_the_set_and_turns_as_the_extension_defines_it(
    tmp_path: Path,
) -> None:
    """KHR_texture_transform's matrix, with v down, done by hand on three points."""
    moved = {"offset": [0.25, 0.5], "rotation": 0.5, "scale": [2, 3], "texCoord": 1}
    info = {"index": 0, "texCoord": 0, "extensions": {"KHR_texture_transform": moved}}
    asset = gltf_quad(tmp_path, {"emissiveTexture": info}, textures=[{}])
    slot = slots(asset)["emission"]
    assert slot.uv_set == "TEXCOORD_1"
    assert slot.transform is not None
    uv = np.array([[0.0, 0.0], [1.0, 0.25], [-0.5, 0.75]])
    c, s = np.cos(0.5), np.sin(0.5)
    u, v = 2 * uv[:, 0], 3 * (1 - uv[:, 1])
    expected = np.column_stack([c * u + s * v + 0.25, 1 - (-s * u + c * v + 0.5)])
    np.testing.assert_allclose(slot.transform.applied(uv), expected, atol=1e-12)
    np.testing.assert_allclose(slot.transform.undone(expected), uv, atol=1e-12)


def test_a_gltf_material_with_damaged_textures_says_nothing(tmp_path: Path) -> None:
    asset = gltf_quad(tmp_path, {"emissiveTexture": {"index": "first"}})
    assert [one.material for one in asset.textured] == [""]


USD = """#usda 1.0
(
    metersPerUnit = 1
)
def Mesh "quad" (
    prepend apiSchemas = ["MaterialBindingAPI"]
) {
    point3f[] points = [(0,0,0), (2,0,0), (2,1,0), (0,1,0)]
    int[] faceVertexCounts = [4]
    int[] faceVertexIndices = [0,1,2,3]
    texCoord2f[] primvars:map1 = [(0,0), (1,0), (1,1), (0,1)] (interpolation = "vertex")
    rel material:binding = </paint>
}
def Material "paint" {
    string inputs:set = "map1"
    token outputs:surface.connect = </paint/surface.outputs:surface>
    def Shader "surface" {
        uniform token info:id = "UsdPreviewSurface"
        color3f inputs:diffuseColor.connect = </paint/graph.outputs:colour>
        normal3f inputs:normal.connect = </paint/plain.outputs:rgb>
        token outputs:surface
    }
    def NodeGraph "graph" {
        color3f outputs:colour.connect = </paint/graph/texture.outputs:rgb>
        def Shader "texture" {
            uniform token info:id = "UsdUVTexture"
            asset inputs:file = @./tex/skin.png@
            float2 inputs:st.connect = </paint/graph/move.outputs:result>
            float3 outputs:rgb
        }
        def Shader "move" {
            uniform token info:id = "UsdTransform2d"
            float2 inputs:in.connect = </paint/graph/reader.outputs:result>
            float inputs:rotation = 90
            float2 inputs:scale = (2, 0.5)
            float2 inputs:translation = (0.25, 0)
            float2 outputs:result
        }
        def Shader "reader" {
            uniform token info:id = "UsdPrimvarReader_float2"
            string inputs:varname.connect = </paint.inputs:set>
            float2 outputs:result
        }
    }
    def Shader "plain" {
        uniform token info:id = "UsdUVTexture"
        asset inputs:file = @gone.<UDIM>.png@
        float3 outputs:rgb
    }
}
"""


def test_usd_follows_graphs_transforms_and_readers(tmp_path: Path) -> None:
    """UsdTransform2d scales, then turns counter-clockwise, then moves."""
    image(tmp_path, "tex/skin.png")
    (tmp_path / "quad.usda").write_text(USD)
    found = slots(read(tmp_path / "quad.usda"))
    base = found["base colour"]
    assert (base.uv_set, base.image.name, base.image.width) == ("map1", "./tex/skin.png", 64)
    assert base.transform == TURNED
    np.testing.assert_allclose(TURNED.applied(np.array([[1.0, 1.0]])), [[-0.25, 2.0]], atol=1e-15)
    assert found["normal"].uv_set == ""
    assert found["normal"].image.is_udim


def test_usd_shading_of_an_unknown_kind_says_nothing(tmp_path: Path) -> None:
    (tmp_path / "quad.usda").write_text(USD.replace('"UsdPreviewSurface"', '"StudioSurface"'))
    assert [one.material for one in read(tmp_path / "quad.usda").textured] == [""]


DAE = """<?xml version="1.0"?>
<COLLADA xmlns="http://www.collada.org/2005/11/COLLADASchema" version="1.4.1">
<library_images><image id="pic"><init_from>tex/skin.png</init_from></image></library_images>
<library_effects><effect id="fx"><profile_COMMON>
<newparam sid="surf"><surface type="2D"><init_from>pic</init_from></surface></newparam>
<newparam sid="samp"><sampler2D><source>surf</source></sampler2D></newparam>
<technique sid="t"><lambert><diffuse><texture texture="samp" texcoord="CHANNEL"/></diffuse>
<emission><texture texture="pic" texcoord="OTHER"/></emission></lambert></technique>
</profile_COMMON></effect></library_effects>
<library_materials><material id="m" name="paint"><instance_effect url="#fx"/></material>
<material id="n" name="bare"/></library_materials>
<library_geometries><geometry id="g"><mesh>
<source id="p"><float_array id="pa" count="9">0 0 0 1 0 0 0 1 0</float_array></source>
<source id="t"><float_array id="ta" count="6">0 0 1 0 0 1</float_array></source>
<vertices id="v"><input semantic="POSITION" source="#p"/></vertices>
<triangles count="1" material="sym"><input semantic="VERTEX" source="#v" offset="0"/>
<input semantic="TEXCOORD" source="#t" offset="0" set="0"/>
<input semantic="TEXCOORD" source="#t" offset="0" set="2"/><p>0 1 2</p></triangles>
</mesh></geometry></library_geometries>
<library_visual_scenes><visual_scene id="s"><node><instance_geometry url="#g"><bind_material>
<technique_common><instance_material symbol="sym" target="#m">
<bind_vertex_input semantic="CHANNEL" input_semantic="TEXCOORD" input_set="2"/>
</instance_material></technique_common></bind_material></instance_geometry></node></visual_scene>
</library_visual_scenes><scene><instance_visual_scene url="#s"/></scene></COLLADA>
"""


def test_collada_binds_a_texture_s_name_to_an_input_set(tmp_path: Path) -> None:
    image(tmp_path, "tex/skin.png")
    (tmp_path / "quad.dae").write_text(DAE)
    found = slots(read(tmp_path / "quad.dae"))
    assert found["base colour"].uv_set == "TEXCOORD2"
    assert found["base colour"].image.width == 64
    assert found["emission"].uv_set == ""
    assert found["emission"].image == found["base colour"].image


def test_a_collada_material_without_effect_says_nothing(tmp_path: Path) -> None:
    (tmp_path / "quad.dae").write_text(DAE.replace('target="#m"', 'target="#n"'))
    assert [one.material for one in read(tmp_path / "quad.dae").textured] == [""]


def obj_quad(folder: Path, library: str, name: str = "paint.mtl") -> Asset:
    (folder / name).write_text(library)
    (folder / "quad.obj").write_text(
        f"mtllib {name}\nv 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 0 1\n"
        "usemtl paint\nf 1/1 2/2 3/3\n"
    )
    return read(folder / "quad.obj")


def test_obj_reads_the_maps_of_its_material_library(tmp_path: Path) -> None:
    image(tmp_path, "tex/my skin.png")
    asset = obj_quad(
        tmp_path,
        "# comment\nnewmtl\tpaint \nKd 1 1 1\nmap_Kd -clamp on -s 2 3 1 -o 0.5 tex\\my skin.png\n"
        "map_Bump -bm 0.5 gone.tif\nrefl -type sphere sky.png\nnewmtl bare\nmap_Kd\n",
        "my paint.mtl",
    )
    found = slots(asset)
    assert list(found) == ["base colour", "bump"]
    assert found["base colour"].image.width == 64
    assert found["base colour"].transform == UvTransform.of((2.0, 3.0), 0.0, (0.5, 0.0))
    assert found["bump"] == Slot("bump", TextureImage("gone.tif", tmp_path / "gone.tif"), "uv")
    assert slots(asset, "bare") == slots(asset, "") == {}


def test_an_obj_whose_material_library_is_missing_says_nothing(tmp_path: Path) -> None:
    asset = obj_quad(tmp_path, "")
    assert asset.textured == ()


@pytest.mark.parametrize(
    ("name", "is_udim"),
    [
        ("skin.<UDIM>.exr", True),
        ("skin_1001.png", True),
        ("skin.1012.tif", True),
        ("skin_1000.png", False),
        ("skin_21001.png", False),
        ("1001_skin.png", False),
        ("skin.png", False),
    ],
)
def test_udim_names_are_recognised_by_four_digits_before_the_ending(
    name: str, *, is_udim: bool
) -> None:
    """MaterialX specification, "Filename Substitutions": <UDIM> is four digits from 1001 up."""
    assert TextureImage(name).is_udim is is_udim


def test_images_inside_a_file_are_measured_and_damaged_ones_are_not(tmp_path: Path) -> None:
    image(tmp_path, "a.png", (16, 8))
    file = GltfFile()
    views = [file.view((tmp_path / "a.png").read_bytes()), file.view(b"not an image")]
    file.document["images"] = [{"bufferView": view, "name": f"im{view}"} for view in views]
    file.document["textures"] = [{"source": 0}, {"source": 1}]
    material = {"normalTexture": {"index": 0}, "emissiveTexture": {"index": 1}}
    number = file.add("materials", {"name": "paint", **material})
    file.show(file.quad(material=number))
    found = slots(read(file.glb(tmp_path / "a.glb")))
    assert (found["normal"].image.width, found["normal"].image.height) == (16, 8)
    assert found["emission"].image.width == 0


def test_very_large_images_are_measured_too(tmp_path: Path) -> None:
    """A tile of 16384 texels is beyond the library's bound for decoding; its header is not."""
    Image.new("1", (16384, 16384)).save(tmp_path / "big.png")
    asset = obj_quad(tmp_path, "newmtl paint\nmap_Kd big.png\n")
    assert slots(asset)["base colour"].image.width == 16384


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("baseColorTexture", "base colour"),
        ("metallicRoughnessTexture", "metallic and roughness"),
        ("sheenColorTexture", "sheen colour"),
        ("diffuseColor", "base colour"),
        ("opacityThreshold", "opacity threshold"),
    ],
)
def test_slots_are_called_by_words(key: str, words: str) -> None:
    assert slot_words(key) == words
