"""JUnit XML: well-formed whatever names hold, and counted right."""

from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from tests import shapes

from evenweave.check.catalogue import CHECKS
from evenweave.check.finding import Severity
from evenweave.errors import FileProblem
from evenweave.limits.limits import DEFAULT, Limits
from evenweave.mesh.read import read
from evenweave.notes.outcome import Outcome
from evenweave.pipeline import review
from evenweave.places import sample_assets
from evenweave.report.build_server.junit import junit_text, suite
from evenweave.report.gate.gate import Gate, judged


def parsed(*outcomes: Outcome, level: Severity = Severity.FAULT) -> ElementTree.Element:
    text = junit_text([suite(judged(one, Gate(level))) for one in outcomes])
    return ElementTree.fromstring(text)


def sample(name: str = "lantern_first_pass.obj", limits: Limits = DEFAULT) -> Outcome:
    return Outcome(Path(name), review=review(read(sample_assets() / name), limits))


@pytest.fixture(scope="module")
def first() -> Outcome:
    return sample()


def test_there_is_a_suite_a_file_and_a_case_for_each_check_of_each_layout(first: Outcome) -> None:
    root = parsed(first, first)
    assert root.tag == "testsuites"
    assert len(root) == 2
    for one in root:
        assert one.get("name") == "lantern_first_pass.obj"
        assert len(one.findall("testcase")) == 3 * len(CHECKS)
    where = {case.get("classname") for case in root.iter("testcase")}
    assert where == {f"lantern_first_pass.obj.{name}" for name in ("brass", "glass", "cork")}


@pytest.mark.parametrize("level", list(Severity))
def test_a_case_fails_where_a_warning_reaches_the_level(first: Outcome, level: Severity) -> None:
    assert first.review is not None
    expected = {
        (one.layout.name, finding.check)
        for one in first.review.layouts
        for finding in one.findings
        if finding.severity >= level
    }
    root = parsed(first, level=level)
    failed = {
        (str(case.get("classname")).split(".")[-1], str(case.get("name")).split(":")[0])
        for case in root.iter("testcase")
        if case.find("failure") is not None
    }
    assert failed == expected
    assert root.get("failures") == str(len(expected))


def test_what_does_not_fail_is_still_told(first: Outcome) -> None:
    cases = {
        str(case.get("name")).split(":")[0]: case
        for case in parsed(first).iter("testcase")
        if str(case.get("classname")).endswith("brass")
    }
    assert cases["bowed"].find("failure") is None
    assert "handle" in str(cases["bowed"].findtext("system-out"))


def test_counts_are_those_of_the_elements(first: Outcome) -> None:
    root = parsed(first, sample("lantern_second_pass.obj"))
    for one in root:
        for key, tag in (("tests", "."), ("failures", "failure"), ("skipped", "skipped")):
            assert one.get(key) == str(len(one.findall(f"testcase/{tag}")))
    assert root.get("tests") == str(len(list(root.iter("testcase"))))


def test_a_file_that_could_not_be_read_is_an_error() -> None:
    path = Path("broken.obj")
    problem = FileProblem(path, "", "it is broken", "export it again")
    root = parsed(Outcome(path, problem=problem))
    assert root.get("errors") == "1"
    error = root.find("testsuite/testcase/error")
    assert error is not None
    assert error.get("message") == "broken.obj: it is broken; export it again."


def test_checks_switched_off_or_not_asked_are_skipped() -> None:
    off = replace(DEFAULT, severities=(("bowed", "off"),), purposes=(("cork", "tiling"),))
    root = parsed(sample("lantern_second_pass.obj", off))
    skipped = {
        (str(case.get("classname")).split(".")[-1], str(case.get("name")).split(":")[0])
        for case in root.iter("testcase")
        if case.find("skipped") is not None
    }
    own_place = {("cork", check.id) for check in CHECKS if check.needs_own_place}
    assert skipped == {(name, "bowed") for name in ("brass", "glass", "cork")} | own_place


def test_control_characters_odd_bytes_and_markup_in_names_are_escaped() -> None:
    name = 'a\x00b\x1b[31m<&">\udcff\ufffe\x85'
    odd = replace(shapes.cube_pieces(), part_names=(name,), material_names=(name,))
    squeezed = shapes.textured(odd, lambda uv: uv * [1, 0.2])
    outcome = Outcome(Path(f"{name.replace(chr(0), '')}.obj"), review=review(squeezed, DEFAULT))
    root = parsed(outcome, level=Severity.NOTE)
    assert root.get("failures") != "0"
    names = {str(case.get("classname")) for case in root.iter("testcase")}
    assert all('a\\x00b\\x1b[31m<&">\\udcff\\ufffe\\x85' in one for one in names)
