"""Names of parts and materials: distinct, printable, short."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from evenweave.mesh.caveats import Caveats
from evenweave.mesh.names import Distinct, cleaned, shortest_distinct

STEPS = st.lists(st.sampled_from(["a", "b", "c"]), min_size=1, max_size=4)


@settings(deadline=None, max_examples=100, derandomize=True)
@given(st.sets(STEPS.map(lambda steps: "/" + "/".join(steps)), max_size=12))
def test_the_shortest_names_are_distinct_ends_of_their_paths(paths: set[str]) -> None:
    names = shortest_distinct(sorted(paths))
    assert len(set(names.values())) == len(paths)
    assert all(path.endswith("/" + name) for path, name in names.items())


@settings(deadline=None, max_examples=100, derandomize=True)
@given(st.lists(st.sampled_from(["a", "a 2", "a 2 2", "a 3", ""])))
def test_given_names_are_distinct_and_begin_with_the_wanted_one(wanted: list[str]) -> None:
    distinct = Distinct()
    given_names = [distinct(name) for name in wanted]
    assert len(set(given_names)) == len(wanted)
    assert all(n.startswith(w) for n, w in zip(given_names, wanted, strict=True))


def test_a_name_is_kept_where_it_is_free() -> None:
    distinct = Distinct()
    assert [distinct(n) for n in ("pin", "pin", "pin 2", "pin")] == [
        "pin",
        "pin 2",
        "pin 2 2",
        "pin 3",
    ]


def test_what_cannot_be_shown_is_replaced() -> None:
    assert cleaned("Dach\n\tfirst \ud800ß ") == "Dach  first ?ß"


def test_remarks_are_said_once_with_how_often() -> None:
    caveats = Caveats()
    caveats.count("Lines are left out")
    caveats.say("One thing.")
    caveats.count("Lines are left out", 2)
    caveats.count("Points are left out", 0)
    caveats.say("One thing.")
    assert caveats.sentences() == ("Lines are left out (3).", "One thing.")
    assert caveats.reasons() == "lines are left out, one thing"
