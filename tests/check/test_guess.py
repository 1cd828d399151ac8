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
from evenweave.limits import Limits
from evenweave.mesh.asset import Asset
from evenweave.mesh.texturing import Slot, Textured, TextureImage
from evenweave.pipeline import LayoutReview, review

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
