"""One object in four formats: the same islands and the same numbers."""

import json
import struct
from pathlib import Path

import numpy as np
import pytest

from evenweave.limits.limits import DEFAULT
from evenweave.mesh.read import read
from evenweave.pipeline import LayoutReview, review


def bent_strips() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Two curved strips with a seam between them: points, uv, triangles of each.

    All numbers are single precision, so that no format rounds them.
    """
    i, j = np.meshgrid(np.arange(9), np.arange(5), indexing="ij")
    angle = i * 0.35
    radius = 1.0 + 0.1 * j
    points = np.stack([radius * np.cos(angle), 0.3 * j, radius * np.sin(angle)], axis=-1)
    # Rows 0 to 2 are one island and rows 2 to 4 another: row 2 has two coordinates.
    low = np.stack([0.05 + 0.1 * i[:, :3], 0.1 + 0.12 * j[:, :3]], axis=-1)
    high = np.stack([0.05 + 0.08 * i[:, 2:], 0.55 + 0.1 * (j[:, 2:] - 2)], axis=-1)
    uv = np.concatenate([low.reshape(-1, 2), high.reshape(-1, 2)])
    point_faces, uv_faces = [], []
    for a in range(8):
        for b in range(4):
            quad = [(a, b), (a + 1, b), (a + 1, b + 1), (a, b + 1)]
            p = [x * 5 + y for x, y in quad]
            t = [x * 3 + y if b < 2 else 27 + x * 3 + y - 2 for x, y in quad]
            for pick in ((0, 1, 2), (0, 2, 3)):
                point_faces.append([p[k] for k in pick])
                uv_faces.append([t[k] for k in pick])
    single = np.float32
    return (
        points.reshape(-1, 3).astype(single).astype(float),
        uv.astype(single).astype(float),
        np.array(point_faces),
        np.array(uv_faces),
    )


def write_obj(path: Path) -> None:
    points, uv, faces, uv_faces = bent_strips()
    lines = [f"v {x!r} {y!r} {z!r}" for x, y, z in points.tolist()]
    lines += [f"vt {u!r} {v!r}" for u, v in uv.tolist()]
    for p, t in zip((faces + 1).tolist(), (uv_faces + 1).tolist(), strict=True):
        lines.append("f " + " ".join(f"{a}/{b}" for a, b in zip(p, t, strict=True)))
    path.write_text("\n".join(lines) + "\n")


def corners() -> tuple[np.ndarray, np.ndarray]:
    """The points and uvs of formats that keep one list: every corner on its own."""
    points, uv, faces, uv_faces = bent_strips()
    return points[faces.reshape(-1)], uv[uv_faces.reshape(-1)]


def write_ply(path: Path) -> None:
    points, uv = corners()
    head = ["ply", "format ascii 1.0", f"element vertex {len(points)}"]
    head += [f"property float {name}" for name in ("x", "y", "z", "s", "t")]
    head += [f"element face {len(points) // 3}", "property list uchar int vertex_indices"]
    rows = [
        " ".join(repr(x) for x in [*p, *t])
        for p, t in zip(points.tolist(), uv.tolist(), strict=True)
    ]
    faces = [f"3 {k} {k + 1} {k + 2}" for k in range(0, len(points), 3)]
    path.write_text("\n".join([*head, "end_header", *rows, *faces]) + "\n")


def write_glb(path: Path) -> None:
    points, uv = corners()
    down = np.stack([uv[:, 0], 1.0 - uv[:, 1]], axis=1).astype("<f4")
    blob = points.astype("<f4").tobytes() + down.tobytes()
    count = len(points)
    scene = {
        "asset": {"version": "2.0"},
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0, "TEXCOORD_0": 1}}]}],
        "buffers": [{"byteLength": len(blob)}],
        "bufferViews": [
            {"buffer": 0, "byteLength": 12 * count},
            {"buffer": 0, "byteOffset": 12 * count, "byteLength": 8 * count},
        ],
        "accessors": [
            {
                "bufferView": 0,
                "componentType": 5126,
                "count": count,
                "type": "VEC3",
                "min": points.min(axis=0).tolist(),
                "max": points.max(axis=0).tolist(),
            },
            {"bufferView": 1, "componentType": 5126, "count": count, "type": "VEC2"},
        ],
    }
    text = json.dumps(scene).encode()
    text += b" " * (-len(text) % 4)
    size = 28 + len(text) + len(blob)
    path.write_bytes(
        struct.pack("<4sII", b"glTF", 2, size)
        + struct.pack("<I4s", len(text), b"JSON")
        + text
        + struct.pack("<I4s", len(blob), b"BIN\0")
        + blob
    )


def write_usd(path: Path) -> None:
    from pxr import Gf, Sdf, Usd, UsdGeom, Vt

    points, uv, faces, uv_faces = bent_strips()
    stage = Usd.Stage.CreateNew(str(path))
    UsdGeom.SetStageMetersPerUnit(stage, 1.0)
    UsdGeom.SetStageUpAxis(stage, UsdGeom.Tokens.y)
    mesh = UsdGeom.Mesh.Define(stage, "/strips")
    mesh.CreatePointsAttr([Gf.Vec3f(*p) for p in points.tolist()])
    mesh.CreateFaceVertexCountsAttr([3] * len(faces))
    mesh.CreateFaceVertexIndicesAttr(faces.reshape(-1).tolist())
    primvar = UsdGeom.PrimvarsAPI(mesh).CreatePrimvar(
        "st", Sdf.ValueTypeNames.TexCoord2fArray, UsdGeom.Tokens.faceVarying
    )
    primvar.Set(Vt.Vec2fArray([Gf.Vec2f(*t) for t in uv.tolist()]))
    primvar.SetIndices(Vt.IntArray(uv_faces.reshape(-1).tolist()))
    stage.Save()


WRITERS = {"obj": write_obj, "ply": write_ply, "glb": write_glb, "usda": write_usd}


@pytest.fixture(scope="module")
def reviews(tmp_path_factory: pytest.TempPathFactory) -> dict[str, LayoutReview]:
    folder = tmp_path_factory.mktemp("formats")
    found = {}
    for suffix, write in WRITERS.items():
        path = folder / f"strips.{suffix}"
        write(path)
        (found[suffix],) = review(read(path), DEFAULT).layouts
    return found


@pytest.mark.parametrize("suffix", ["ply", "glb", "usda"])
def test_the_islands_are_those_of_the_obj(reviews: dict[str, LayoutReview], suffix: str) -> None:
    obj, other = reviews["obj"].layout, reviews[suffix].layout
    assert obj.island_count == 2
    assert np.array_equal(obj.face_island, other.face_island)


# glTF keeps 1 - v in single precision, which rounds v by up to 2^-25.
@pytest.mark.parametrize(("suffix", "tolerance"), [("ply", 0.0), ("usda", 0.0), ("glb", 2e-5)])
def test_the_numbers_are_those_of_the_obj(
    reviews: dict[str, LayoutReview], suffix: str, tolerance: float
) -> None:
    obj, other = reviews["obj"].measures, reviews[suffix].measures
    for table in ("island", "gaps", "shape"):
        for name in vars(getattr(obj, table)):
            ours, theirs = getattr(getattr(obj, table), name), getattr(getattr(other, table), name)
            if name.endswith("_points"):
                continue  # of equally near places any may be named
            np.testing.assert_allclose(
                theirs, ours, rtol=tolerance, atol=0.1 * tolerance, err_msg=name
            )
    assert obj.seams.length_m.sum() == pytest.approx(other.seams.length_m.sum())
    assert obj.overlap.area_px == other.overlap.area_px == 0.0
    assert obj.coverage.total == pytest.approx(other.coverage.total, abs=1e-6)
    assert [w.check for w in reviews["obj"].findings] == [w.check for w in reviews[suffix].findings]
