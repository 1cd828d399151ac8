"""Layouts follow what textures read: sets, transforms, shared images, and what needs no UVs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from tests import shapes

from evenweave.check.finding import Severity
from evenweave.layout.build import build_layouts
from evenweave.layout.unread import unread_sets
from evenweave.limits.limits import Limits
from evenweave.mesh.asset import Asset
from evenweave.mesh.texturing import Slot, Textured, TextureImage, UvTransform
from evenweave.pipeline import review, revise
from evenweave.trial.uvs.asset_uvs import asset_change, trial_asset
from evenweave.trial.uvs.corner_uvs import CornerUvs

SQUARE = [(0, 0), (1, 0), (1, 1), (0, 1)]


def slot(name: str, image: str, uv_set: str = "", **more: UvTransform) -> Slot:
    return Slot(name, TextureImage(image, width=512, height=512), uv_set, **more)


def box(material: str, at: tuple[float, float] = (0.1, 0.1), side: float = 0.3) -> Asset:
    """Return a sheet whose UVs are a square of the tile."""
    sheet = shapes.plane(part=f"{material} part")
    (uv_set,) = sheet.uv_sets
    uv = shapes._floats(np.array(SQUARE) * side + at, 2)
    moved = replace(uv_set, uv=uv, corner_uv=shapes._ints([0, 1, 2, 3]))
    return shapes.with_material(replace(sheet, uv_sets=(moved,)), material)


def bare(material: str) -> Asset:
    return shapes.with_material(
        shapes.asset(shapes.CUBE_POSITION, shapes.CUBE_FACES, parts=(f"{material} part",)), material
    )


def showing(asset: Asset, **slots: Sequence[Slot]) -> Asset:
    return replace(asset, textured=tuple(Textured(m, tuple(s)) for m, s in slots.items()))


def second_set(asset: Asset, name: str = "second") -> Asset:
    return shapes.with_uv_set(asset, name, np.array(SQUARE) * 0.5, [0, 1, 2, 3])


def told(asset: Asset, check: str) -> list[tuple[str, str]]:
    """Return the layout and severity of each finding of a check."""
    done = review(asset, Limits())
    return [
        (one.layout.name, found.severity.name.lower())
        for one in done.layouts
        for found in one.findings
        if found.check == check
    ]


def test_the_set_that_the_texture_reads_is_judged_and_the_other_listed():
    asset = showing(second_set(box("paint")), paint=[slot("base colour", "a.png", "second")])
    (layout,) = build_layouts(asset)
    assert (layout.name, layout.uv_set, layout.uv.max()) == ("paint", "second", 0.5)
    assert layout.reads() == "second for base colour"
    (left,) = unread_sets(asset, [layout])
    assert left.words() == "UV set uv of paint is not judged: no texture reads it."
    (chosen,) = build_layouts(asset, "uv")
    assert chosen.uv_set == "uv"
    assert unread_sets(asset, [layout, chosen]) == ()


def test_slots_that_read_two_sets_make_two_layouts_that_name_them():
    slots = [
        slot("base colour", "a.png", "uv"),
        slot("normal", "n.png", "uv"),
        slot("occlusion", "ao.png", "second"),
    ]
    layouts = build_layouts(showing(second_set(box("paint")), paint=slots))
    assert [one.name for one in layouts] == ["paint, uv", "paint, second"]
    assert [one.reads() for one in layouts] == [
        "uv for base colour, normal",
        "second for occlusion",
    ]


def test_materials_that_read_one_image_share_a_layout_and_overlap_in_it():
    def asset(other_image: str, at: tuple[float, float]) -> Asset:
        both = shapes.together(box("truck"), box("wheels", at, 0.25))
        return showing(
            both,
            truck=[slot("base colour", "a.png", "uv")],
            wheels=[slot("base colour", other_image, "uv")],
        )

    assert told(asset("a.png", (0.15, 0.1)), "overlap") == [("truck + wheels", "fault")]
    assert told(asset("a.png", (0.6, 0.1)), "overlap") == []
    assert told(asset("b.png", (0.15, 0.1)), "overlap") == []
    assert len(build_layouts(asset("b.png", (0.15, 0.1)))) == 2


def test_an_image_of_a_few_texels_stands_in_for_textures_and_joins_nothing():
    white = replace(slot("base colour", "white.png", "uv"), image=TextureImage("w", None, 4, 4))
    both = showing(shapes.together(box("a"), box("b")), a=[white], b=[white])
    assert [one.name for one in build_layouts(both)] == ["a", "b"]


def test_transforms_are_applied_by_material_where_an_image_is_shared():
    """Two unit squares laid on the halves of one atlas do not touch there."""
    both = shapes.together(box("left", (0, 0), 1), box("right", (0, 0), 1))

    def half(offset: float) -> UvTransform:
        return UvTransform.of((0.4, 0.9), 0.0, (offset, 0.05))

    asset = showing(
        both,
        left=[slot("base colour", "atlas.png", "uv", transform=half(0.05))],
        right=[slot("base colour", "atlas.png", "uv", transform=half(0.55))],
    )
    (layout,) = build_layouts(asset)
    corners = layout.uv[layout.corner_uv].reshape(2, 4, 2)
    np.testing.assert_allclose(corners[0].min(axis=0), [0.05, 0.05], atol=1e-7)
    np.testing.assert_allclose(corners[1].max(axis=0), [0.95, 0.95], atol=1e-7)
    assert told(asset, "overlap") == []
    assert layout.reads() == "uv for base colour, moved in 2 ways"
    moved = CornerUvs.of([5], np.array([[0.9, 0.05]]))
    change = asset_change(asset, layout, moved)
    np.testing.assert_allclose(change.uv, [[0.875, 0.0]], atol=1e-12)


def test_a_repeated_detail_is_no_layout_of_its_own():
    detail = slot("normal", "grain.png", "uv", transform=UvTransform.of((8, 8), 0, (0, 0)))
    asset = showing(box("paint"), paint=[slot("base colour", "a.png", "uv"), detail])
    (layout,) = build_layouts(asset)
    assert layout.reads() == "uv for base colour"
    (alone,) = build_layouts(showing(box("paint"), paint=[detail]))
    assert alone.uv.max() == pytest.approx(3.2)


def test_a_transform_that_leaves_nothing_is_taken_as_none():
    flat = slot("base colour", "a.png", "uv", transform=UvTransform.of((0, 0), 0, (0.5, 0.5)))
    (layout,) = build_layouts(showing(box("paint"), paint=[flat]))
    assert layout.uv.max() == pytest.approx(0.4)
    assert layout.transforms == ()


def test_a_set_that_is_read_and_not_there_is_told_with_its_name():
    asset = showing(box("paint"), paint=[slot("base colour", "a.png", "lost")])
    (layout,) = review(asset, Limits()).layouts
    (finding,) = [found for found in layout.findings if found.check == "no-uvs"]
    assert finding.severity is Severity.FAULT
    assert finding.variant == "unset"
    assert "lost" in finding.what


def test_a_material_that_no_texture_reads_needs_no_uvs_where_others_are_textured():
    asset = shapes.together(box("paint"), bare("glass"), bare("trim"))
    paint = [slot("base colour", "a.png", "uv")]
    assert told(showing(asset, paint=paint, glass=[], trim=[]), "no-uvs") == [
        ("glass + trim", "note")
    ]
    trim = [slot("base colour", "b.png", "uv")]
    assert told(showing(asset, paint=paint, glass=[], trim=trim), "no-uvs") == [
        ("glass", "note"),
        ("trim", "fault"),
    ]
    assert told(showing(shapes.together(box("paint"), box("glass")), paint=paint), "no-uvs") == []


def test_chance_uvs_of_an_untextured_material_are_listed_not_judged():
    asset = showing(
        shapes.together(box("paint"), box("glass", (0.9, 0.9))),
        paint=[slot("base colour", "a.png", "uv")],
        glass=[],
    )
    layouts = build_layouts(asset)
    assert [one.name for one in layouts] == ["paint"]
    (left,) = unread_sets(asset, layouts)
    assert (left.uv_set, left.materials) == ("uv", ("glass",))
    assert [one.name for one in build_layouts(asset, "uv")] == ["paint", "glass"]
    assert [one.name for one in build_layouts(asset, merged=(("paint", "glass"),))] == [
        "paint + glass"
    ]


def test_an_asset_without_textures_is_judged_as_if_nothing_was_said():
    asset = showing(shapes.together(box("paint"), box("glass")), paint=[], glass=[])
    assert [one.name for one in build_layouts(asset)] == ["paint", "glass"]


def test_an_asset_without_any_uvs_has_one_fault():
    asset = shapes.together(*(bare(f"m{k}") for k in range(59)))
    assert [severity for _, severity in told(asset, "no-uvs")] == ["fault"]
    textured = showing(asset, m0=[slot("base colour", "a.png", "uv")], m1=[])
    assert [severity for _, severity in told(textured, "no-uvs")] == ["fault"]


def test_a_change_reaches_every_layout_that_reads_the_set():
    half = UvTransform.of((0.5, 0.5), 0.0, (0.0, 0.0))
    slots = [
        slot("base colour", "a.png", "uv"),
        slot("normal", "atlas.png", "uv", transform=half),
    ]
    asset = showing(box("paint"), paint=slots)
    before = review(asset, Limits())
    assert [one.layout.name for one in before.layouts] == [
        "paint, uv (base colour)",
        "paint, uv (normal)",
    ]
    layout = before.layouts[0].layout
    moved = CornerUvs.of(np.arange(4), layout.uv[layout.corner_uv] + 0.25)
    after = revise(before, trial_asset(asset, layout, moved), {0})
    for one, scale in zip(after.layouts, (1.0, 0.5), strict=True):
        np.testing.assert_allclose(one.layout.uv.max(), 0.65 * scale, atol=1e-6)
