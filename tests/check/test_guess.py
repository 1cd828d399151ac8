"""What a layout seems to be made for is asked, as a remark; sound twins and plain faults stay.

Each case is built as an artist lays such a texture out: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from tests import shapes

from evenweave.check.finding import Severity
from evenweave.limits.limits import Importance, Limits
from evenweave.mesh.asset import Asset
from evenweave.mesh.texturing import Slot, Textured, TextureImage
from evenweave.pipeline import LayoutReview, rejudge, review

Box = tuple[float, float, float, float]


def sheets(boxes: Sequence[Box], image: str = "") -> Asset:
    """Return sheets apart in space, with the UV boxes (u0, v0, u1, v1), at 1 m a tile."""
    position, uv, faces = [], [], []
    for number, (u0, v0, u1, v1) in enumerate(boxes):
        square = np.array([(u0, v0), (u1, v0), (u1, v1), (u0, v1)])
        uv.append(square)
        position.append(np.column_stack([square, np.full(4, number)]))
        faces.append(range(4 * number, 4 * number + 4))
    asset = shapes.asset(np.vstack(position), faces, np.vstack(uv), materials=("paint",))
    if not image:
        return asset
    slot = Slot("base colour", TextureImage(image, width=2048, height=2048), "uv")
    return replace(asset, textured=(Textured("paint", (slot,)),))


def judged(asset: Asset, limits: Limits | None = None) -> LayoutReview:
    (layout,) = review(asset, limits or Limits()).layouts
    return layout


def hints(layout: LayoutReview) -> list[str]:
    """Return the questions asked, all of which are remarks."""
    found = [f for f in layout.findings if f.check in ("tiling-hint", "udim-hint")]
    assert all(finding.severity is Severity.NOTE for finding in found)
    return [finding.variant or finding.check for finding in found]


def faults(layout: LayoutReview) -> set[str]:
    return {f.check for f in layout.findings if f.severity is Severity.FAULT}


WALL = sheets([(0, 0, 8, 3), (0.1, 0.1, 4, 0.9)])


def test_a_repeated_wall_is_asked_about_and_nothing_else_is_held_against_it():
    wall = judged(WALL)
    assert hints(wall) == ["outside"]
    assert wall.looks_tiling
    assert faults(wall) == set()


@pytest.mark.parametrize("purpose", ["unique", "tiling"])
def test_a_stated_purpose_is_the_answer_and_ends_the_question(purpose: str):
    wall = judged(WALL, Limits(purposes=(("paint", purpose),)))  # type: ignore[arg-type]
    assert hints(wall) == []
    assert ("crosses-tile" in faults(wall)) is (purpose == "unique")


def test_an_island_that_only_straddles_the_border_is_a_fault_and_no_tiling():
    straddling = judged(sheets([(0.5, 0.1, 1.4, 0.9)]))
    assert hints(straddling) == []
    assert faults(straddling) == {"crosses-tile"}


TRIM = [
    *((0.02, 0.02, 0.02 + 0.3 * k, 0.2) for k in (1, 2, 3)),
    *((0.02, 0.3, 0.02 + 0.2 * k, 0.45) for k in (1, 2, 4)),
]


def test_a_trim_sheet_is_asked_about():
    trim = judged(sheets(TRIM))
    assert hints(trim) == ["bands"]
    assert faults(trim) == set()


def test_bands_across_the_other_way_are_recognised_too():
    assert hints(judged(sheets([(v0, u0, v1, u1) for u0, v0, u1, v1 in TRIM]))) == ["bands"]


def test_one_island_over_two_bands_makes_it_no_trim_sheet():
    crossing = judged(sheets([*TRIM, (0.1, 0.1, 0.2, 0.4)]))
    assert hints(crossing) == []
    assert "overlap" in faults(crossing)


def test_islands_in_bands_of_their_own_places_are_asked_nothing():
    apart = [(0.02 + 0.3 * k, 0.05, 0.2 + 0.32 * k, 0.2) for k in range(3)]
    apart += [(0.02 + 0.3 * k, 0.3, 0.22 + 0.31 * k, 0.45) for k in range(3)]
    assert hints(judged(sheets(apart))) == []


def cells(shrink: Sequence[float]) -> list[Box]:
    """Return islands in the lower two cells of a 2 x 2 atlas, each smaller by something."""
    return [
        (0.5 * (k % 2) + s, s, 0.5 * (k % 2) + 0.5 - s, 0.5 - 2 * s) for k, s in enumerate(shrink)
    ]


def test_an_atlas_of_cells_is_asked_about():
    atlas = judged(sheets(cells([0.01, 0.01, 0.02, 0.02, 0.03, 0.03])))
    assert hints(atlas) == ["grid"]
    assert faults(atlas) == set()


def test_an_overlap_by_accident_is_a_fault_and_no_question():
    pair = judged(sheets([(0.1, 0.1, 0.5, 0.5), (0.3, 0.3, 0.9, 0.9)]))
    assert hints(pair) == []
    assert faults(pair) == {"overlap"}


def test_a_pile_is_asked_about_and_its_overlaps_stay_faults():
    pile = judged(sheets([(0.1 + s, 0.1, 0.9, 0.9 - s) for s in (0.0, 0.01, 0.02, 0.03)]))
    assert hints(pile) == ["piled"]
    assert not pile.looks_tiling
    assert "overlap" in faults(pile)


TILES = [(0.02 + k, 0.02, 0.98 + k, 0.98 - 0.01 * k) for k in range(3)]


@pytest.mark.parametrize("image", ["skin.<UDIM>.png", "skin_1001.exr"])
def test_names_of_textures_switch_udim_on_without_a_question(image: str):
    layout = judged(sheets(TILES, image))
    assert layout.udim
    assert hints(layout) == []
    assert faults(layout) == set()
    assert len(layout.measures.coverage.tile) == 3


def test_islands_that_fill_further_tiles_are_taken_as_udim_and_asked_about():
    layout = judged(sheets(TILES))
    assert layout.udim
    assert hints(layout) == ["udim-hint"]
    assert faults(layout) == set()
    told = judged(sheets(TILES), Limits(udim=True))
    assert (told.udim, hints(told), faults(told)) == (True, [], set())


def test_a_plain_colour_of_a_few_texels_says_nothing_against_udim():
    asset = sheets(TILES, "white.png")
    (shown,) = asset.textured
    small = replace(shown.slots[0], image=TextureImage("white.png", None, 2, 2))
    layout = judged(replace(asset, textured=(Textured("paint", (small,)),)))
    assert layout.udim


def test_a_single_image_cannot_be_in_udim_tiles():
    layout = judged(sheets(TILES, "skin.png"))
    assert not layout.udim
    assert faults(layout) == {"outside-tile"}


def test_faces_that_each_show_a_whole_image_repeat_it():
    whole = judged(sheets([(k, 0, k + 1, 1) for k in range(6)], "crate.png"))
    assert hints(whole) == ["outside"]
    assert faults(whole) == set()


def test_copies_put_whole_tiles_away_are_no_udim():
    copies = judged(sheets([(0.1, 0.1, 0.9, 0.9), (1.1, 0.1, 1.9, 0.9)]))
    assert not copies.udim


def test_a_stray_island_outside_is_a_fault_and_no_udim():
    stray = judged(sheets([(0.02, 0.02, 0.98, 0.98), (3.1, 0.4, 3.3, 0.6)]))
    assert not stray.udim
    assert faults(stray) == {"outside-tile"}


def test_an_island_over_whole_udim_tiles_is_a_remark_and_one_that_sticks_out_a_fault():
    wide = judged(sheets([(0, 0, 10, 2)], "map.<UDIM>.jpg"))
    assert [f.variant for f in wide.findings if f.check == "crosses-tile"] == ["whole"]
    assert "crosses-tile" not in faults(wide)
    out = judged(sheets([(0.1, 0.1, 1.2, 0.9)], "map.<UDIM>.jpg"))
    assert faults(out) == {"crosses-tile"}


# Beside one another: densities of layouts, sizes of images


def two(first_tile: float, second_tile: float) -> Asset:
    """Return two materials with textures of their own, as many tiles a metre as given."""
    one, other = sheets([(0.1, 0.1, 0.9, 0.9)]), sheets([(0.1, 0.1, 0.9, 0.9)])
    one = replace(one, position=one.position / first_tile)
    other = replace(other, position=other.position / second_tile)
    return shapes.together(shapes.with_material(one, "body"), shapes.with_material(other, "lamp"))


def of_asset(asset: Asset, check: str, limits: Limits | None = None) -> list[tuple[str, str]]:
    done = review(asset, limits or Limits())
    return [
        (one.layout.name, finding.what)
        for one in done.layouts
        for finding in one.findings
        if finding.check == check
    ]


def test_a_layout_much_denser_than_the_rest_is_named_with_the_tile_that_would_match():
    ((name, what),) = of_asset(two(1.0, 4.0), "layout-density")
    assert name == "lamp"
    assert "8,192 texels per metre, where most of the asset has 2,048" in what
    assert "A tile of 512 × 512 texels, in place of 2048 × 2048" in what


def test_layouts_of_nearly_one_density_or_of_another_importance_are_not():
    assert of_asset(two(1.0, 1.5), "layout-density") == []
    important = Limits(importance=(Importance("material", "lamp", 4.0),))
    assert of_asset(two(1.0, 4.0), "layout-density", important) == []
    given = Limits(target_density=2048.0)
    assert of_asset(two(1.0, 4.0), "layout-density", given) == []


def with_images(sizes: Sequence[tuple[str, int, int]]) -> Asset:
    slots = [Slot(name, TextureImage(f"{name}.png", None, w, h), "uv") for name, w, h in sizes]
    asset = sheets([(0.1, 0.1, 0.9, 0.9)])
    return replace(asset, textured=(Textured("paint", tuple(slots)),))


def test_the_tile_takes_the_size_of_the_texture_where_nobody_gave_one():
    asset = with_images([("base colour", 512, 256)])
    taken = judged(asset)
    assert (taken.measures.tile.width, taken.measures.tile.height) == (512, 256)
    assert taken.limits.required_padding_px == 4
    assert of_asset(asset, "texture-size") == []
    given = Limits(tile_from_texture=False)
    assert judged(asset, given).measures.tile.width == 2048
    ((_, what),) = of_asset(asset, "texture-size", given)
    assert "512 × 256 texels, which is another shape than the tile of 2048 × 2048" in what


def test_unequal_images_are_a_remark_and_images_of_another_shape_a_warning():
    half = judged(with_images([("base colour", 512, 512), ("normal", 256, 256)]))
    ((_, variant, severity),) = [
        (f.check, f.variant, f.severity) for f in half.findings if f.check == "texture-size"
    ]
    assert (variant, severity) == ("slots", Severity.NOTE)
    wide = judged(with_images([("base colour", 512, 512), ("normal", 512, 256)]))
    assert [f.severity for f in wide.findings if f.variant == "shape"] == [Severity.WARNING]
    equal = judged(with_images([("base colour", 512, 512), ("normal", 512, 512)]))
    assert [f for f in equal.findings if f.check == "texture-size"] == []


def test_another_size_of_tile_measures_anew_only_what_it_changes():
    asset = with_images([("base colour", 512, 512)])
    before = review(asset, Limits())
    same = rejudge(before, Limits(coverage=0.1))
    assert same.layouts[0].measures is before.layouts[0].measures
    given = rejudge(before, Limits(tile_from_texture=False))
    assert given.layouts[0].measures.tile.width == 2048


def test_an_odd_size_is_asked_about_once_with_the_unit_that_would_make_sense():
    asset = two(1 / 300, 1 / 300)
    ((name, what),) = of_asset(asset, "unit-hint")
    assert name == "body"
    assert "if its unit is a centimetre, it is 2.4 m" in what
    assert of_asset(two(1.0, 1.0), "unit-hint") == []


def test_a_target_mixed_up_by_a_hundred_is_asked_about():
    ((_, what),) = of_asset(two(1.0, 1.0), "unit-hint", Limits(target_density=20.48))
    assert "100 times more than the target" in what
    assert of_asset(two(1.0, 1.0), "unit-hint", Limits(target_density=512)) == []
