"""What a comparison says of known edits: states, figures, warnings, geometry, verdict."""

from dataclasses import replace
from typing import Literal

import numpy as np
import pytest
from tests import shapes
from tests.compare import edits

from evenweave.arrays import FloatArray
from evenweave.check.finding import Severity
from evenweave.compare.comparison import Comparison, compare
from evenweave.compare.findings import is_against
from evenweave.compare.verdict import judgement, senseless_count, verdict
from evenweave.errors import Cancelled
from evenweave.limits.file import read_limits
from evenweave.limits.limits import Limits
from evenweave.mesh.asset import Asset
from evenweave.mesh.read import read
from evenweave.pipeline import Review, review
from evenweave.places import sample_assets

LIMITS = Limits(tile_width=1024, tile_height=1024)


def reviewed(one: Asset) -> Review:
    return review(one, LIMITS)


def sheets() -> Asset:
    return shapes.tori(9)


def after(edit: edits.Edit, old: Asset | None = None) -> Comparison:
    return compare(reviewed(old or sheets()), reviewed(edit.asset))


def one_island(change: edits.Change) -> Comparison:
    """Compare the sheets with themselves, island 4 changed."""
    return after(edits.each_island(sheets(), lambda uv, i: change(uv, i) if i == 4 else uv))


@pytest.fixture(scope="module")
def passes() -> Comparison:
    limits = read_limits(sample_assets() / "evenweave.toml")
    first, second = (
        review(read(sample_assets() / f"lantern_{name}_pass.obj"), limits)
        for name in ("first", "second")
    )
    return compare(first, second)


def test_nothing_changed_is_said_so() -> None:
    same = after(edits.renamed(sheets()).then(edits.reordered))
    assert set(same.islands.state) == {"unchanged"}
    assert {one.standing for one in same.findings} <= {"remaining"}
    assert verdict(same).startswith("Unchanged: ")
    assert all(len(faces.face) == 0 for faces in same.new_faces)


@pytest.mark.parametrize("name", ["rewritten", "retriangulated"])
def test_another_format_or_other_triangles_change_nothing_in_flat_coordinates(name: str) -> None:
    cube = shapes.cube_pieces()
    assert set(after(getattr(edits, name)(cube), cube).islands.state) == {"unchanged"}


def test_a_move_is_told_in_texels() -> None:
    moved = one_island(lambda uv, _: uv + np.array((0.125, -0.25)))
    assert moved.islands.state == ("unchanged",) * 4 + ("moved",) + ("unchanged",) * 4
    assert moved.islands.offset_px[4] == pytest.approx((128, -256), abs=1e-3)
    assert moved.islands.scale[4] == pytest.approx(1)


@pytest.mark.parametrize("turn", [90.0, -30.0, 179.0])
def test_a_turn_is_told_in_degrees(turn: float) -> None:
    turned = one_island(lambda uv, _: edits.spun(uv, np.radians(turn)))
    assert turned.islands.state[4] == "turned"
    assert turned.islands.turn_degrees[4] == pytest.approx(turn, abs=1e-3)


def test_a_scale_is_told_as_a_factor_of_lengths() -> None:
    scaled = one_island(lambda uv, _: uv * 0.5)
    assert scaled.islands.state[4] == "scaled"
    assert scaled.islands.scale[4] == pytest.approx(0.5)
    before, now = scaled.figures["density_px_per_m"][4]
    assert now == pytest.approx(before / 2, rel=1e-4)
    before, now = scaled.figures["density_octaves"][4]
    assert now - before == pytest.approx(-1, abs=0.1)  # the layout's own median moved a little


def test_a_mirrored_island_is_told() -> None:
    mirrored = one_island(lambda uv, _: uv * [-1, 1] + [1, 0])
    assert mirrored.islands.state[4] == "mirrored"
    assert mirrored.islands.scale[4] == pytest.approx(1)


def test_another_flattening_is_told() -> None:
    assert one_island(lambda uv, _: uv**2).islands.state[4] == "re-flattened"


def test_squeezing_one_way_is_another_flattening() -> None:
    assert one_island(lambda uv, _: uv * [1, 0.8]).islands.state[4] == "re-flattened"


def test_a_cut_island_is_recut_and_its_pieces_are_not_added() -> None:
    cut = after(edits.cut(sheets(), 4))
    assert cut.islands.state == ("unchanged",) * 4 + ("re-cut",) + ("unchanged",) * 4


def test_islands_lost_and_added_are_told() -> None:
    one = sheets()
    fewer = edits.without(one, np.flatnonzero(one.face_part == 4)).asset
    lost = compare(reviewed(one), reviewed(fewer))
    assert lost.islands.state.count("lost") == 1
    assert not lost.islands.has_lost_uvs.any()
    added = compare(reviewed(fewer), reviewed(one))
    assert added.islands.state[-1] == "added"
    assert added.island_name(8) == "sheet 4"


def test_an_island_whose_coordinates_are_lost_is_told_from_one_taken_away() -> None:
    one = sheets()
    corner_face = np.repeat(np.arange(one.face_count), np.diff(one.face_start))
    is_bare = (one.face_part == 4)[corner_face]
    first = one.uv_sets[0]
    bare = edits.replace(
        one,
        uv_sets=(
            edits.replace(first, corner_uv=edits.ints(np.where(is_bare, -1, first.corner_uv))),
        ),
    )
    lost = compare(reviewed(one), reviewed(bare))
    assert lost.islands.state[4] == "lost"
    assert lost.islands.has_lost_uvs[4]
    assert all(len(faces.bare) == 0 for faces in lost.new_faces)  # the surface is not new


@pytest.mark.parametrize("uvs", ["none", "point"])
def test_a_late_bevel_is_found_and_its_faces_have_no_sensible_coordinates(
    uvs: Literal["none", "point"],
) -> None:
    one = sheets()
    edit, new = edits.bevelled(one, 12, uvs=uvs)
    late = after(edit)
    (faces,) = late.new_faces
    strips = new[::3]  # the ends of a cut-off edge may lie flat in the old surface
    layout = late.new.layouts[0].layout
    if uvs == "none":
        assert set(strips) <= set(faces.bare.tolist()) <= set(new)
    else:
        found = set(layout.asset_face[faces.senseless].tolist())
        assert set(strips) <= found <= set(new)
        assert len(faces.points) >= len(strips)
    assert senseless_count(late) >= len(strips)
    assert "new faces without sensible UVs" in verdict(late)


def test_islands_round_a_late_bevel_are_unchanged_unless_it_parts_them() -> None:
    late = after(edits.bevelled(sheets(), 4, uvs="none")[0])
    is_parted = np.bincount(late.match.piece[:, 0]) > 1
    assert late.islands.state == tuple("re-cut" if one else "unchanged" for one in is_parted)
    assert late.islands.state.count("unchanged") >= 6


def test_every_planted_problem_of_the_sample_is_fixed(passes: Comparison) -> None:
    assert {one.standing for one in passes.findings} == {"fixed"}
    assert judgement(passes) == "better"
    assert verdict(passes).startswith("Better: 8 faults, 13 warnings, 4 remarks fixed; ")


def test_what_was_planted_in_the_sample_is_told_in_numbers(passes: Comparison) -> None:
    row = {
        passes.old.layouts[layout].layout.island_name[island]: number
        for number in range(len(passes.match.new_of_old))
        for layout, island in [passes.old_place(number)]
    }
    state, scale = passes.islands.state, passes.islands.scale
    assert scale[row["door 2"]] == pytest.approx(2, rel=1e-3)  # right stile was at half the size
    assert scale[row["roof 2"]] == pytest.approx(1 / 0.7, rel=1e-3)
    assert scale[row["chain_6"]] == pytest.approx(1 / 2.2, rel=1e-3)
    assert state[row["rib_4"]] == "mirrored"
    assert state[row["rib_3"]] == state[row["handle"]] == state[row["font"]] == "re-flattened"
    assert state[row["cap 3"]] == state[row["cap 2"]] == "re-cut"
    assert state[row["hinge_lower"]] == "moved"
    assert state[row["base"]] == "unchanged"
    assert [passes.island_name(int(r)) for r in passes.rows_of("added")] == ["hinge_upper"]


def test_the_same_passes_the_other_way_round_are_worse(passes: Comparison) -> None:
    back = compare(passes.new, passes.old)
    assert judgement(back) == "worse"
    assert {one.standing for one in back.findings} == {"new"}
    assert is_against(back.findings[0], Severity.FAULT)
    assert back.islands.count("lost") == 1
    assert back.islands.has_lost_uvs[list(back.islands.state).index("lost")]


def test_figures_of_layouts_stand_side_by_side(passes: Comparison) -> None:
    glass = next(one for one in passes.layouts if one.name == "glass")
    coverage = glass.figures["coverage"]
    assert coverage.after == pytest.approx(4 * coverage.before, rel=0.01)
    assert coverage.has_changed
    assert not glass.figures["islands"].has_changed


def test_layouts_are_paired_by_surface_whatever_their_material_is_called(
    passes: Comparison,
) -> None:
    # Parts keep their names: the limits give the chain's another importance.
    asset = passes.old.asset
    renamed = edits.replace(asset, material_names=edits.renamed(asset).asset.material_names)
    again = compare(passes.old, review(renamed, passes.old.limits))
    assert [(one.old, one.new) for one in again.layouts] == [(0, 0), (1, 1), (2, 2)]
    assert {one.standing for one in again.findings} <= {"remaining"}


def test_a_warning_on_more_islands_has_grown_and_names_those() -> None:
    one = shapes.cube_pieces()

    def shrunk(*islands: int) -> Review:
        def change(uv: FloatArray, island: int) -> FloatArray:
            return uv * 0.5 if island in islands else uv

        return reviewed(edits.each_island(one, change).asset)

    grown = compare(shrunk(4), shrunk(4, 5))
    (density,) = [f for f in grown.findings if f.finding.check == "density"]
    assert (density.standing, density.islands) == ("grown", (5,))
    assert density.before is not None
    less = compare(shrunk(4, 5), shrunk(4))
    (density,) = [f for f in less.findings if f.finding.check == "density"]
    assert density.standing == "remaining"


def test_an_overlap_with_another_island_is_a_new_one() -> None:
    cube = shapes.cube_pieces()

    def onto(target: int) -> Review:
        apart = cube.uv_sets[0].uv.reshape(6, 4, 2).mean(axis=1)

        def change(uv: FloatArray, island: int) -> FloatArray:
            return uv + apart[target] - apart[0] + 0.02 if island == 0 else uv

        return reviewed(edits.each_island(cube, change).asset)

    changed = compare(onto(1), onto(2))
    overlaps = {f.standing: f.islands for f in changed.findings if f.finding.check == "overlap"}
    assert overlaps == {"fixed": (0, 1), "new": (0, 2)}
    assert judgement(changed) == "mixed"


def test_files_without_coordinates_can_be_compared() -> None:
    bare = edits.replace(sheets(), uv_sets=())
    come = compare(reviewed(bare), reviewed(sheets()))
    assert set(come.islands.state) == {"added"}
    assert {f.finding.check for f in come.findings if f.standing == "fixed"} == {"no-uvs"}
    assert compare(reviewed(bare), reviewed(bare)).islands.state == ()


def without_uvs(one: Asset) -> Asset:
    return replace(one, uv_sets=())


def test_a_file_without_coordinates_is_unchanged_beside_itself_whatever_its_material() -> None:
    bare = without_uvs(sheets())
    for other in (bare, replace(bare, material_names=tuple("x" for _ in bare.material_names))):
        one = compare(reviewed(bare), reviewed(other))
        assert judgement(one) == "unchanged"
        assert {found.standing for found in one.findings} == {"remaining"}
        assert [(change.old, change.new) for change in one.layouts] == [(0, 0)]


def test_warnings_that_went_with_their_coordinates_are_not_called_fixed() -> None:
    one = compare(reviewed(turned_over(sheets())), reviewed(without_uvs(sheets())))
    assert {found.standing for found in one.findings} == {"new", "gone"}
    assert all(found.is_past == (found.standing == "gone") for found in one.findings)
    assert judgement(one) == "worse"
    assert "gone with their UVs" in verdict(one)


def turned_over(one: Asset) -> Asset:
    """Every island mirrored."""
    return edits.each_island(one, lambda uv, _: uv * [-1.0, 1.0] + [1.0, 0.0]).asset


def test_meshes_that_have_nothing_in_common_are_called_so() -> None:
    other = shapes.cone()
    one = compare(reviewed(sheets()), reviewed(other))
    assert judgement(one) == "unrelated"
    assert verdict(one).startswith("Not comparable: too little of the surface is the same")


def test_comparing_can_be_cancelled() -> None:
    one = reviewed(sheets())

    def stop(share: float, doing: str) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        compare(one, one, stop)
