"""Copies of USD files: a layer over the original, as OpenUSD's own library composes it."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from pxr import Sdf, Usd, UsdGeom
from tests.mesh.test_usd import QUAD, QUAD_ST, SHEET, written

from evenweave.errors import FileProblem
from evenweave.layout.build import build_layouts
from evenweave.mesh.asset import Asset
from evenweave.mesh.read import read
from evenweave.trial.save.save import Saved, save_copy
from evenweave.trial.uvs.asset_uvs import corner_values, trial_asset
from evenweave.trial.uvs.corner_uvs import CornerUvs

HEADER = (
    'metersPerUnit = 0.01\nupAxis = "Z"\ndefaultPrim = "m"\ncustomLayerData = {string who = "me"}'
)
SHIFT = np.array([0.25, 0.5])
ALL = [0, 1, 2, 3]


def moved(asset: Asset, corners: list[int]) -> Asset:
    layout = build_layouts(asset)[0]
    corner = np.array(corners, np.int32)
    uv = layout.uv[layout.corner_uv[corner]] + SHIFT
    return trial_asset(asset, layout, CornerUvs.of(corner, uv))


def saved(source: Path, corners: list[int], name: str = "copy.usda") -> Saved:
    asset = read(source)
    return save_copy(asset, moved(asset, corners), source.parent / name)


def composed(path: Path, prim: str = "/m") -> NDArray[np.float64]:
    """Return the flattened coordinates that OpenUSD's library gives a mesh."""
    stage = Usd.Stage.Open(str(path))
    mesh = UsdGeom.PrimvarsAPI(stage.GetPrimAtPath(prim))
    return np.array(mesh.GetPrimvar("st").ComputeFlattened(Usd.TimeCode.EarliestTime()))


@pytest.mark.parametrize("name", ["copy.usda", "copy.usdc", "copy.usd"])
def test_the_library_composes_the_new_coordinates(tmp_path: Path, name: str) -> None:
    source = written(tmp_path, f'def Mesh "m" {{ {QUAD} {QUAD_ST} }}', header=HEADER)
    before = source.read_bytes()
    done = saved(source, ALL, name)
    assert source.read_bytes() == before
    assert composed(done.files[0]) == pytest.approx(composed(source) + SHIFT, abs=1e-6)
    assert done.caveats == ("The copy is a layer over a.usda and needs that file in its place.",)
    binary = done.files[0].read_bytes().startswith(b"PXR-USDC")
    assert binary == (name != "copy.usda")


def test_the_stage_s_metadata_stays(tmp_path: Path) -> None:
    source = written(tmp_path, f'def Mesh "m" {{ {QUAD} {QUAD_ST} }}', header=HEADER)
    stage = Usd.Stage.Open(str(saved(source, ALL).files[0]))
    assert UsdGeom.GetStageMetersPerUnit(stage) == 0.01
    assert UsdGeom.GetStageUpAxis(stage) == "Z"
    assert stage.GetDefaultPrim().GetName() == "m"
    assert stage.GetRootLayer().customLayerData == {"who": "me"}


def test_the_layer_holds_nothing_but_the_primvar_that_changed(tmp_path: Path) -> None:
    body = f"""def Mesh "m" {{ {QUAD} {QUAD_ST}
        texCoord2f[] primvars:other = [(0,0), (1,0), (1,1), (0,1)] (interpolation = "vertex") }}
        def Mesh "still" {{ {QUAD} {QUAD_ST} }}"""
    done = saved(written(tmp_path, body), ALL)
    layer = Sdf.Layer.FindOrOpen(str(done.files[0]))
    assert list(layer.subLayerPaths) == ["./a.usda"]
    assert [prim.name for prim in layer.rootPrims] == ["m"]
    assert [spec.name for spec in layer.GetPrimAtPath("/m").properties] == [
        "primvars:st", "primvars:st:indices",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "written_kind"),
    [("texCoord2f[]", "texCoord2f[]"), ("float2[]", "float2[]"), ("texCoord2d[]", "texCoord2d[]"),
     ("double2[]", "double2[]"), ("half2[]", "float2[]"), ("texCoord2h[]", "texCoord2f[]")],
)  # fmt: skip
def test_vertex_coordinates_of_any_kind_become_those_of_corners(
    tmp_path: Path, kind: str, written_kind: str
) -> None:
    values = ", ".join(f"({x / 8},{y / 8})" for x, y in
                       ((0, 0), (2, 0), (4, 0), (0, 1), (2, 1), (4, 1), (2, 3)))  # fmt: skip
    body = f'{kind} primvars:st = [{values}] (interpolation = "vertex")'
    source = written(tmp_path, f'def Mesh "m" {{ {SHEET} {body} }}')
    # The triangle alone, so that a new seam arises.
    done = saved(source, [8, 9, 10])
    expected = composed(source)[[0, 1, 4, 3, 1, 2, 5, 4, 3, 4, 6]]
    expected[8:] += SHIFT
    assert composed(done.files[0]) == pytest.approx(expected, abs=1e-6)
    stage = Usd.Stage.Open(str(done.files[0]))
    primvar = UsdGeom.PrimvarsAPI(stage.GetPrimAtPath("/m")).GetPrimvar("st")
    assert (str(primvar.GetTypeName()), primvar.GetInterpolation()) == (written_kind, "faceVarying")


def test_holes_thin_faces_and_turned_faces_keep_their_coordinates_in_place(tmp_path: Path) -> None:
    body = """
        uniform token orientation = "leftHanded"
        point3f[] points = [(0,0,0), (2,0,0), (4,0,0), (0,1,0), (2,1,0), (4,1,0)]
        int[] faceVertexCounts = [2, 4, 4, 3]
        int[] faceVertexIndices = [0,1, 0,1,4,3, 1,2,5,4, 0,1,3]
        int[] holeIndices = [1]
        texCoord2f[] primvars:st = [(9,9), (8,8), (0,0), (1,0), (1,1), (0,1),
            (2,0), (3,0), (3,1), (2,1), (5,5), (6,5), (5,6)] (interpolation = "faceVarying")
    """
    source = written(tmp_path, f'def Mesh "m" {{ {body} }}')
    done = saved(source, [0, 1, 2, 3])
    expected = composed(source)
    expected[6:10] += SHIFT
    assert composed(done.files[0]) == pytest.approx(expected, abs=1e-6)


def test_indexed_coordinates_and_absent_ones_stay_what_they_are(tmp_path: Path) -> None:
    body = """
        texCoord2f[] primvars:st = [(0,0), (1,0), (1,0.5), (0,0.5), (7,7)]
            (interpolation = "faceVarying" unauthoredValuesIndex = 4)
        int[] primvars:st:indices = [0,1,2,3, 4,4,4,4, 3,2,0]
    """.replace(
        '(interpolation = "faceVarying" unauthoredValuesIndex = 4)',
        '(\ninterpolation = "faceVarying"\nunauthoredValuesIndex = 4\n)',
    ).replace("]\n            (", "] (")
    source = written(tmp_path, f'def Mesh "m" {{ {SHEET} {body} }}')
    asset = read(source)
    assert np.isnan(corner_values(asset.uv_sets[0])).any(axis=1).tolist() == (
        [False] * 4 + [True] * 4 + [False] * 3
    )
    done = saved(source, ALL)
    after = corner_values(read(done.files[0]).uv_sets[0])
    assert np.isnan(after[4:8]).all()
    assert after[:4] == pytest.approx(corner_values(asset.uv_sets[0])[:4] + SHIFT, abs=1e-6)


def test_moving_coordinates_stand_still_and_that_is_said(tmp_path: Path) -> None:
    body = """texCoord2f[] primvars:st (interpolation = "faceVarying")
        texCoord2f[] primvars:st.timeSamples = {
            1: [(0,0), (1,0), (1,1), (0,1)],
            2: [(0,0), (2,0), (2,2), (0,2)],
        }"""
    source = written(tmp_path, f'def Mesh "m" {{ {QUAD} {body} }}')
    done = saved(source, ALL)
    assert "Coordinates that moved in time stand still in the copy." in done.caveats
    assert composed(done.files[0])[2] == pytest.approx([1.25, 1.5])


def test_from_another_folder_the_original_is_found(tmp_path: Path) -> None:
    (tmp_path / "tried here").mkdir()
    source = written(tmp_path, f'def Mesh "m" {{ {QUAD} {QUAD_ST} }}')
    done = saved(source, ALL, "tried here/copy.usda")
    layer = Sdf.Layer.FindOrOpen(str(done.files[0]))
    assert list(layer.subLayerPaths) == ["../a.usda"]


INSTANCES = f"""
    def Xform "proto" {{ def Mesh "m" {{ {QUAD} {QUAD_ST} }} }}
    def "one" (instanceable = true
        references = </proto>) {{ }}
"""


def test_instances_are_refused_by_name(tmp_path: Path) -> None:
    source = written(tmp_path, INSTANCES)
    with pytest.raises(FileProblem, match="shown through an instance") as refused:
        saved(source, [4, 5, 6, 7])
    assert "/one/m" in str(refused.value)
    assert [path.name for path in tmp_path.iterdir()] == ["a.usda"]


def test_coordinates_of_three_numbers_are_refused_by_name(tmp_path: Path) -> None:
    body = (
        'texCoord3f[] primvars:st = [(0,0,0), (1,0,0), (1,1,0), (0,1,0)] (interpolation = "vertex")'
    )
    source = written(tmp_path, f'def Mesh "m" {{ {QUAD} {body} }}')
    with pytest.raises(FileProblem, match=r"st: it has the type texCoord3f\[\]"):
        saved(source, ALL)


def test_a_file_the_stage_is_composed_of_is_never_replaced(tmp_path: Path) -> None:
    part = written(tmp_path, f'def Mesh "m" {{ {QUAD} {QUAD_ST} }}', name="part.usda")
    source = written(tmp_path, "", header="subLayers = [@./part.usda@]")
    before = part.read_bytes()
    asset = read(source)
    with pytest.raises(FileProblem, match="composed of it"):
        save_copy(asset, moved(asset, ALL), part, replace=True)
    assert part.read_bytes() == before
