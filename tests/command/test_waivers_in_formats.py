"""Waived findings in JSON, CSV, SARIF and JUnit XML."""

import csv
import io
from collections import Counter
from pathlib import Path
from xml.etree import ElementTree

import pytest
from tests.command.squares import square
from tests.command.waived import REASON, first_pass, ran, result, sarif, waive

from evenweave.notes.notes_file import notes_path, read_notes


@pytest.fixture
def lantern() -> Path:
    return first_pass()


# JSON and CSV


def test_json_says_of_each_warning_whether_and_why_it_is_waived(lantern: Path) -> None:
    (file,) = result(lantern)["files"]
    store = read_notes(notes_path(lantern))
    told = {w["check"]: w for w in reversed(file["layouts"][0]["warnings"])}
    decision = {
        one.check: {"reason": one.reason, "who": "Mara", "when": one.when} for one in store.waivers
    }
    assert told["stretch"]["waived"] == decision["stretch"]
    assert told["stretch"]["waived_part"] is None
    density = told["density"]
    assert density["waived"] is None
    assert density["waived_part"] == {"islands": density["islands"][:2], **decision["density"]}
    assert (told["margin"]["waived"], told["margin"]["waived_part"]) == (None, None)
    assert file["notes"] == "lantern.obj.evenweave-notes.json"
    assert [one["state"] for one in file["waivers"]] == ["holds"] * 3
    assert file["waivers"][0]["islands"] == ["rib_1", "rib_2"]


def test_json_counts_open_and_waived_apart(lantern: Path) -> None:
    (file,) = result(lantern)["files"]
    (plain,) = result(lantern, "--ignore-waivers")["files"]
    assert file["counts"]["waived"] == {"fault": 1, "warning": 1, "note": 0}
    assert plain["counts"]["waived"] == {"fault": 0, "warning": 0, "note": 0}
    for one in (file, plain):
        for layout in one["layouts"]:
            for state, is_waived in (("open", False), ("waived", True)):
                found = Counter(
                    w["severity"] for w in layout["warnings"] if bool(w["waived"]) == is_waived
                )
                assert layout["counts"][state] == {
                    key: found[key] for key in ("fault", "warning", "note")
                }
    assert plain["notes"] is None
    assert plain["waivers"] == []


def test_islands_tell_open_and_waived_findings_apart(lantern: Path) -> None:
    (file,) = result(lantern)["files"]
    layout = file["layouts"][0]
    for island in layout["islands"]:
        told: dict[str, list[str]] = {"open": [], "waived": []}
        for finding in layout["warnings"]:
            if island["id"] in finding["islands"]:
                part = finding["waived_part"]
                is_waived = finding["waived"] or (part and island["id"] in part["islands"])
                told["waived" if is_waived else "open"].append(finding["check"])
        for state, checks in told.items():
            assert island[f"{state}_warnings"] == list(dict.fromkeys(checks))
        assert set(island["warnings"]) == {*told["open"], *told["waived"]}
    assert sum(bool(island["waived_warnings"]) for island in layout["islands"]) >= 4


def test_the_table_has_open_and_waived_findings_in_columns_of_their_own(
    lantern: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran(lantern, "--format", "csv")
    rows = {row["island"]: row for row in csv.DictReader(io.StringIO(capsys.readouterr().out))}
    assert (rows["rib_1"]["warnings"], rows["rib_1"]["waived"]) == ("", "overlap")
    assert (rows["rib_3"]["warnings"], rows["rib_3"]["waived"]) == ("density-range", "stretch")
    assert (rows["roof"]["warnings"].split()[0], rows["roof"]["waived"]) == ("margin", "")


# SARIF and JUnit


def test_sarif_suppresses_what_is_waived_and_nothing_else(lantern: Path) -> None:
    run = sarif(lantern)
    suppressed = [one for one in run["results"] if one["suppressions"]]
    assert [one["ruleId"] for one in suppressed] == ["overlap", "stretch"]
    (reason,) = suppressed[1]["suppressions"]
    assert (reason["kind"], reason["status"]) == ("external", "accepted")
    assert reason["justification"] == "A gradient"
    assert reason["properties"]["who"] == "Mara"
    (density,) = [one for one in run["results"] if one["ruleId"] == "density"]
    assert density["properties"]["waivers"][0].startswith("Waived on 2 of ")


def test_two_waivers_of_one_reason_are_two_suppressions() -> None:
    mesh = square(Path("a.obj"))
    waive(mesh, "coverage")
    waive(mesh, "coverage")
    (result_,) = sarif(mesh)["results"]
    assert [one["justification"] for one in result_["suppressions"]] == [REASON, REASON]


def test_junit_skips_a_case_whose_findings_are_all_waived(lantern: Path) -> None:
    ran(lantern, "--format", "junit", "--fail-on", "note", "--output", "out.xml")
    root = ElementTree.parse("out.xml").getroot()
    cases = {
        str(case.get("name")).split(":")[0]: case
        for case in root.iter("testcase")
        if str(case.get("classname")).endswith("brass")
    }
    skipped = cases["stretch"].find("skipped")
    assert skipped is not None
    assert str(skipped.get("message")).startswith("waived: A gradient (Mara, ")
    assert "rib_3" in str(cases["stretch"].findtext("system-out"))
    # Two overlaps, of which one is waived.
    assert cases["overlap"].find("skipped") is None
    assert "chain_1" in str(cases["overlap"].findtext("failure"))
    assert "This fault is waived: Never seen" in str(cases["overlap"].findtext("system-out"))
    assert "Waived on 2 of " in str(cases["density"].findtext("failure"))
    assert root.get("skipped") == str(len(list(root.iter("skipped"))))
