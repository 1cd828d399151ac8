"""Which files an asset was read from, and whether they still hold what they held."""

from __future__ import annotations

import hashlib
from pathlib import Path

from pxr import UsdUtils
from tests.mesh.gltf_files import GltfFile

from evenweave.mesh.asset import Companion
from evenweave.mesh.companions import digest_of, files_of, is_as_read
from evenweave.mesh.read import read

TRIANGLE = """#usda 1.0
(
    defaultPrim = "m"
)
def Mesh "m" {
    point3f[] points = [(0,0,0), (1,0,0), (0,1,0)]
    int[] faceVertexCounts = [3]
    int[] faceVertexIndices = [0,1,2]
}
"""


def quad(path: Path, uri: str) -> Path:
    file = GltfFile()
    file.show(file.quad())
    (path.parent / "shape 1.dat").write_bytes(bytes(file.data))
    return file.gltf(path, uri)


def test_a_buffer_of_another_name_is_a_companion(tmp_path: Path) -> None:
    path = quad(tmp_path / "quad.gltf", "shape%201.dat")
    asset = read(path)
    buffer = tmp_path / "shape 1.dat"
    known = hashlib.sha256(buffer.read_bytes()).hexdigest()
    assert asset.companions == (Companion(buffer, known),)
    assert asset.digest == hashlib.sha256(path.read_bytes()).hexdigest()
    assert files_of(asset) == (path, buffer)
    assert is_as_read(asset)
    data = bytearray(buffer.read_bytes())
    data[0] ^= 1
    buffer.write_bytes(data)
    assert not is_as_read(asset)


def test_embedded_buffers_and_single_files_have_no_companions(tmp_path: Path) -> None:
    assert read(quad(tmp_path / "quad.gltf", "base64")).companions == ()
    obj = tmp_path / "a.obj"
    obj.write_text("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n")
    assert read(obj).companions == ()


def test_material_libraries_are_companions_also_where_they_are_missing(tmp_path: Path) -> None:
    obj = tmp_path / "a.obj"
    names = "mtllib other.mtl\nmtllib late.mtl\nmtllib /dev/zero\n# mtllib none.mtl\n"
    obj.write_text(names + "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n")
    (tmp_path / "other.mtl").write_text("newmtl brass\n")
    found = {one.path.name: one.digest for one in read(obj).companions}
    assert list(found) == ["other.mtl", "late.mtl", "zero"]
    assert found["other.mtl"] == digest_of(tmp_path / "other.mtl")
    assert found["late.mtl"] == found["zero"] == ""


def test_layers_of_a_stage_are_companions_also_where_they_are_missing(tmp_path: Path) -> None:
    (tmp_path / "parts").mkdir()
    for name in ("parts/sub.usda", "parts/payload.usda", "inner.usda"):
        (tmp_path / name).write_text(TRIANGLE)
    UsdUtils.CreateNewUsdzPackage(str(tmp_path / "inner.usda"), str(tmp_path / "packed.usdz"))
    root = tmp_path / "root.usda"
    root.write_text(
        '#usda 1.0\n(\n subLayers = [@./parts/sub.usda@, @./late.usda@]\n)\n'
        'def "a" (\n payload = @./parts/payload.usda@\n) {\n}\n'
        'def "b" (\n references = @./packed.usdz@\n) {\n}\n'
        'def "c" (\n references = @./gone.usda@\n) {\n}\n'
    )  # fmt: skip
    asset = read(root)
    found = {one.path: one.digest for one in asset.companions}
    names = ("parts/sub.usda", "parts/payload.usda", "packed.usdz", "late.usda", "gone.usda")
    assert found.keys() == {tmp_path / name for name in names}
    assert [found[tmp_path / name] for name in names[3:]] == ["", ""]
    assert is_as_read(asset)
    assert [caveat for caveat in asset.caveats if "late.usda" in caveat] == [
        "The file late.usda could not be opened and is left out."
    ]
    (tmp_path / "late.usda").write_text(TRIANGLE)
    assert not is_as_read(asset)


def test_a_deleted_file_is_not_as_it_was_read(tmp_path: Path) -> None:
    path = quad(tmp_path / "quad.gltf", "base64")
    asset = read(path)
    path.unlink()
    assert not is_as_read(asset)
