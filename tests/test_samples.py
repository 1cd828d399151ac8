"""The harbour lantern: what is planted in the first pass is found, and nothing in the second."""

import tomllib

import pytest

from evenweave.check.finding import Severity
from evenweave.limits.file import read_limits
from evenweave.mesh.read import read
from evenweave.pipeline import Grouping, Review, review
from evenweave.places import sample_assets

PLANTED = tomllib.loads((sample_assets() / "planted.toml").read_text(encoding="utf-8"))["planted"]


def reviewed(name: str, grouping: Grouping | None = None) -> Review:
    limits = read_limits(sample_assets() / "evenweave.toml")
    return review(read(sample_assets() / name), limits, grouping or Grouping())


@pytest.fixture(scope="module")
def first_pass() -> Review:
    return reviewed("lantern_first_pass.obj")


@pytest.mark.parametrize(
    "planted", PLANTED, ids=lambda p: f"{p['check']} on {p.get('part', 'layout')}"
)
def test_every_planted_problem_is_found(first_pass: Review, planted: dict[str, str]) -> None:
    names = first_pass.asset.part_names
    hit = set()
    for one in first_pass.layouts:
        for finding in one.findings:
            if finding.check != planted["check"]:
                continue
            hit |= {"material " + m for m in one.layout.materials}
            parts = {p for i in finding.islands for p in one.layout.island_parts[i]}
            parts |= {int(first_pass.asset.face_part[f]) for f in one.layout.missing_face}
            parts |= {int(first_pass.asset.face_part[f]) for f in one.layout.unusable_face}
            hit |= {"part " + names[p] for p in parts}
    wanted = f"part {planted['part']}" if "part" in planted else f"material {planted['material']}"
    assert wanted in hit


def test_a_careful_artists_pass_is_clean() -> None:
    second = reviewed("lantern_second_pass.obj")
    assert [w.what for one in second.layouts for w in one.findings] == []


def test_the_cork_of_the_first_pass_is_clean(first_pass: Review) -> None:
    cork = next(one for one in first_pass.layouts if one.layout.materials == ("cork",))
    assert cork.findings == ()


def test_gltf_and_obj_of_the_second_pass_agree() -> None:
    obj, glb = reviewed("lantern_second_pass.obj"), reviewed("lantern.glb")
    for a, b in zip(obj.layouts, glb.layouts, strict=True):
        assert a.layout.island_name == b.layout.island_name
        # The GLB's quads are cut along fixed diagonals, so bent ones measure a little differently.
        assert a.measures.island.stretch_p95 == pytest.approx(
            b.measures.island.stretch_p95, rel=0.02
        )
        assert a.measures.island.area_uv == pytest.approx(b.measures.island.area_uv, rel=1e-4)


def test_the_lightmap_holds_every_island_of_every_material_without_overlap() -> None:
    grouping = Grouping(uv_set="TEXCOORD_1", merged=(("brass", "glass", "cork"),))
    (one,) = reviewed("lantern.glb", grouping).layouts
    assert one.measures.overlap.area_px == pytest.approx(0.0, abs=1e-3)
    assert not any(w.severity is Severity.FAULT for w in one.findings)
