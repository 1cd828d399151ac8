"""Findings of a comparison that are waived in the new pass are told apart."""

import pytest
from tests import shapes
from tests.compare import edits

from evenweave.arrays import FloatArray
from evenweave.compare.comparison import Comparison, compare
from evenweave.limits.limits import Limits
from evenweave.notes.store import EMPTY, with_waiver
from evenweave.notes.waiving import apply_waivers, new_waiver
from evenweave.pipeline import Review, review
from evenweave.report.machine.compare_waivers import apart

LIMITS = Limits(severities=(("coverage", "off"),))


def shrunk(*islands: int) -> Review:
    """A cube some of whose islands have half the density."""

    def change(uv: FloatArray, island: int) -> FloatArray:
        return (uv - uv.mean(axis=0)) * 0.5 + uv.mean(axis=0) if island in islands else uv

    return review(edits.each_island(shapes.cube_pieces(), change).asset, LIMITS)


def told_apart(old: Review, new: Review, *waived: int) -> tuple[Comparison, set[str], set[str]]:
    """The comparison, and the standings of density that stay open and that are waived."""
    layout = new.layouts[0]
    density = next(w for w in layout.findings if w.check == "density")
    store = EMPTY
    if waived:
        store = with_waiver(store, new_waiver(layout, density, "meant", islands=waived))
    one, set_apart = apart(compare(old, new), apply_waivers(new, store))
    return (
        one,
        {f.standing for f in one.findings if f.finding.check == "density"},
        {f.standing for f, _ in set_apart if f.finding.check == "density"},
    )


@pytest.mark.parametrize(
    ("old", "new", "waived", "standing", "is_open"),
    [
        ((), (2, 3), (), "new", True),
        ((), (2, 3), (2,), "new", True),
        ((), (2, 3), (2, 3), "new", False),
        ((2,), (2, 3), (2,), "grown", True),
        ((2,), (2, 3), (3,), "grown", False),
        ((2, 3), (2, 3), (2,), "remaining", True),
        ((2, 3), (2, 3), (2, 3), "remaining", False),
    ],
)
def test_a_finding_is_waived_where_all_it_is_about_is(
    old: tuple[int, ...],
    new: tuple[int, ...],
    waived: tuple[int, ...],
    standing: str,
    is_open: bool,
) -> None:
    _, left, set_apart = told_apart(shrunk(*old), shrunk(*new), *waived)
    assert (left, set_apart) == (({standing}, set()) if is_open else (set(), {standing}))


def test_what_is_fixed_stays() -> None:
    old, new = shrunk(2, 3), shrunk(3)
    one, _, _ = told_apart(old, new, 3)
    whole = compare(old, new)
    fixed = [sum(f.standing == "fixed" for f in each.findings) for each in (one, whole)]
    assert fixed[0] == fixed[1]
    assert len(one.findings) == len(whole.findings) - 1
