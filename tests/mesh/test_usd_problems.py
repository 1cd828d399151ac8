"""USD files that cannot be read: one sentence that names the place."""

from __future__ import annotations

from pathlib import Path

import pytest

from evenweave.errors import FileProblem
from evenweave.mesh import usd


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
@pytest.mark.parametrize("content", ["", "not a stage", "PXR-USDC", "PK\3\4"])
def test_what_is_no_usd_file_is_said(tmp_path: Path, name: str, content: str) -> None:
    found = problem(written(tmp_path, content, name))
    assert found.place == ""
    assert found.cause.startswith("it is not a USD file or is damaged")
    assert "pxrInternal" not in found.cause
    assert str(tmp_path) not in found.cause


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    assert "not a USD file" in problem(tmp_path / "gone.usda").cause


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
