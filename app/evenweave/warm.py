"""Compile every kernel ahead of time, so that the first mesh opens as fast as the next.

Compiled kernels are kept on disk; running this again takes some seconds.
"""

from __future__ import annotations

import struct
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from evenweave.arrays import frozen
from evenweave.compare.comparison import compare
from evenweave.kernel_cache import forget_others
from evenweave.limits.limits import DEFAULT
from evenweave.measure.islands.spots import worst_spots
from evenweave.measure.overlap.overlap import counted_overlap
from evenweave.measure.space.mips import mip_picture
from evenweave.mesh.read import read
from evenweave.picture.pictures import PictureOptions, picture
from evenweave.pipeline import Review, review
from evenweave.places import sample_assets
from evenweave.progress import Progress, silent, within
from evenweave.raster.look import COLOURS, Look
from evenweave.trial.pack.pack import PackOptions, pack
from evenweave.trial.save.save import save_copy
from evenweave.trial.uvs.asset_uvs import trial_asset

_PLY_HEAD = """ply
format {format} 1.0
element vertex 3
property float x
property float y
property float z
property float s
property float t
element face 1
property list uchar int vertex_indices
end_header
"""
_ROWS = ((0.0, 0.0, 0.0, 0.1, 0.1), (1.0, 0.0, 0.0, 0.9, 0.1), (0.0, 1.0, 0.0, 0.1, 0.9))

_COLLADA = """<?xml version="1.0"?>
<COLLADA xmlns="http://www.collada.org/2005/11/COLLADASchema" version="1.4.1">
<library_geometries><geometry id="g"><mesh>
<source id="p"><float_array id="a" count="9">0 0 0 1 0 0 0 1 0</float_array><technique_common>
<accessor source="#a" count="3" stride="3"><param name="X" type="float"/>
<param name="Y" type="float"/><param name="Z" type="float"/></accessor></technique_common></source>
<vertices id="v"><input semantic="POSITION" source="#p"/></vertices>
<triangles count="1"><input semantic="VERTEX" source="#v" offset="0"/><p>0 1 2</p></triangles>
</mesh></geometry></library_geometries>
<library_visual_scenes><visual_scene id="s"><node id="n"><instance_geometry url="#g"/></node>
</visual_scene></library_visual_scenes><scene><instance_visual_scene url="#s"/></scene></COLLADA>
"""


def warm(progress: Progress = silent) -> None:
    """Read, review, draw, compare and pack small assets: that compiles every kernel."""
    progress(0.0, "reading")
    with TemporaryDirectory() as folder:
        for path in _written(Path(folder)):
            read(path)
    read(sample_assets() / "lantern.glb")
    asset = read(sample_assets() / "lantern_first_pass.obj")
    result = review(asset, DEFAULT, progress=within(progress, 0.2, 0.7))
    progress(0.7, "drawing")
    look = Look(checker=True, edges=True, ellipses=True)
    for colours in COLOURS:
        options = PictureOptions(look=replace(look, colours=colours), width=480, height=360)
        picture(result, options)
    for one in result.layouts:
        mip_picture(one.layout, one.measures.tile, 2)
        counted_overlap(one.layout, one.measures.tile, one.measures.stacks)
        worst_spots(one.layout, one.measures, "stretch", 3)
    compare(result, _grown(result))
    progress(0.9, "packing")
    _try_packing(result)
    forget_others()
    progress(1.0, "ready")


def _grown(result: Review) -> Review:
    """Return the review with all islands somewhere else, so that each must be looked for."""
    layouts = tuple(
        replace(one, layout=replace(one.layout, point_m=frozen(1.001 * one.layout.point_m)))
        for one in result.layouts
    )
    return replace(result, layouts=layouts)


def _try_packing(result: Review) -> None:
    """Pack the layout of fewest islands, and save that as a copy."""
    one = min(result.layouts, key=lambda one: one.layout.island_count)
    options = PackOptions(padding_px=16.0, margin_px=8.0, passes=1)
    found = pack(one.layout, one.measures.tile, options, stacks=one.measures.stacks)
    changed = trial_asset(result.asset, one.layout, found.change)
    with TemporaryDirectory() as folder:
        save_copy(result.asset, changed, Path(folder) / "copy.obj")


def _written(folder: Path) -> tuple[Path, ...]:
    """Write one triangle in the formats that no bundled asset has."""
    text, binary, document = (folder / name for name in ("text.ply", "binary.ply", "one.dae"))
    rows = "\n".join(" ".join(str(x) for x in row) for row in _ROWS)
    text.write_text(f"{_PLY_HEAD.format(format='ascii')}{rows}\n3 0 1 2\n", encoding="ascii")
    body = b"".join(struct.pack("<5f", *row) for row in _ROWS) + struct.pack("<B3i", 3, 0, 1, 2)
    binary.write_bytes(_PLY_HEAD.format(format="binary_little_endian").encode("ascii") + body)
    document.write_text(_COLLADA, encoding="ascii")
    return text, binary, document
