"""Make the harbour lantern: `python sample_assets/make_lantern.py`.

A brass ship's lantern on a cork base, of plain geometry, in three files beside this script:

lantern_second_pass.obj  what a careful artist hands over
lantern_first_pass.obj   the same lantern with one planted problem after another
lantern.glb              the second pass, with a lightmap as a second UV set

`README.md` beside this script lists what is planted; `planted.toml` says the same to the tests.
"""

from __future__ import annotations

from pathlib import Path

from lantern_first_pass import spoil
from lantern_packing import pack
from lantern_parts import Patch, lantern
from lantern_writing import write_glb, write_obj

HERE = Path(__file__).resolve().parent
TEXELS = 2048
IMPORTANCE = {"chain": 0.5}  # as in evenweave.toml


def importance(patch: Patch) -> float:
    """The factor by which this part's texel density differs from the others'."""
    return next((f for name, f in IMPORTANCE.items() if patch.part.startswith(name)), 1.0)


def main() -> None:
    """Write the three files."""
    patches = lantern()
    placed = []
    for material in ("brass", "glass", "cork"):
        group = [p for p in patches if p.material == material]
        placed += pack(group, [importance(p) for p in group], gap=17.0 / TEXELS, edge=9.0 / TEXELS)
    lightmap = pack(placed, [1.0] * len(placed), gap=5.0 / 512, edge=3.0 / 512)
    write_obj(HERE / "lantern_second_pass.obj", placed)
    write_obj(HERE / "lantern_first_pass.obj", spoil(placed))
    write_glb(HERE / "lantern.glb", placed, lightmap)


if __name__ == "__main__":
    main()
