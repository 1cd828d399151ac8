"""The machine-readable result fits its schema and says the same as the review."""

import csv
import io
import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from tests import shapes

from evenweave import __version__
from evenweave.arrays import floats, frozen
from evenweave.check.finding import Severity
from evenweave.check.numbers import counted, density, number, printable, several, told_apart
from evenweave.errors import FileProblem
from evenweave.limits.limits import Importance, Limits
from evenweave.notes.outcome import Outcome
from evenweave.notes.waiver_words import verdict
from evenweave.pipeline import Review, review
from evenweave.places import resource
from evenweave.report.machine.machine import file_result, result, result_text
from evenweave.report.machine.table import COLUMNS, table_text
from evenweave.report.text.text import file_text, report_text

SCHEMA = json.loads(resource("result.schema.json").read_text(encoding="utf-8"))
PATH = Path("cube.obj")


@pytest.fixture(scope="module")
def judged() -> Review:
    limits = Limits(target_density=64.0, importance=(Importance("part", "*", 2.0),))
    return review(shapes.cube_pieces(), limits)


@pytest.fixture(scope="module")
def told(judged: Review) -> dict[str, Any]:
    return file_result(Outcome(PATH, judged))


def validate(files: list[dict[str, Any]]) -> None:
    validator = jsonschema.Draft202012Validator(SCHEMA)
    validator.validate(json.loads(result_text(files)))


def test_the_schema_is_valid_itself() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_a_result_fits_the_schema(told: dict[str, Any]) -> None:
    validate([told])


def test_every_key_of_a_result_stands_in_the_schema(told: dict[str, Any]) -> None:
    closed = json.loads(json.dumps(SCHEMA).replace('"additionalProperties": true',
                                                   '"additionalProperties": false'))  # fmt: skip
    jsonschema.Draft202012Validator(closed).validate(result([told]))


def test_a_file_that_could_not_be_read_fits_the_schema() -> None:
    problem = FileProblem(PATH, "line 3", "it ends too early", "export it again")
    unread = file_result(Outcome(PATH, problem=problem))
    validate([unread])
    assert unread["error"]["message"] == "cube.obj, line 3: it ends too early; export it again."
    assert unread["layouts"] == []


def test_the_head_names_version_and_schema(told: dict[str, Any]) -> None:
    head = result([told])
    assert (head["evenweave"], head["schema"]) == (__version__, 1)


def test_islands_carry_the_review_s_numbers(judged: Review, told: dict[str, Any]) -> None:
    (one,), (layout,) = judged.layouts, told["layouts"]
    island = one.measures.island
    assert len(layout["islands"]) == 6
    for i, row in enumerate(layout["islands"]):
        assert row["id"] == i
        assert row["name"] == one.layout.island_name[i]
        assert row["density"]["median"] == island.density_median[i]
        assert row["stretch"]["p95"] == island.stretch_p95[i]
        assert row["bounds"] == island.bounds[i].tolist()
        assert row["importance"] == 2.0
        assert row["uv_area"] == island.area_uv[i]
    assert layout["target_density"] == 64.0
    assert layout["target_is"] == "given"


def test_each_island_lists_the_checks_that_name_it(told: dict[str, Any]) -> None:
    (layout,) = told["layouts"]
    for row in layout["islands"]:
        naming = {w["check"] for w in layout["warnings"] if row["id"] in w["islands"]}
        assert set(row["warnings"]) == naming
        assert len(row["warnings"]) == len(naming)
    assert any(row["warnings"] for row in layout["islands"])


def test_what_cannot_be_measured_is_null(judged: Review) -> None:
    (one,) = judged.layouts
    endless = frozen(np.full(6, math.inf))
    gaps = replace(one.measures.gaps, padding_px=endless)
    nothing = replace(one.measures.island, stretch_p95=floats(np.full(6, math.nan)))
    measures = replace(one.measures, gaps=gaps, island=nothing)
    unmeasured = replace(
        judged,
        layouts=(replace(one, measures=measures, target_density=math.nan),),
    )
    told = file_result(Outcome(PATH, unmeasured))
    validate([told])
    (layout,) = told["layouts"]
    assert layout["target_density"] is None
    assert [row["padding_px"] for row in layout["islands"]] == [None] * 6
    assert [row["stretch"]["p95"] for row in layout["islands"]] == [None] * 6


def test_a_name_of_odd_bytes_comes_back_as_it_was(judged: Review) -> None:
    odd = Path("caf\udce9 \u2603.obj")
    text = result_text([file_result(Outcome(odd, judged))])
    assert json.loads(text.encode())["files"][0]["path"] == str(odd)


def test_the_table_has_one_line_an_island(judged: Review, told: dict[str, Any]) -> None:
    lines = list(csv.DictReader(io.StringIO(table_text([told]))))
    (one,) = judged.layouts
    assert [line["island"] for line in lines] == list(one.layout.island_name)
    assert [float(line["stretch_p95"]) for line in lines] == list(one.measures.island.stretch_p95)
    assert {line["udim"] for line in lines} == {"1001"}


def test_a_name_cannot_become_a_formula(judged: Review) -> None:
    (one,) = judged.layouts
    named = replace(one.layout, island_name=("=SUM(A1)", *one.layout.island_name[1:]))
    odd = replace(judged, layouts=(replace(one, layout=named),))
    first = next(csv.DictReader(io.StringIO(table_text([file_result(Outcome(PATH, odd))]))))
    assert first["island"] == "'=SUM(A1)"
    assert set(first) == set(COLUMNS)


def test_the_text_names_file_layout_and_every_finding(judged: Review) -> None:
    text = report_text([file_text(Outcome(PATH, judged))])
    flat = " ".join(text.split())
    (one,) = judged.layouts
    assert text.startswith("cube.obj\n")
    for finding in one.findings:
        assert finding.check in text
        assert " ".join(finding.what.split()) in flat
    assert max(map(len, text.splitlines())) <= 100


def test_the_full_text_also_explains(judged: Review) -> None:
    flat = " ".join(file_text(Outcome(PATH, judged), is_full=True).text.split())
    for finding in judged.layouts[0].findings:
        for words in (finding.why, finding.do, finding.how):
            assert " ".join(words.split()) in flat


def test_many_of_a_kind_are_cut_short_unless_explained(judged: Review) -> None:
    (one,) = judged.layouts
    many = replace(judged, layouts=(replace(one, findings=one.findings[:1] * 9),))
    start = f"\n    {one.findings[0].severity.name.lower():<9}{one.findings[0].check}"
    short = file_text(Outcome(PATH, many)).text
    assert short.count(start) == 6
    assert "4 more of this kind; --explain lists them all." in short
    assert file_text(Outcome(PATH, many), is_full=True).text.count(start) == 9


def test_several_files_end_in_one_line_that_counts(judged: Review) -> None:
    problem = FileProblem("gone.obj", "", "there is no such file", "check its name")
    text = report_text(
        [file_text(Outcome(PATH, judged)), file_text(Outcome(Path("gone.obj"), problem=problem))]
    )
    assert text.splitlines()[-1].startswith("2 files: ")
    assert text.endswith("; 1 file could not be read\n")
    assert "unread" in text


def test_verdicts_count_gravest_first() -> None:
    some = [Severity.NOTE, Severity.FAULT, Severity.FAULT, Severity.WARNING]
    assert verdict(some) == "2 faults, 1 warning, 1 remark"
    assert verdict([]) == "nothing to remark"
    assert verdict(some, waived=1200) == "2 faults, 1 warning, 1 remark; 1,200 waived"
    assert verdict([], waived=1) == "nothing open; 1 waived"


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        (number(1234.5), "1,234"),
        (number(0.031416), "0.0314"),
        (number(2.0), "2"),
        (number(-0.5), "-0.5"),
        (number(0.0), "0"),
        (number(1e-9), "1e-09"),
        (number(math.inf), "endless"),
        (number(math.nan), "unmeasured"),
        (counted(1, "face"), "1 face"),
        (counted(1200, "face"), "1,200 faces"),
        (density(512.0, "cm"), "5.12 texels per centimetre"),
        (several(["a"], 1), "a"),
        (several(["a", "b"], 2), "a and b"),
        (several(["a", "b", "c"], 3), "a, b and c"),
        (several(["a", "b", "c"], 9), "a, b, c and 6 more"),
        (printable("a\x1b[31m\udcff\n☃"), "a\\x1b[31m\\udcff\\n☃"),
    ],
)
def test_numbers_and_names_read_well(text: str, wanted: str) -> None:
    assert text == wanted


@pytest.mark.parametrize(
    ("value", "limit", "shown"),
    [
        (1.7, 1.5, ("1.7", "1.5")),
        (15.98, 16.0, ("15.98", "16")),
        (1.50001, 1.5, ("1.50001", "1.5")),
        (16.0, 16.0, ("16", "16")),
    ],
)
def test_a_value_is_told_apart_from_its_limit(
    value: float, limit: float, shown: tuple[str, str]
) -> None:
    assert told_apart(value, limit) == shown
