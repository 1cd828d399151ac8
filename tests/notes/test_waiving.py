"""Waived warnings are counted apart, and open again when what was waived gets worse."""

from dataclasses import replace

import numpy as np
import pytest

from evenweave.check.finding import Finding
from evenweave.limits.limits import DEFAULT
from evenweave.mesh.read import read
from evenweave.notes.store import NoteStore, with_waiver
from evenweave.notes.waiver_words import status
from evenweave.notes.waiving import Waiving, apply_waivers, is_worse, new_waiver
from evenweave.pipeline import Review, review
from evenweave.places import sample_assets


@pytest.fixture(scope="module")
def first() -> Review:
    return review(read(sample_assets() / "lantern_first_pass.obj"), DEFAULT)


def found(done: Review, check: str, variant: str = "") -> Finding:
    return next(w for w in done.layouts[0].findings if (w.check, w.variant) == (check, variant))


def with_finding(done: Review, old: Finding, **changes: object) -> Review:
    """The review with another number in one warning."""
    brass = done.layouts[0]
    findings = tuple(replace(w, **changes) if w is old else w for w in brass.findings)  # type: ignore[arg-type]
    return replace(done, layouts=(replace(brass, findings=findings), *done.layouts[1:]))


def waived(done: Review, finding: Finding, **options: object) -> NoteStore:
    return with_waiver(NoteStore(), new_waiver(done.layouts[0], finding, "meant", **options))  # type: ignore[arg-type]


def checks(judged: Waiving) -> list[str]:
    return [one.finding.check for layout in judged.layouts for one in layout if one.is_waived]


def test_without_waivers_everything_is_open(first: Review) -> None:
    judged = apply_waivers(first, NoteStore())
    assert judged.waived_count == 0
    assert judged.worst_open == max(w.severity for one in first.layouts for w in one.findings)
    assert not any(one.is_waived for layout in judged.layouts for one in layout)


def test_every_warning_can_be_waived_and_stays_listed(first: Review) -> None:
    store = NoteStore()
    for one in first.layouts:
        for finding in one.findings:
            store = with_waiver(store, new_waiver(one, finding, "meant"))
    judged = apply_waivers(first, store)
    listed = [len(layout) for layout in judged.layouts]
    assert listed == [len(one.findings) for one in first.layouts]
    assert judged.waived_count == sum(listed)
    assert judged.worst_open is None
    assert (judged.adrift, judged.idle) == ((), ())


def test_each_waiver_waives_one_warning_and_no_other(first: Review) -> None:
    for finding in first.layouts[0].findings:
        judged = apply_waivers(first, waived(first, finding))
        assert [one.finding for one in judged.layouts[0] if one.is_waived] == [finding]


@pytest.mark.parametrize(
    ("check", "factor"),
    [("stretch", 1.2), ("padding", 0.5), ("density", 1.2), ("coverage", 0.8), ("overlap", 2.0)],
)
def test_what_gets_worse_is_open_again_and_what_gets_better_is_not(
    first: Review, check: str, factor: float
) -> None:
    finding = found(first, check)
    store = waived(first, finding)
    worse = {"value": finding.value * factor, "values": finding.values * factor}
    better = {"value": finding.value / factor, "values": finding.values / factor}
    little = 1.04 if factor > 1 else 0.96
    slightly = {"value": finding.value * little, "values": finding.values * little}
    again = apply_waivers(with_finding(first, finding, **worse), store)
    assert check not in checks(again)
    (outgrown,) = [w for one in again.layouts[0] for w in one.outgrown]
    assert outgrown.check == check
    assert check in checks(apply_waivers(with_finding(first, finding, **better), store))
    assert check in checks(apply_waivers(with_finding(first, finding, **slightly), store))


def test_some_islands_of_a_warning_may_be_waived(first: Review) -> None:
    finding = found(first, "density")
    some = finding.islands[:2]
    (one,) = [
        one
        for one in apply_waivers(first, waived(first, finding, islands=some)).layouts[0]
        if one.finding is finding
    ]
    assert (one.waived, one.open) == (some, finding.islands[2:])
    assert not one.is_waived


def test_an_island_that_has_got_worse_is_open_and_said_to_have_been_waived(first: Review) -> None:
    finding = found(first, "density")
    names = first.layouts[0].layout.island_name
    store = waived(first, finding, islands=finding.islands[:3])
    values = finding.values.copy()
    values[1] *= 1.2
    judged = apply_waivers(with_finding(first, finding, values=values), store)
    (one,) = [told for told in judged.layouts[0] if told.finding.check == "density"]
    a, b, c = finding.islands[:3]
    assert (one.waived, one.lapsed, one.outgrown) == ((a, c), (b,), ())
    assert b in one.open
    assert status(one, names)[1] == (f"Waived before on {names[b]} too, but worse there since")
    (healed,) = [
        told for told in apply_waivers(first, store).layouts[0] if told.finding.check == "density"
    ]
    assert healed.lapsed == ()


def test_a_mirrored_island_may_be_meant_and_its_folds_not(first: Review) -> None:
    mirrored, folded = found(first, "flipped", "mirrored"), found(first, "flipped")
    judged = apply_waivers(first, waived(first, mirrored))
    state = {one.finding: one.is_waived for one in judged.layouts[0]}
    assert state[mirrored]
    assert not state[folded]


def test_an_overlap_is_waived_between_the_same_islands_only(first: Review) -> None:
    finding = found(first, "overlap")
    other = replace(finding, islands=(finding.islands[0], 30), values=finding.values)
    judged = apply_waivers(with_finding(first, finding, islands=other.islands),
                           waived(first, finding))  # fmt: skip
    assert "overlap" not in checks(judged)


def test_a_waiver_of_what_the_next_pass_has_mended_is_idle(first: Review) -> None:
    second = review(read(sample_assets() / "lantern_second_pass.obj"), DEFAULT)
    finding = found(first, "stretch")
    judged = apply_waivers(second, waived(first, finding))
    assert judged.waived_count == 0
    assert [one.check for one in judged.idle] == ["stretch"]


def test_a_waiver_whose_layout_is_gone_is_adrift(first: Review) -> None:
    store = waived(first, found(first, "coverage"))
    renamed = replace(first, layouts=first.layouts[1:])
    assert [one.check for one in apply_waivers(renamed, store).adrift] == ["coverage"]


@pytest.mark.parametrize(
    ("limit", "then", "now", "worse"),
    [
        (1.5, 2.0, 2.1, False),
        (1.5, 2.0, 2.11, True),
        (16.0, 5.0, 4.75, False),
        (16.0, 5.0, 4.74, True),
        (0.25, -0.5, 0.6, True),
        (0.25, -0.5, 0.5, False),
        (0.0, 0.0, 1.0, True),
        (None, 3.0, 4.0, True),
        (1.5, None, 9.0, False),
        (1.5, 2.0, np.nan, False),
    ],
)
def test_worse_means_further_from_the_limit_by_more_than_tolerated(
    first: Review, limit, then, now, worse
) -> None:
    waiver = replace(new_waiver(first.layouts[0], found(first, "coverage"), ""), limit=limit)
    assert is_worse(now, then, waiver) is worse
