"""Write patches as OBJ (quads) and GLB (triangles, two UV sets)."""

from __future__ import annotations

import json
import struct
from itertools import groupby
from pathlib import Path

import numpy as np
from lantern_parts import Patch


def _number(row: np.ndarray) -> str:
    return " ".join("nan" if np.isnan(x) else f"{x + 0.0:.6f}" for x in row)


def write_obj(path: Path, patches: list[Patch]) -> None:
    """Write the patches, one object a part; equal positions and UVs are written once."""
    known: dict[str, dict[str, int]] = {"v": {}, "vt": {}}
    heads: list[str] = []
    body: list[str] = []

    def index(kind: str, row: np.ndarray) -> int:
        text = _number(row)
        table = known[kind]
        if text not in table:
            table[text] = len(table) + 1
            heads.append(f"{kind} {text}")
        return table[text]

    for part, group in groupby(patches, key=lambda p: p.part):
        body.append(f"o {part}")
        for patch in group:
            body.append(f"usemtl {patch.material}")
            vertex = [index("v", row) for row in patch.points]
            texture = [] if patch.set_aside else [index("vt", row) for row in patch.flat]
            smooth = None
            for face, s in zip(patch.faces, patch.smooth, strict=True):
                if s != smooth:
                    body.append(f"s {s}")
                    smooth = s
                body.append(
                    "f "
                    + " ".join(
                        f"{vertex[i]}/{texture[i]}" if texture else f"{vertex[i]}" for i in face
                    )
                )
    heads.sort(key=lambda line: line.startswith("vt"))
    text = "\n".join(["# the harbour lantern, in metres", *heads, *body])
    path.write_bytes((text + "\n").encode("ascii"))


def write_glb(path: Path, patches: list[Patch], lightmap: list[Patch]) -> None:
    """Write one node a part and one primitive a patch; v runs down in glTF."""
    blob = bytearray()
    views: list[dict] = []
    accessors: list[dict] = []
    materials = list(dict.fromkeys(p.material for p in patches))

    def accessor(array: np.ndarray, kind: str, component: int, target: int) -> int:
        views.append(
            {"buffer": 0, "byteOffset": len(blob), "byteLength": array.nbytes, "target": target}
        )
        entry = {
            "bufferView": len(views) - 1,
            "componentType": component,
            "count": len(array),
            "type": kind,
        }
        if kind == "VEC3":
            entry |= {"min": array.min(axis=0).tolist(), "max": array.max(axis=0).tolist()}
        blob.extend(array.tobytes())
        blob.extend(bytes(-len(blob) % 4))
        accessors.append(entry)
        return len(accessors) - 1

    nodes, meshes = [], []
    second = {(p.part, p.name): p for p in lightmap}
    for part, group in groupby(patches, key=lambda p: p.part):
        primitives = []
        for patch in group:
            triangles = [(f[0], f[i], f[i + 1]) for f in patch.faces for i in range(1, len(f) - 1)]
            # Rounded as in the OBJ, so that both files hold one lantern.
            points, uv, uv2 = (
                np.round(a, 6)
                for a in (patch.points, patch.flat, second[patch.part, patch.name].flat)
            )
            primitives.append(
                {
                    "attributes": {
                        "POSITION": accessor(points.astype("<f4"), "VEC3", 5126, 34962),
                        "TEXCOORD_0": accessor(_down(uv), "VEC2", 5126, 34962),
                        "TEXCOORD_1": accessor(_down(uv2), "VEC2", 5126, 34962),
                    },
                    "indices": accessor(
                        np.array(triangles, "<u2").reshape(-1), "SCALAR", 5123, 34963
                    ),
                    "material": materials.index(patch.material),
                }
            )
        meshes.append({"name": part, "primitives": primitives})
        nodes.append({"name": part, "mesh": len(meshes) - 1})
    scene = {
        "asset": {"version": "2.0", "generator": "make_lantern.py"},
        "scene": 0,
        "scenes": [{"name": "harbour lantern", "nodes": list(range(len(nodes)))}],
        "nodes": nodes,
        "meshes": meshes,
        "materials": [{"name": m} for m in materials],
        "buffers": [{"byteLength": len(blob)}],
        "bufferViews": views,
        "accessors": accessors,
    }
    text = json.dumps(scene, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 4)
    size = 12 + 8 + len(text) + 8 + len(blob)
    path.write_bytes(
        struct.pack("<4sII", b"glTF", 2, size)
        + struct.pack("<I4s", len(text), b"JSON")
        + text
        + struct.pack("<I4s", len(blob), b"BIN\0")
        + bytes(blob)
    )


def _down(uv: np.ndarray) -> np.ndarray:
    return np.stack([uv[:, 0], 1.0 - uv[:, 1]], axis=1).astype("<f4")
