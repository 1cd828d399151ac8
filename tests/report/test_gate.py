"""Which warnings a baseline knows."""

from dataclasses import replace
from typing import Any

import pytest
from tests import shapes
from tests.compare import edits

from evenweave.arrays import FloatArray
from evenweave.check.finding import Severity
from evenweave.limits.limits import Limits
from evenweave.mesh.asset import Asset
from evenweave.notes.outcome import Outcome
from evenweave.pipeline import review
from evenweave.report.gate.gate import Gate, Judged, complaint, judged
from evenweave.report.machine.machine import Json, file_result, result

LIMITS = Limits(severities=(("coverage", "note"),))


def outcome(one: Asset, limits: Limits = LIMITS) -> Outcome:
    return Outcome(one.path, review=review(one, limits))


def shrunk(*islands: int) -> Asset:
    def change(uv: FloatArray, island: int) -> FloatArray:
        return (uv - uv.mean(axis=0)) * 0.5 + uv.mean(axis=0) if island in islands else uv

    return edits.each_island(shapes.cube_pieces(), change).asset


def against(now: Outcome, earlier: Json | None) -> Judged:
    return judged(now, Gate(Severity.NOTE, has_baseline=True, known=earlier))


def new_checks(one: Judged) -> set[str]:
    (layout,), (is_new,) = one.layouts, one.is_new
    return {w.check for w, new in zip(layout.findings, is_new, strict=True) if new}


def test_the_same_file_has_nothing_new() -> None:
    now = outcome(shrunk(2))
    assert now.review is not None
    assert now.review.layouts[0].findings
    assert not against(now, file_result(now)).is_failing


def test_without_a_baseline_or_in_a_file_it_does_not_know_all_is_new() -> None:
    now = outcome(shrunk(2))
    assert all(judged(now, Gate(Severity.NOTE)).is_new[0])
    assert all(against(now, None).is_new[0])


def test_another_island_under_the_same_check_is_new() -> None:
    earlier = file_result(outcome(shrunk(2)))
    assert "density" not in new_checks(against(outcome(shrunk(2)), earlier))
    assert "density" in new_checks(against(outcome(shrunk(2, 3)), earlier))
    assert "density" in new_checks(against(outcome(shrunk(3)), earlier))


def test_fewer_islands_under_the_same_check_are_known() -> None:
    earlier = file_result(outcome(shrunk(2, 3)))
    assert "density" not in new_checks(against(outcome(shrunk(3)), earlier))


def test_a_renamed_part_is_known_by_its_place() -> None:
    earlier = file_result(outcome(shrunk(2)))
    renamed = replace(shrunk(2), part_names=("box",))
    assert new_checks(against(outcome(renamed), earlier)) == set()


def test_a_graver_warning_is_new() -> None:
    stricter = replace(LIMITS, severities=(("density", "fault"),))
    earlier = file_result(outcome(shrunk(2)))
    now = against(outcome(shrunk(2), stricter), earlier)
    assert "density" in new_checks(now)


def test_an_overlap_of_other_islands_is_new_though_each_overlapped_before() -> None:
    cube = shapes.cube_pieces()
    apart = cube.uv_sets[0].uv.reshape(6, 4, 2).mean(axis=1)

    def laid(moves: dict[int, int]) -> Outcome:
        def change(uv: FloatArray, island: int) -> FloatArray:
            target = moves.get(island, island)
            return uv + apart[target] - apart[island] + 0.02 * (target != island)

        return outcome(edits.each_island(cube, change).asset)

    earlier = file_result(laid({0: 1, 2: 3}))
    assert "overlap" not in new_checks(against(laid({0: 1, 2: 3}), earlier))
    assert "overlap" in new_checks(against(laid({0: 3, 2: 1}), earlier))


@pytest.mark.parametrize(
    "damage",
    [
        lambda it: [],
        lambda it: {},
        lambda it: it | {"schema": 2},
        lambda it: it | {"files": None},
        lambda it: it | {"files": [{"path": 1, "layouts": []}]},
        lambda it: it | {"files": [it["files"][0] | {"layouts": [{"name": "x"}]}]},
    ],
)
def test_what_is_no_result_is_refused(damage: Any) -> None:
    sound = result([file_result(outcome(shrunk(2)))])
    assert complaint(sound) == ""
    assert complaint(damage(sound)) != ""
