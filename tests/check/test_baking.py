"""Baking: lightmaps have places and limits of their own, mirrored stacks are asked about."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests import shapes

from evenweave.check.finding import Severity
from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Tile
from evenweave.limits.limits import Limits
from evenweave.limits.sets import SetLimits
from evenweave.measure.measure import measure
from evenweave.measure.seams.kinds import island_lengths_m
from evenweave.mesh.asset import Asset
from evenweave.mesh.texturing import Slot, Textured, TextureImage
from evenweave.pipeline import rejudge, review

SQUARE = np.array([(0, 0), (1, 0), (1, 1), (0, 1)])
LIT = Limits(sets=(SetLimits("light", "lightmap"),))


def pair(second: tuple[float, float], *, mirrored: bool = False) -> Asset:
    """Return two squares of two materials; their second set "light" lies where it is asked."""
    parts = []
    for number, at in enumerate([(0.1, 0.1), second]):
        uv = 0.3 * SQUARE + (0.1, 0.1)
        if mirrored and number:
            uv[:, 0] = 0.5 - uv[:, 0]
        sheet = shapes.asset(
            np.column_stack([SQUARE, np.full(4, number)]), [range(4)], uv, parts=(f"p{number}",)
        )
        light = shapes.with_uv_set(sheet, "light", 0.3 * SQUARE + at, [0, 1, 2, 3])
        parts.append(shapes.with_material(light, f"m{number}"))
    return shapes.together(*parts)


def found(asset: Asset, limits: Limits, layout: str) -> dict[str, Severity]:
    (one,) = [one for one in review(asset, limits).layouts if one.layout.name == layout]
    return {finding.check: finding.severity for finding in one.findings}


def test_a_declared_lightmap_is_one_layout_of_all_materials_beside_the_textures():
    layouts = review(pair((0.6, 0.6)), LIT).layouts
    assert [one.layout.name for one in layouts] == ["m0", "m1", "light (lightmap)"]
    lightmap = layouts[-1]
    assert lightmap.layout.materials == ("m0", "m1")
    assert lightmap.measures.tile == Tile(256, 256)
    assert lightmap.limits.required_padding_px == 2
    assert [one.layout.name for one in review(pair((0.6, 0.6)), Limits()).layouts] == ["m0", "m1"]


def test_islands_may_not_share_a_place_in_a_lightmap():
    assert found(pair((0.1, 0.1)), LIT, "light (lightmap)")["lightmap-stack"] is Severity.FAULT
    assert found(pair((0.2, 0.1)), LIT, "light (lightmap)")["overlap"] is Severity.FAULT
    sound = found(pair((0.6, 0.6)), LIT, "light (lightmap)")
    assert set(sound) == {"coverage"}


def test_a_lightmap_keeps_the_padding_it_was_given():
    near = pair((0.1, 0.41))
    assert "padding" not in found(near, LIT, "light (lightmap)")
    wide = Limits(sets=(SetLimits("light", "lightmap", (("padding_px", 8.0),)),))
    assert "padding" in found(near, wide, "light (lightmap)")


def test_faces_without_light_are_a_fault():
    asset = shapes.together(pair((0.6, 0.6)), shapes.plane(part="lost"))
    assert found(asset, LIT, "light (lightmap)")["no-uvs"] is Severity.FAULT


def test_declaring_a_lightmap_afterwards_brings_its_layout():
    before = review(pair((0.6, 0.6)), Limits())
    assert [one.layout.name for one in rejudge(before, LIT).layouts][-1] == "light (lightmap)"


def test_a_first_set_that_is_a_lightmap_is_not_taken_for_textures():
    asset = pair((0.6, 0.6))
    turned = replace(asset, uv_sets=asset.uv_sets[::-1])
    layouts = review(turned, LIT).layouts
    assert [one.layout.uv_set for one in layouts] == ["uv", "uv", "light"]
    (chosen,) = build_layouts(turned, "light", lightmaps=("light",))
    assert chosen.name == "light (lightmap)"


@pytest.mark.parametrize(
    ("slot", "mirrored", "is_asked"),
    [("normal", True, True), ("normal", False, False), ("base colour", True, False)],
)
def test_mirrored_stacks_are_asked_about_only_under_a_normal_map(
    slot: str, *, mirrored: bool, is_asked: bool
):
    image = TextureImage("n.png", None, 512, 512)
    asset = pair((0.6, 0.6), mirrored=mirrored)
    textured = (
        Textured("m0", (Slot(slot, image, "uv"),)),
        Textured("m1", (Slot(slot, image, "uv"),)),
    )
    told = found(replace(asset, textured=textured), Limits(), "m0 + m1")
    assert ("mirrored-bake" in told) is is_asked
    assert told.get("mirrored-bake", Severity.NOTE) is Severity.NOTE


@pytest.mark.parametrize("is_cut", [True, False])
@pytest.mark.parametrize("is_smooth", [True, False])
def test_hard_edges_inside_and_seams_on_smooth_ground_are_told_apart(
    *, is_cut: bool, is_smooth: bool
):
    """Two squares side by side, 1 m each, cut apart in the texture or not."""
    position = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (2, 0, 0), (2, 1, 0)]
    faces = [(0, 1, 2, 3), (1, 4, 5, 2)]
    uv = 0.2 * np.array([(0, 0), (1, 0), (1, 1), (0, 1), (2, 0), (2, 1), (3, 0), (4, 0), (4, 1),
                         (3, 1)])  # fmt: skip
    asset = shapes.asset(
        position, faces, uv,
        uv_faces=[(0, 1, 2, 3), (6, 7, 8, 9) if is_cut else (1, 4, 5, 2)],
        normal=[(0, 0, 1), (0.6, 0, 0.8)],
        normal_faces=[(0,) * 4, (0 if is_smooth else 1,) * 4],
    )  # fmt: skip
    (layout,) = build_layouts(asset)
    hard, smooth = island_lengths_m(layout, measure(layout, asset, Tile(64, 64)).seams)
    assert hard.tolist() == ([1.0] if not is_cut and not is_smooth else [0.0] * len(hard))
    assert smooth.tolist() == ([1.0, 1.0] if is_cut and is_smooth else [0.0] * len(smooth))
