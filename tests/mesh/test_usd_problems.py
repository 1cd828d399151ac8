"""USD files that cannot be read: one sentence that names the place."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest
from pxr import Usd

from evenweave.errors import FileProblem
from evenweave.mesh.usd import reader as usd


def problem(path: Path) -> FileProblem:
    with pytest.raises(FileProblem) as caught:
        usd.read(path)
    sentence = str(caught.value)
    assert sentence.startswith(path.name)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    assert len(sentence) < 300
    return caught.value


def written(folder: Path, text: str, name: str = "a.usda") -> Path:
    path = folder / name
    # USD wants every statement on a line of its own.
    path.write_text(text.replace("}", "\n}"), encoding="utf-8")
    return path


def test_broken_text_is_named_with_its_line(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path = written(tmp_path, '#usda 1.0\ndef Mesh "m" {\n    int[] faceVertexCounts = [3}\n')
    found = problem(path)
    assert found.place.startswith("line 4, ")
    assert found.cause == "it is not valid USD text"
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("name", ["a.usd", "a.usda", "a.usdc", "a.usdz"])
@pytest.mark.parametrize("content", ["", "not a stage", "PK\3\4"])
def test_what_is_no_usd_file_is_said(tmp_path: Path, name: str, content: str) -> None:
    found = problem(written(tmp_path, content, name))
    assert found.place == ""
    assert found.cause.startswith("it is not a USD file or is damaged")
    assert "pxrInternal" not in found.cause
    assert str(tmp_path) not in found.cause


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    assert problem(tmp_path / "gone.usda").cause == "it cannot be read (no such file or directory)"


def crate(folder: Path) -> tuple[Path, bytearray, int]:
    """Return a sound binary file, its bytes and where its table of contents starts."""
    path = folder / "a.usdc"
    text = f'#usda 1.0\ndef Mesh "m" {{ {QUAD} int[] faceVertexIndices = [0,1,2,3] }}\n'
    Usd.Stage.Open(str(written(folder, text))).Export(str(path))
    data = bytearray(path.read_bytes())
    return path, data, struct.unpack_from("<q", data, 16)[0]


def test_a_sound_binary_file_passes_the_glance_at_its_table(tmp_path: Path) -> None:
    assert usd.read(crate(tmp_path)[0]).face_count == 1


@pytest.mark.parametrize(
    ("at", "value", "place", "cause"),
    [
        (16, 10**12, "", "its table of contents is missing: the file was cut short"),
        (16, -1, "", "its table of contents is missing: the file was cut short"),
        ("table", 10**12, "", "its table of contents is damaged"),
        ("start", 10**12, "section 'TOKENS'", "it lies outside the file"),
        ("size", 10**12, "section 'TOKENS'", "it lies outside the file"),
    ],
)
def test_a_damaged_table_of_a_binary_file_is_refused_before_memory_is_asked_for(
    tmp_path: Path, at: int | str, value: int, place: str, cause: str
) -> None:
    path, data, table = crate(tmp_path)
    offset = {"table": table, "start": table + 24, "size": table + 32}.get(str(at), at)
    struct.pack_into("<q", data, int(offset), value)
    path.write_bytes(data)
    found = problem(path)
    assert (found.place, found.cause) == (place, cause)


def test_every_cut_of_a_binary_file_is_noticed(tmp_path: Path) -> None:
    path, data, _ = crate(tmp_path)
    for length in range(8, len(data), 97):
        path.write_bytes(data[:length])
        assert problem(path).path == str(path)


QUAD = """
    point3f[] points = [(0,0,0), (2,0,0), (2,1,0), (0,1,0)]
    int[] faceVertexCounts = [4]
"""


@pytest.mark.parametrize(
    ("body", "place", "cause"),
    [
        (
            f"{QUAD} int[] faceVertexIndices = [0,1,2,4]",
            "mesh '/m'",
            "index 4 is not among its 4 points",
        ),
        (
            f"{QUAD} int[] faceVertexIndices = [0,1,2,-1]",
            "mesh '/m'",
            "index -1 is not among its 4 points",
        ),
        (
            f"{QUAD} int[] faceVertexIndices = [0,1,2]",
            "mesh '/m'",
            "its faces have 4 corners, but 3 indices are given",
        ),
        (
            "point3f[] points = [(0,0,0)]; int[] faceVertexCounts = [4, -1] ; "
            "int[] faceVertexIndices = [0,0,0]",
            "mesh '/m'",
            "a face has a negative number of corners",
        ),
        (
            "point3f[] points = [(0,0,0)]; int[] faceVertexCounts = [2147483647, 2147483647] ; "
            "int[] faceVertexIndices = [0,0,0]",
            "mesh '/m'",
            "its faces have 4294967294 corners, but 3 indices are given",
        ),
        (
            "float[] points = [0, 0, 0]; int[] faceVertexCounts = [3] ; "
            "int[] faceVertexIndices = [0,1,2]",
            "mesh '/m', points",
            "groups of 3 numbers were expected",
        ),
        (
            'point3f[] points = [(0,0,0)]; string[] faceVertexCounts = ["a"]; '
            "int[] faceVertexIndices = [0]",
            "mesh '/m', faceVertexCounts",
            "whole numbers were expected",
        ),
        (
            f"{QUAD} int[] faceVertexIndices = [0,1,2,3]; "
            'uniform token[] xformOpOrder = ["xformOp:gone"]',
            "mesh '/m'",
            "it cannot be read (Invalid xform opType token 'gone')",
        ),
        ("", "", "it has no mesh with faces (meshes without points or faces are left out)"),
        (
            f'{QUAD} int[] faceVertexIndices = [0,1,2,3]; uniform token purpose = "guide"',
            "",
            "it has no mesh with faces (meshes of purpose guide are left out)",
        ),
        (
            f"{QUAD} int[] faceVertexIndices = [0,1,2,3]; int[] holeIndices = [0]",
            "",
            "it has no mesh with faces",
        ),
    ],
)
def test_what_is_wrong_with_a_mesh_is_named(
    tmp_path: Path, body: str, place: str, cause: str
) -> None:
    found = problem(written(tmp_path, f'#usda 1.0\ndef Mesh "m" {{ {body} }}\n'))
    assert (found.place, found.cause) == (place, cause)


def test_a_stage_without_meshes_is_said(tmp_path: Path) -> None:
    found = problem(written(tmp_path, "#usda 1.0\n"))
    assert found.cause == "it has no mesh with faces"


def test_instances_that_multiply_without_end_are_refused(tmp_path: Path) -> None:
    """Thirty-two levels of ten instances each, one prim at the bottom of each: 10^32 of these
    and 10 + 100 + ... + 10^32 instances."""
    levels = ['class "level_0" { def Xform "x" {} }']
    for level in range(1, 33):
        inner = "\n".join(
            f'def "i{n}" (instanceable = true; prepend references = </level_{level - 1}>) {{}}'
            for n in range(10)
        )
        levels.append(f'class "level_{level}" {{ {inner} }}')
    levels.append('def "all" (instanceable = true; prepend references = </level_32>) {}')
    found = problem(written(tmp_path, "#usda 1.0\n" + "\n".join(levels)))
    assert found.cause == "its instances unfold to 2.11e+32 prims"
