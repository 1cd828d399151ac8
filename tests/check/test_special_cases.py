"""Where checks speak to one another: stacks, tiling textures, UDIM, mirroring, importance."""

from typing import Any

import numpy as np
import pytest
from tests.check.builder import DENSITY, found, one, sound, under

from evenweave.arrays import floats, ints
from evenweave.check.finding import Severity
from evenweave.check.rules import sharing
from evenweave.check.run import judge
from evenweave.check.subject import Guess, Subject
from evenweave.limits.limits import Importance, Limits


def overlaps(*pairs: tuple[int, int, float], counted_at: int = 0) -> dict[str, Any]:
    return {
        "pair": ints([pair[:2] for pair in pairs]),
        "pair_area_px": floats([pair[2] for pair in pairs]),
        "pair_point": floats([(0.1 * row, 0.5) for row in range(len(pairs))]),
        "pair_patch": tuple(floats(np.zeros((0, 2))) for _ in pairs),
        "counted_at": counted_at,
    }


def checks(subject: Subject) -> list[str]:
    return [finding.check for finding in judge(subject)]


# Overlap and stacks


def test_each_overlapping_pair_is_a_warning_of_its_own_worst_first() -> None:
    told = found(sound(overlap=overlaps((0, 1, 3.0), (2, 3, 7.0))), "overlap")
    assert [(w.islands, w.value) for w in told] == [((2, 3), 7.0), ((0, 1), 3.0)]


def test_an_exact_stack_is_a_note_and_no_overlap() -> None:
    stacked = sound(stacks={"group": ((0, 1, 2),)}, overlap=overlaps((0, 1, 9e5), (1, 2, 9e5)))
    assert checks(stacked) == ["stack"]
    assert one(stacked, "stack").value == 3


def test_an_island_across_a_stack_is_one_warning_that_names_the_stack() -> None:
    stacked = sound(
        stacks={"group": ((0, 1, 2),)},
        overlap=overlaps((0, 3, 5.0), (1, 3, 5.0), (2, 3, 5.0)),
    )
    finding = one(stacked, "overlap")
    assert finding.islands == (0, 1, 2, 3)
    assert finding.value == 5.0
    assert "The stack of 3 islands at door and base overlap by 5 square texels" in finding.what


def test_a_stack_that_folds_over_itself_is_told_once_per_member_at_most() -> None:
    folded = sound(stacks={"group": ((0, 1),)}, overlap=overlaps((0, 0, 4.0), (1, 1, 4.0)))
    assert one(folded, "self-overlap").islands == (0, 1)


def test_a_nearly_aligned_stack_is_called_out_once_for_all_its_pairs() -> None:
    near = sound(
        stacks={"group": ((0, 1),), "misaligned": (((0, 2), 3.0),)},
        overlap=overlaps((0, 2, 800.0), (1, 2, 800.0)),
    )
    finding = one(near, "overlap")
    assert finding.title == "Stack not quite aligned"
    assert finding.islands == (0, 1, 2)
    assert "3 equal islands lie almost on each other, off by up to 3 texels" in finding.what
    assert finding.severity is Severity.FAULT


def test_a_nearly_aligned_stack_without_overlap_is_not_told() -> None:
    assert judge(sound(stacks={"misaligned": (((0, 2), 3.0),)})) == ()


def test_a_stack_of_mirrored_islands_says_so() -> None:
    mirrored = sound(stacks={"group": ((2, 3),), "is_mirrored": {3: True}})
    assert "1 of them mirrored" in one(mirrored, "stack").what


def test_more_pairs_than_can_be_read_end_in_one_warning(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sharing, "MOST_APART", 1)
    piled = sound(overlap=overlaps((0, 1, 3.0), (1, 2, 2.0), (2, 3, 1.0)))
    first, rest = found(piled, "overlap")
    assert first.islands == (0, 1)
    assert rest.islands == (1, 2, 3)
    assert rest.values.tolist() == [2.0, 2.0, 1.0]
    assert "2 pairs of islands overlap as well, roof and ring the most" in rest.what


def test_a_counted_overlap_says_how_it_was_counted() -> None:
    piled = sound(overlap=overlaps((0, 1, 3.0), counted_at=8192))
    assert "counted on a grid of 8,192 texels a side" in one(piled, "overlap").how
    assert ", exact." in one(sound(overlap=overlaps((0, 1, 3.0))), "overlap").how


def test_islands_that_overlap_are_not_also_told_to_lack_padding() -> None:
    both = sound(
        overlap=overlaps((0, 1, 3.0)),
        gaps={"padding_px": {0: 0.0, 1: 0.0}, "padding_to": {0: 1, 1: 0}},
    )
    assert checks(both) == ["overlap"]


def test_a_member_of_a_stack_that_an_island_lies_across_is_not_told_to_lack_padding() -> None:
    across = sound(
        stacks={"group": ((0, 1),)},
        overlap=overlaps((0, 2, 3.0)),
        gaps={"padding_px": {0: 0.0, 1: 0.0, 2: 0.0}, "padding_to": {0: 2, 1: 2, 2: 1}},
    )
    assert checks(across) == ["overlap", "stack"]


def test_islands_that_touch_at_a_point_lack_padding_and_do_not_overlap() -> None:
    touching = sound(gaps={"padding_px": {0: 0.0, 1: 0.0}, "padding_to": {0: 1, 1: 0}})
    finding = one(touching, "padding")
    assert checks(touching) == ["padding"]
    assert finding.title == "Islands touch"
    assert finding.islands == (0, 1)


# Tile, UDIM, tiling textures


def test_an_island_out_of_its_tile_is_not_also_told_to_lack_margin() -> None:
    crossing = sound(
        island={"bounds": {2: (0.8, 0.5, 1.25, 0.95)}}, gaps={"margin_px": {2: -512.0}}
    )
    assert checks(crossing) == ["crosses-tile"]


def test_other_udim_tiles_are_allowed_when_asked() -> None:
    moved: dict[str, Any] = {"bounds": {2: (1.1, 2.1, 1.55, 2.55)}, "tile": {2: (1, 2)}}
    assert checks(sound(island=moved)) == ["outside-tile"]
    assert checks(sound(Limits(udim=True), island=moved)) == []


@pytest.mark.parametrize(("tile", "is_udim"), [((9, 9), True), ((10, 0), False), ((-1, 0), False)])
def test_udim_has_ten_columns_numbered_1001_to_1100(tile: tuple[int, int], is_udim: bool) -> None:
    u, v = tile
    moved = {"bounds": {2: (u + 0.1, v + 0.1, u + 0.5, v + 0.5)}, "tile": {2: tile}}
    told = checks(sound(Limits(udim=True), island=moved))
    assert told == ([] if is_udim else ["outside-tile"])


def test_an_island_across_two_udim_tiles_crosses() -> None:
    crossing = sound(
        Limits(udim=True), island={"bounds": {2: (1.6, 0.1, 2.25, 0.5)}, "tile": {2: (1, 0)}}
    )
    assert one(crossing, "crosses-tile").value == 0.25 * 2048


def test_a_coordinate_of_six_decimals_at_the_edge_is_inside() -> None:
    assert checks(sound(island={"bounds": {2: (0.55, 0.5, 1.0000005, 0.95)}})) == []


def test_of_a_collapsed_island_nothing_is_said_of_its_room() -> None:
    collapsed = sound(
        island={"degenerate_triangles": {3: 2}},
        gaps={"margin_px": {3: 0.0}, "padding_px": {2: 0.0, 3: 0.0}, "padding_to": {2: 3, 3: 2}},
    )
    assert not {"margin", "padding"} & set(checks(collapsed))
    plain = sound(gaps={"margin_px": {3: 0.0}, "padding_px": {2: 0.0, 3: 0.0}})
    assert checks(plain) == ["padding", "margin"]


def test_less_than_a_texel_claimed_twice_is_a_remark_and_a_texel_a_fault() -> None:
    for area, severity in ((0.9, Severity.NOTE), (1.0, Severity.FAULT)):
        for pair in ((0, 1), (2, 2)):
            (told,) = judge(sound(overlap=overlaps((*pair, area))))
            assert told.severity is severity


ALL_AWAY = {"bounds": {i: (i + 1.0, 0.0, i + 2.5, 1.0) for i in range(4)}}


def test_islands_each_in_a_udim_tile_do_not_look_like_tiling() -> None:
    tiles = sound(
        island={
            "bounds": {i: (i + 0.1, 1.1, i + 0.9, 1.9) for i in range(4)},
            "tile": {i: (i, 1) for i in range(4)},
        }
    )
    assert not tiles.looks_tiling
    assert checks(tiles) == ["outside-tile"]
    assert "If the layout uses several UDIM tiles, allow them" in one(tiles, "outside-tile").do


def test_what_looks_like_tiling_is_said_once_instead_of_a_fault_for_each_place() -> None:
    away = sound(island=ALL_AWAY, gaps={"margin_px": {0: -2048.0}}, overlap=overlaps((0, 1, 9.0)))
    assert away.looks_tiling
    assert checks(away) == ["tiling-hint"]


def test_islands_that_stick_out_a_little_do_not_look_like_tiling() -> None:
    wide = sound(island={"bounds": dict.fromkeys(range(4), (0.0, 0.0, 1.01, 1.0))})
    assert not wide.looks_tiling
    assert one(wide, "crosses-tile").islands == (0, 1, 2, 3)


def test_an_island_over_many_tiles_looks_like_tiling() -> None:
    wide = sound(island={"bounds": dict.fromkeys(range(4), (0.0, 0.0, 5.0, 1.0))})
    assert wide.guess == Guess("outside", pytest.approx(1.0), is_plain=True)
    assert checks(wide) == ["tiling-hint"]


def test_texture_used_several_times_over_looks_like_tiling() -> None:
    piled = sound(coverage={"total": 0.2, "share": floats([0.2])})
    assert one(piled, "tiling-hint").what == (
        "75.3 % of the texture that brass uses is used more than once."
    )


def test_a_deliberate_stack_does_not_look_like_tiling() -> None:
    stacked = sound(
        stacks={"group": ((0, 1, 2, 3),)}, coverage={"total": 0.2025, "share": floats([0.2025])}
    )
    assert checks(stacked) == ["coverage", "stack"]


def test_a_stated_purpose_of_unique_brings_every_fault_back() -> None:
    unique = under(sound(island=ALL_AWAY), Limits(purposes=(("brass", "unique"),)))
    assert not unique.looks_tiling
    assert checks(unique) == ["outside-tile"]


def test_a_tiling_texture_is_asked_nothing_about_places_but_still_about_scale() -> None:
    tiling = sound(
        Limits(purposes=(("br*", "tiling"),)),
        island=ALL_AWAY | {"stretch_p95": {0: 2.0}, "flipped_triangles": {1: 2},
                           "flipped_share": {1: 1.0}},
        triangle={"area_px": {2: -1.0, 3: -1.0}},
        overlap=overlaps((0, 1, 9.0), (2, 2, 9.0)),
        gaps={"margin_px": {0: -5.0}, "padding_px": {0: 0.0}},
        coverage={"total": 0.1, "share": floats([0.1])},
        stacks={"group": ((2, 3),)},
    )  # fmt: skip
    assert checks(tiling) == ["stretch", "flipped"]


# Mirroring


def test_a_mirrored_island_is_a_note_where_mirrored_parts_are_allowed() -> None:
    mirrored = sound(
        Limits(mirrored=True),
        island={"flipped_triangles": {2: 2}, "flipped_share": {2: 1.0}},
        triangle={"area_px": {4: -1.0, 5: -1.0}},
    )
    assert one(mirrored, "flipped").severity is Severity.NOTE


def test_a_fold_in_a_mirrored_island_is_still_a_warning() -> None:
    island = {"triangles": {2: 3}, "flipped_triangles": {2: 2}, "flipped_share": {2: 0.9}}
    folded = sound(Limits(mirrored=True), island=island, triangle={"area_px": {4: -1.0}})
    fold, mirrored = found(folded, "flipped")
    assert (fold.severity, fold.value, fold.faces.tolist()) == (Severity.WARNING, 1, [2])
    assert mirrored.severity is Severity.NOTE


# Density and importance


def test_a_target_given_is_used_and_named() -> None:
    finding = one(sound(Limits(target_density=DENSITY / 2)), "density")
    assert finding.islands == (0, 1, 2, 3)
    assert finding.value == 1.0
    assert "2 times as sharp" in finding.what
    assert "the target you set" in finding.what


def test_densities_are_told_per_centimetre_when_asked() -> None:
    limits = Limits(target_density=DENSITY / 2, density_unit="cm")
    assert "9.22 texels per centimetre" in one(sound(limits), "density").what


def test_an_important_island_deserves_more() -> None:
    limits = Limits(importance=(Importance("part", "ring", 2.0),))
    finding = one(sound(limits), "density")
    assert finding.islands == (2,)
    assert finding.value == -1.0
    assert "this layout's median times importance 2" in finding.what


def test_the_median_is_that_of_what_importance_one_would_get() -> None:
    limits = Limits(importance=(Importance("part", "*", 2.0), Importance("part", "ring", 1.0)))
    served = sound(limits, island={"density_median": {2: DENSITY / 2}})
    assert served.target_density == DENSITY / 2
    assert judge(served) == ()


def test_an_island_of_no_importance_with_too_much_is_named_rather_than_all_others() -> None:
    limits = Limits(importance=(Importance("part", "ring", 0.5),), target_density=DENSITY)
    finding = one(sound(limits, island={"density_median": {2: 2 * DENSITY}}), "budget")
    assert finding.islands == (2,)
    assert finding.value == 1.0
    assert "ring (importance 0.5) has 1,843 texels per metre, more than door" in finding.what


def test_a_step_that_importance_asks_for_is_not_told() -> None:
    limits = Limits(importance=(Importance("part", "door", 2.0),))
    step = sound(
        limits,
        island={"density_median": {0: 2 * DENSITY}},
        seams={"density_step_octaves": {0: 1.0}},
    )
    assert checks(step) == []


def test_seam_lines_of_a_step_are_those_of_both_sides() -> None:
    lines = one(sound(seams={"density_step_octaves": {0: 1.0}}), "density-step").segments
    assert lines.ravel() == pytest.approx([0.475, 0.025, 0.475, 0.475, 0.525, 0.475, 0.525, 0.025])


def test_gravest_warnings_come_first() -> None:
    told = judge(
        sound(
            shape={"bow": {2: 0.05}, "strip_length_px": {2: 400.0}},
            island={"stretch_p95": {1: 2.0}},
            overlap=overlaps((0, 1, 3.0)),
        )
    )
    assert [w.check for w in told] == ["overlap", "stretch", "bowed"]
