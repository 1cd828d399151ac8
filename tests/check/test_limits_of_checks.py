"""Every check: silent on the sound layout, silent exactly at its limit, loud just beyond it."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from tests import shapes
from tests.check.builder import DENSITY, SIDE, found, one, sound

from evenweave.arrays import floats, frozen, ints
from evenweave.check.catalogue import CHECK_IDS
from evenweave.check.finding import Severity
from evenweave.check.run import judge
from evenweave.limits.limits import DEFAULT, Importance, Limits
from evenweave.limits.sets import SetLimits
from evenweave.mesh.asset import Asset
from evenweave.mesh.texturing import Slot, TextureImage

NOTE, WARNING, FAULT = Severity


def octaves_off(octaves: float) -> float:
    return DENSITY * 2.0**octaves


def overlap(area: float) -> dict[str, Any]:
    return {
        "pair": ints([(0, 1)]),
        "pair_area_px": floats([area]),
        "pair_point": floats([(0.5, 0.2)]),
        "pair_patch": (floats([(0.5, 0.2), (0.51, 0.2), (0.51, 0.21)]),),
    }


@dataclass(frozen=True)
class Case:
    """Changes to the sound layout that reach a limit (None: there is nothing at it) and pass it."""

    check: str
    severity: Severity
    value: float
    limit: float
    beyond: dict[str, Any]
    at: dict[str, Any] | None = None
    limits: Limits = DEFAULT
    worst: int = 2
    what: str = ""


MIP = Limits(mip_level=3)
RANKED = Limits(importance=(Importance("island", "ring", 2.0),), target_density=DENSITY)


def moved_to(size: float) -> Asset:
    """Return the sound asset's stand-in, as long as this."""
    return shapes.asset([(0, 0, 0), (size, 0, 0), (0, size / 2, 0)], [(0, 1, 2)])


def slot(side: int) -> Slot:
    return Slot("base colour", TextureImage("a.png", None, side, side))


CASES = [
    Case("no-uvs", FAULT, 2, 0, {"layout": {"missing_face": ints([0, 1])}}, worst=-1,
         what="This layout has 2 faces without UVs: door and roof."),
    Case("not-finite", FAULT, 1, 0, {"layout": {"unusable_face": ints([3])}}, worst=-1,
         what="1 face whose UVs are not numbers"),
    Case("degenerate", FAULT, 1, 0,
         {"triangle": {"is_degenerate": {4: True}, "area_px": {4: 0.0}}},
         what="ring has 1 face collapsed"),
    Case("degenerate", NOTE, 1, 0,
         {"triangle": {"is_degenerate": {4: True, 5: True}, "area_px": {4: 0.0, 5: 0.0},
                       "area_m2": {4: 0.0, 5: 0.0}}},
         at={"triangle": {"is_degenerate": {4: True}, "area_m2": {4: 0.0}}},
         what="ring has 1 face without any surface"),
    Case("outside-tile", FAULT, 0.5 * 2048, 0, {"island": {"bounds": {2: (1.05, 0.5, 1.5, 0.95)}}},
         at={"island": {"bounds": {2: (0.55, 0.55, 1.0, 1.0)}}}, what="ring lies outside"),
    Case("crosses-tile", FAULT, 0.25 * 2048, 0,
         {"island": {"bounds": {2: (0.8, 0.5, 1.25, 0.95)}}},
         at={"island": {"bounds": {2: (0.55, 0.0, 1.0, 0.45)}}}, what="ring sticks 512 texels out"),
    Case("overlap", FAULT, 12.5, 1e-3, {"overlap": overlap(12.5)}, {"overlap": overlap(1e-3)},
         worst=0, what="door and roof overlap by 12.5 square texels (none allowed)."),
    Case("self-overlap", FAULT, 3.0, 1e-3,
         {"overlap": overlap(3.0) | {"pair": ints([(2, 2)])}},
         {"overlap": overlap(1e-3) | {"pair": ints([(2, 2)])}}, what="overlaps itself by 3"),
    Case("padding", WARNING, 12.0, 16.0,
         {"gaps": {"padding_px": {2: 12.0}, "padding_to": {2: 3}}},
         {"gaps": {"padding_px": {2: 16.0}, "padding_to": {2: 3}}},
         what="ring is too close to base: 12 texels, 16 are wanted."),
    Case("padding", FAULT, 0.4, 16.0, {"gaps": {"padding_px": {2: 0.4}, "padding_to": {2: 3}}},
         what="less than one texel"),
    Case("margin", WARNING, 5.0, 8.0, {"gaps": {"margin_px": {2: 5.0}}},
         {"gaps": {"margin_px": {2: 8.0}}}, what="ring lies 5 texels from the tile's edge"),
    Case("margin", FAULT, 0.0, 8.0, {"gaps": {"margin_px": {2: 0.0}}}, what="less than one texel"),
    Case("mip", WARNING, 2, 3, {"mips": {"safe_mip": {2: 2}}}, {"mips": {"safe_mip": {2: 3}}},
         limits=MIP, what="level 3 is wanted"),
    Case("stretch", WARNING, 1.7, 1.5, {"island": {"stretch_p95": {2: 1.7}}},
         {"island": {"stretch_p95": {2: 1.5}}}, what="squares are 1.7 times longer"),
    Case("stretch", WARNING, 1.2, 1.15, {"island": {"stretch_median": {2: 1.2}}},
         {"island": {"stretch_median": {2: 1.15}}}, what="at least 1.2 times longer"),
    Case("density", WARNING, -1.0, 0.25, {"island": {"density_median": {2: octaves_off(-1.0)}}},
         {"island": {"density_median": {2: octaves_off(-0.25)}}},
         what="ring is half as sharp as this layout's median wants (1 octave below, limit 0.25): "
         "461 texels per metre in place of 922 texels per metre."),
    Case("density-range", WARNING, 1.0, 0.5, {"island": {"density_p95": {2: 2 * DENSITY}}},
         {"island": {"density_p95": {2: DENSITY * 2**0.5}}}, what="from 922 to 1,843 texels"),
    Case("density-step", NOTE, 0.75, 0.25, {"seams": {"density_step_octaves": {0: 0.75}}},
         {"seams": {"density_step_octaves": {0: 0.25}}}, worst=0,
         what="Along 1 m of seams density jumps by more than 0.25 octaves; most between door and "
         "roof, by 0.75."),
    Case("budget", WARNING, 1.0, 0.25, {"island": {"density_median": {2: octaves_off(-1.0)}}},
         {"island": {"density_median": {2: octaves_off(-0.25)}}}, limits=RANKED,
         what="ring (importance 2) has 461 texels per metre, less than door (importance 1)"),
    Case("flipped", WARNING, 1, 0,
         {"island": {"flipped_triangles": {2: 1}, "flipped_share": {2: 0.5}},
          "triangle": {"area_px": {4: -1.0}}},
         what="ring has 1 triangle facing"),
    Case("flipped", WARNING, 2, 0,
         {"island": {"flipped_triangles": {2: 2}, "flipped_share": {2: 1.0}},
          "triangle": {"area_px": {4: -1.0, 5: -1.0}}},
         what="ring is mirrored."),
    Case("tiny", WARNING, 3.0, 4.0, {"shape": {"short_side_px": {2: 3.0}}},
         {"shape": {"short_side_px": {2: 4.0}}}, what="The shorter side of ring is 3 texels"),
    Case("coverage", WARNING, 0.6, 0.7, {"coverage": {"total": 0.6, "share": floats([0.6])}},
         {"coverage": {"total": 0.7, "share": floats([0.7])}}, worst=-1,
         what="Islands cover 60 % of the tile; 70 % is wanted."),
    Case("hard-edge", WARNING, 0.5, 0.0,
         {"seams": {"hard_inside": ints([9]), "hard_inside_m": floats([0.5])}},
         {"seams": {"hard_inside": ints([9]), "hard_inside_m": floats([0.0])}},
         what="0.5 m of hard edges run through ring"),
    Case("fragment", NOTE, 0.4, 0.3,
         {"island": {"surface_m2": {2: 0.004}},
          "seams": {"fragment": {2: 3}, "fragment_share": {2: 0.4}}},
         {"island": {"surface_m2": {2: 0.008}},
          "seams": {"fragment": {2: 3}, "fragment_share": {2: 0.4}}},
         what="ring holds 0.1 % of the surface and shares 40 % of its outline with base"),
    Case("bowed", NOTE, 0.05, 0.02,
         {"shape": {"bow": {2: 0.05}, "strip_length_px": {2: 400.0}}},
         {"shape": {"bow": {2: 0.02}, "strip_length_px": {2: 400.0}}},
         what="ring, a strip of 400 texels, bends by 5 % of its length (limit 2 %)."),
    Case("stack", NOTE, 2, 1, {"stacks": {"group": ((2, 3),)}},
         what="2 equal islands lie exactly on each other: ring and base."),
    Case("tiling-hint", NOTE, 0.75, 0.5,
         {"island": {"bounds": {i: (i + 1.0, 0.0, i + 2.5, 1.0) for i in (1, 2, 3)}}},
         {"island": {"bounds": {i: (i + 1.0, 0.0, i + 2.5, 1.0) for i in (2, 3)}}}, worst=-1,
         what="75 % of the surface of brass lies on islands that repeat the tile"),
    Case("unit-hint", NOTE, 300, 100,
         {"subject": {"asset": moved_to(300.0)}}, {"subject": {"asset": moved_to(100.0)}},
         worst=-1, what="The asset is 300 m long at 1 m per unit, which the file does not say"),
    Case("unit-hint", NOTE, 0.0002, 0.001,
         {"subject": {"asset": moved_to(0.0002)}}, {"subject": {"asset": moved_to(0.001)}},
         worst=-1, what="The asset is 0.2 mm long at 1 m per unit"),
    Case("texture-size", WARNING, 1024, 2048,
         {"layout": {"slots": (slot(1024),)}}, {"layout": {"slots": (slot(2048),)}}, worst=-1,
         limits=Limits(tile_from_texture=False), what="The base colour of brass, a.png, has 1024"),
    Case("layout-density", WARNING, 1, 0.75,
         {"subject": {"own_density": 200.0, "asset_density": 100.0}},
         {"subject": {"own_density": 100 * 2**0.75, "asset_density": 100.0}}, worst=-1,
         what="brass has 200 texels per metre, where most of the asset has 100 texels per metre"),
    Case("lightmap-stack", FAULT, 2, 1, {"stacks": {"group": ((2, 3),)}},
         limits=Limits(sets=(SetLimits("uv", "lightmap"),)),
         what="2 islands lie exactly on others in a lightmap: ring and base."),
    Case("mirrored-bake", NOTE, 1, 0,
         {"layout": {"slots": (replace(slot(2048), name="normal"),)},
          "stacks": {"group": ((2, 3),), "is_mirrored": {3: True}}},
         {"layout": {"slots": (replace(slot(2048), name="normal"),)},
          "stacks": {"group": ((2, 3),)}},
         what="1 stack of mirrored islands share one normal map: ring and base."),
    Case("udim-hint", NOTE, 2, 1,
         {"layout": {"slots": ()},
          "island": {"bounds": {3: (1.525, 0.525, 1.975, 0.975)}, "tile": {3: (1, 0)}},
          "coverage": {"tile": ints([(0, 0), (1, 0)]), "share": floats([0.6, 0.4])}},
         {"layout": {"slots": ()},
          "island": {"bounds": {3: (1.525, 0.525, 1.975, 0.975)}, "tile": {3: (1, 0)}},
          "coverage": {"tile": ints([(0, 0), (1, 0)]), "share": floats([0.6, 0.39])}},
         worst=-1, what="Islands of brass fill 2 tiles, and are judged as lying in UDIM tiles."),
]  # fmt: skip


def named(case: Case) -> str:
    return f"{case.check} {case.severity.name.lower()}"


def test_the_sound_layout_is_sound() -> None:
    assert judge(sound()) == ()


def test_every_check_has_a_case() -> None:
    assert {case.check for case in CASES} == set(CHECK_IDS) - {"own-check"}


@pytest.mark.parametrize("case", CASES, ids=named)
def test_a_check_is_silent_exactly_at_its_limit(case: Case) -> None:
    assert found(sound(case.limits, **(case.at or {})), case.check) == []


@pytest.mark.parametrize("case", CASES, ids=named)
def test_a_check_beyond_its_limit_names_value_place_and_words(case: Case) -> None:
    finding = one(sound(case.limits, **case.beyond), case.check)
    assert finding.severity is case.severity
    assert finding.value == pytest.approx(case.value)
    assert finding.limit == pytest.approx(case.limit)
    assert finding.worst == case.worst
    assert case.what in finding.what
    assert all((finding.title, finding.why, finding.do, finding.how))
    assert "{" not in finding.what + finding.why + finding.do + finding.how
    if case.worst >= 0:
        assert case.worst in finding.islands
        assert np.isfinite(finding.points).all()


@pytest.mark.parametrize("case", CASES, ids=named)
def test_a_check_can_be_switched_off_and_its_severity_changed(case: Case) -> None:
    for word in ("off", "note", "fault"):
        limits = replace(case.limits, severities=((case.check, word),))
        told = found(sound(limits, **case.beyond), case.check)
        assert [w.severity.name.lower() for w in told] == ([] if word == "off" else [word])


def test_an_island_of_a_few_texels_is_no_other_fault() -> None:
    tiny = sound(shape={"short_side_px": {2: 3.0}})
    assert {w.check for w in judge(tiny)} == {"tiny"}


def test_values_are_told_for_every_island_named() -> None:
    finding = one(sound(island={"stretch_p95": {1: 1.6, 3: 1.9}}), "stretch")
    assert finding.islands == (1, 3)
    assert finding.values.tolist() == [1.6, 1.9]
    assert finding.worst == 3
    assert "2 islands are stretched (limit 1.5)" in finding.what
    assert "of base, squares are 1.9 times longer than wide, then come roof." in finding.what


def test_a_place_lies_inside_the_island_it_is_shown_for() -> None:
    finding = one(sound(island={"stretch_p95": {2: 1.7}}), "stretch")
    (u, v), *rest = finding.points
    assert not rest
    assert 0.025 < u < 0.025 + SIDE
    assert 0.525 < v < 0.525 + SIDE


def test_faces_beyond_the_limit_are_shown() -> None:
    stretched = sound(island={"stretch_p95": {2: 1.7}}, triangle={"s1": {4: 1.7 * DENSITY}})
    assert one(stretched, "stretch").faces.tolist() == [2]


def test_nothing_measurable_gives_no_finding_but_what_is_missing() -> None:
    nan = frozen(np.full(4, np.nan))
    scale = ("stretch_p95", "stretch_median", "density_median", "density_p5", "density_p95")
    lost = sound(
        island=dict.fromkeys(scale, nan),
        shape={"short_side_px": nan, "bow": nan},
        gaps={"padding_px": nan, "margin_px": nan},
    )  # fmt: skip
    assert judge(lost) == ()
