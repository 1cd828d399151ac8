"""JUnit XML, as build servers read it: a suite for each file, a case for each check of a layout.

There is no standard of this format; the elements used here are those that the common servers
agree on (common practice, no source): testsuites, testsuite, testcase, failure, error, skipped,
system-out, system-err, properties.

A case all of whose findings are waived is skipped, with the reasons as its message: servers count
skipped cases apart from passed and failed ones and show the message in their lists, while what a
passed case writes to system-out is found only by whoever opens it (common practice, no source).
What is waived beside something open is told in system-out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree

from evenweave.check.catalogue import all_checks
from evenweave.check.subject import Check
from evenweave.check.texts import title
from evenweave.notes.waiver_words import file_properties, signed, status
from evenweave.notes.waiving import JudgedFinding
from evenweave.report.gate.gate import Judged
from evenweave.report.text.text import MARK


@dataclass(frozen=True)
class Suite:
    """One file's suite as text, and what is counted over all."""

    text: str
    tests: int
    failures: int
    errors: int
    skipped: int


def suite(judged: Judged) -> Suite:
    """Return the suite of one file."""
    name = _text(str(judged.outcome.path))
    element = ElementTree.Element("testsuite", name=name)
    if judged.outcome.review is None:
        case = ElementTree.SubElement(element, "testcase", classname=name, name="read the file")
        problem = _text(str(judged.outcome.problem))
        ElementTree.SubElement(case, "error", message=problem, type="unreadable").text = problem
    else:
        properties = ElementTree.SubElement(element, "properties")
        for key, value in file_properties(judged.outcome).items():
            ElementTree.SubElement(properties, "property", name=key, value=_text(value))
        for number in range(len(judged.layouts)):
            for check in all_checks():
                element.append(_case(check, number, judged, name))
        if judged.outcome.notes_problem is not None:
            problem = _text(str(judged.outcome.notes_problem))
            ElementTree.SubElement(element, "system-err").text = problem
    counts = {
        "tests": len(element.findall("testcase")),
        "failures": len(element.findall("testcase/failure")),
        "errors": len(element.findall("testcase/error")),
        "skipped": len(element.findall("testcase/skipped")),
    }
    for key, count in counts.items():
        element.set(key, str(count))
    element.set("time", "0")
    return Suite(ElementTree.tostring(element, encoding="unicode"), **counts)


def junit_text(suites: Sequence[Suite]) -> str:
    """Put the suites of all files together."""
    counts = {
        key: sum(getattr(one, key) for one in suites)
        for key in ("tests", "failures", "errors", "skipped")
    }
    told = " ".join(f'{key}="{count}"' for key, count in counts.items())
    body = "\n".join(one.text for one in suites)
    head = '<?xml version="1.0" encoding="UTF-8"?>'
    return f'{head}\n<testsuites name="Evenweave" {told}>\n{body}\n</testsuites>\n'


def _case(check: Check, number: int, judged: Judged, suite_name: str) -> ElementTree.Element:
    layout = judged.layouts[number]
    where = _text(layout.layout.name) or "no material"
    case = ElementTree.Element(
        "testcase",
        classname=f"{suite_name}.{where}",
        name=f"{check.id}: {_text(title(check.id))}",
        time="0",
    )
    if reason := _unasked(check, number, judged):
        ElementTree.SubElement(case, "skipped", message=reason)
        return case
    told = [
        (standing, judged.fails(number, place))
        for place, standing in enumerate(judged.outcome.standings[number])
        if standing.finding.check == check.id
    ]
    failing = [standing for standing, fails in told if fails]
    passing = [standing for standing, fails in told if not fails]
    names = layout.layout.island_name
    if failing:
        worst = failing[0].finding
        failure = ElementTree.SubElement(
            case, "failure", message=_text(worst.what), type=MARK[worst.severity]
        )
        failure.text = _lines(failing, names)
    elif passing and all(standing.is_waived for standing in passing):
        ElementTree.SubElement(case, "skipped", message=_text(_reasons(passing)))
    if passing:
        ElementTree.SubElement(case, "system-out").text = _lines(passing, names)
    return case


def _reasons(waived: Iterable[JudgedFinding]) -> str:
    reasons = dict.fromkeys(signed(waiver) for one in waived for waiver in one.waivers)
    return f"waived: {'; '.join(reasons)}"


def _unasked(check: Check, number: int, judged: Judged) -> str:
    """Say why a check was not put to a layout, "" where it was."""
    layout, review = judged.layouts[number], judged.outcome.review
    assert review is not None
    if any(finding.check == check.id for finding in layout.findings):
        return ""
    if review.limits.severity_of(check.id) == "off":
        return "switched off in the limits"
    if check.needs_own_place and (layout.purpose == "tiling" or layout.looks_tiling):
        return "not asked of tiling textures"
    return ""


def _lines(standings: Iterable[JudgedFinding], names: Sequence[str]) -> str:
    return "\n".join(
        _text("\n".join((
            f"{MARK[one.finding.severity]}: {one.finding.what}",
            *status(one, names),
            one.finding.why,
            one.finding.do,
        )))
        for one in standings
    )  # fmt: skip


def _text(text: str) -> str:
    """Return text that XML 1.0 can hold: other characters become escapes."""
    return "".join(
        char
        if char in "\t\n" or (char >= " " and not _is_refused(ord(char)))
        else char.encode("unicode_escape", "backslashreplace").decode("ascii")
        for char in text
    )


def _is_refused(code: int) -> bool:
    """Tell whether XML 1.0 or its recommendation refuses a character (section 2.2)."""
    return 0x7F <= code <= 0x9F or 0xD800 <= code <= 0xDFFF or code & 0xFFFE == 0xFFFE
