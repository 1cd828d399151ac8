"""`evenweave check` and the notes file beside a mesh: what is waived is shown and does not fail."""

import re
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from tests.command.squares import square
from tests.command.waived import REASON, first_pass, ran, result, sarif, waive

from evenweave.check.catalogue import CHECK_IDS
from evenweave.cli import main
from evenweave.limits.file import write_limits
from evenweave.limits.limits import DEFAULT
from evenweave.mesh.read import read
from evenweave.notes.notes_file import notes_path, read_notes, save_notes
from evenweave.notes.store import NoteStore
from evenweave.pipeline import review
from evenweave.places import sample_assets

FORMATS = ("text", "json", "csv", "sarif", "junit")


@pytest.fixture
def lantern() -> Path:
    return first_pass()


def flat(capsys: pytest.CaptureFixture[str]) -> str:
    return " ".join(capsys.readouterr().out.split())


# exit code


@pytest.mark.parametrize("kind", FORMATS)
def test_what_is_waived_does_not_fail(kind: str) -> None:
    mesh = square(Path("a.obj"))
    gate = (mesh, "--fail-on", "note", "--format", kind, "--output", "out")
    assert ran(*gate) == 1
    waive(mesh, "coverage")
    assert ran(*gate) == 0
    assert ran(*gate, "--ignore-waivers") == 1


def test_what_is_open_beside_it_still_fails(lantern: Path) -> None:
    assert ran(lantern, "--output", "out") == 1


def test_a_warning_waived_in_part_still_fails() -> None:
    rules = tuple((id, "fault" if id == "density" else "off") for id in CHECK_IDS)
    write_limits(Path("strict.toml"), replace(DEFAULT, severities=rules))
    mesh = Path("lantern.obj")
    mesh.write_bytes((sample_assets() / "lantern_first_pass.obj").read_bytes())
    gate = (mesh, "--limits", "strict.toml", "--output", "out")
    waive(mesh, "density", most=4)
    assert ran(*gate) == 1
    waive(mesh, "density")
    assert ran(*gate) == 0


# text


def test_text_marks_what_is_waived_in_its_place_with_the_reason(
    capsys: pytest.CaptureFixture[str],
) -> None:
    mesh = square(Path("a.obj"))
    day = waive(mesh, "coverage").when[:10]
    ran(mesh)
    out = capsys.readouterr().out
    assert "): nothing open; 1 waived\n" in out
    assert "\n    waived   coverage       Islands cover 25 % of the tile" in out
    assert f"\n{' ' * 28}This warning is waived: {REASON} (Mara, {day})\n" in out


def test_text_counts_apart_and_says_how_many_islands_are_waived(
    lantern: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    done = review(read(lantern), DEFAULT)
    count = Counter(w.severity.name.lower() for w in done.layouts[0].findings)
    ran(lantern)
    text = capsys.readouterr().out
    out = " ".join(text.split())
    assert (
        f"{count['fault'] - 1} faults, {count['warning'] - 1} warnings, {count['note']} remarks; "
        "2 waived" in out
    )
    (density,) = [w for w in done.layouts[0].findings if w.check == "density"]
    names = " and ".join(done.layouts[0].layout.island_name[i] for i in density.islands[:2])
    assert f"Waived on 2 of {len(density.islands)} islands ({names}): Far away (Mara, " in out
    assert "This fault is waived: Never seen (Mara, " in out
    listed = re.findall(r"^    (?:fault|warning|remark|waived) +([a-z-]+) ", text, re.MULTILINE)
    assert listed == [w.check for one in done.layouts for w in one.findings]


def test_several_files_are_counted_apart_together(capsys: pytest.CaptureFixture[str]) -> None:
    waive(square(Path("a.obj")), "coverage")
    square(Path("b.obj"))
    ran("a.obj", "b.obj")
    assert capsys.readouterr().out.endswith("\n2 files: 1 warning; 1 waived\n")


def test_a_waiver_whose_value_got_worse_is_told_and_does_not_hold(
    capsys: pytest.CaptureFixture[str],
) -> None:
    mesh = square(Path("a.obj"))
    waive(mesh, "coverage")
    square(mesh, 0.4, 0.6)
    assert ran(mesh, "--fail-on", "warning") == 1
    out = flat(capsys)
    assert "waivers 1 lapsed (it has got worse since); evenweave notes lists them all" in out
    assert f"Waived before, but it has got worse since: {REASON} (Mara, " in out
    (file,) = result(mesh)["files"]
    (finding,) = file["layouts"][0]["warnings"]
    assert finding["waived"] is None
    assert [one["reason"] for one in finding["lapsed_waivers"]] == [REASON]
    assert [one["state"] for one in file["waivers"]] == ["lapsed"]


@pytest.mark.parametrize(
    ("change", "words", "state"),
    [
        ({"material": "other"}, "1 adrift (what it speaks of is gone)", "adrift"),
        ({"low": 0.0, "high": 1.0}, "1 idle (no longer found)", "idle"),
    ],
)
def test_waivers_without_a_warning_are_told_in_a_line(
    change: dict[str, Any], words: str, state: str, capsys: pytest.CaptureFixture[str]
) -> None:
    mesh = square(Path("a.obj"))
    waive(mesh, "coverage")
    square(mesh, **change)
    ran(mesh)
    assert f"\n  waivers  {words}; evenweave notes lists them" in capsys.readouterr().out
    (file,) = result(mesh)["files"]
    assert [one["state"] for one in file["waivers"]] == [state]
    assert file["counts"]["waived"] == {"fault": 0, "warning": 0, "note": 0}


# a notes file that cannot be used


@pytest.mark.parametrize(
    ("content", "cause"),
    [
        (b"{", "it is not JSON"),
        (b"\xff\xfe", "it is not UTF-8 text"),
        (b'{"format": 999}', "a newer version of Evenweave wrote it"),
        (b'{"format": 1, "notes": [], "waivers": [{}]}', ""),
    ],
)
@pytest.mark.parametrize("kind", FORMATS)
def test_a_broken_notes_file_is_one_sentence_and_waives_nothing(
    content: bytes, cause: str, kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    mesh = square(Path("a.obj"))
    notes_path(mesh).write_bytes(content)
    assert ran(mesh, "--format", kind, "--fail-on", "warning") == 1
    told = capsys.readouterr()
    (line,) = told.err.splitlines()
    assert line.startswith("evenweave: a.obj.evenweave-notes.json")
    assert cause in line
    assert line.endswith("; until then nothing is waived.")
    sentence = line.removeprefix("evenweave: ")
    if kind != "csv":
        assert sentence[:40] in told.out
    assert notes_path(mesh).read_bytes() == content
    assert ran(mesh, "--format", kind) == 0


def test_a_broken_notes_file_is_told_in_machine_readable_results_too() -> None:
    mesh = square(Path("a.obj"))
    notes_path(mesh).write_bytes(b"{")
    (file,) = result(mesh)["files"]
    assert file["error"] is None
    assert file["notes_error"]["message"].startswith("a.obj.evenweave-notes.json, line 1: ")
    (invocation,) = sarif(mesh)["invocations"]
    assert invocation["executionSuccessful"]
    (notice,) = invocation["toolExecutionNotifications"]
    assert notice["level"] == "warning"


def test_the_notes_file_is_never_written_over(capsys: pytest.CaptureFixture[str]) -> None:
    mesh = square(Path("a.obj"))
    waive(mesh, "coverage")
    before = notes_path(mesh).read_bytes()
    assert ran(mesh, "--output", notes_path(mesh)) == 2
    assert "it is the notes file beside a mesh" in capsys.readouterr().err
    assert notes_path(mesh).read_bytes() == before


# baseline


def test_what_was_waived_in_the_baseline_and_is_open_now_is_new(
    capsys: pytest.CaptureFixture[str],
) -> None:
    mesh = square(Path("a.obj"))
    waive(mesh, "coverage")
    ran(mesh, "--format", "json", "--output", "known.json")
    gate = (mesh, "--baseline", "known.json", "--fail-on", "warning")
    assert ran(*gate) == 0
    assert "1 waived" in capsys.readouterr().out
    notes_path(mesh).unlink()
    assert ran(*gate) == 1
    (file,) = result(*gate)["files"]
    assert [w["is_new"] for w in file["layouts"][0]["warnings"]] == [True]


def test_what_is_waived_now_is_listed_though_the_baseline_knows_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    mesh = square(Path("a.obj"))
    ran(mesh, "--format", "json", "--output", "known.json")
    waive(mesh, "coverage")
    assert ran(mesh, "--baseline", "known.json", "--fail-on", "warning") == 0
    out = capsys.readouterr().out
    assert "nothing open; 1 waived" in out
    assert "baseline: 0 warnings known from it and not listed" in out


def test_islands_waived_in_part_in_the_baseline_are_new_when_open(lantern: Path) -> None:
    ran(lantern, "--format", "json", "--output", "known.json")
    baseline = ("--baseline", "known.json")

    def new() -> set[str]:
        (file,) = result(lantern, *baseline)["files"]
        return {w["check"] for one in file["layouts"] for w in one["warnings"] if w["is_new"]}

    assert new() == set()
    notes_path(lantern).unlink()
    assert new() == {"overlap", "stretch", "density"}


# together


def test_all_reports_count_alike(lantern: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (file,) = result(lantern)["files"]
    count = file["counts"]["open"]
    words = f"{count['fault']} faults, {count['warning']} warnings, {count['note']} remarks"
    assert main(["notes", str(lantern)]) == 0
    assert f"Open: {words}. Waived: 2." in capsys.readouterr().out
    assert main(["notes", str(lantern), "--output", "review.html"]) == 0
    assert f"Open: {words}. Waived: 2." in Path("review.html").read_text(encoding="utf-8")


def test_processes_give_the_same_bytes_as_one(lantern: Path) -> None:
    waive(square(Path("a.obj")), "coverage")
    notes_path(square(Path("b.obj"))).write_bytes(b"{")
    arguments = (lantern, "a.obj", "b.obj", "--format", "json", "--output")
    assert ran(*arguments, "one", "--jobs", 1) == 1
    assert ran(*arguments, "two", "--jobs", 2) == 1
    assert Path("one").read_bytes() == Path("two").read_bytes()


def test_a_notes_file_without_waivers_changes_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    mesh = square(Path("a.obj"))
    ran(mesh)
    plain = capsys.readouterr().out
    path = notes_path(mesh)
    waive(mesh, "coverage")
    save_notes(path, NoteStore())
    assert read_notes(path) == NoteStore()
    ran(mesh)
    assert capsys.readouterr().out == plain


def test_reasons_of_odd_characters_reach_every_format(
    capsysbinary: pytest.CaptureFixture[bytes],
) -> None:
    mesh = square(Path("a.obj"))
    waive(mesh, "coverage", "because \x1b[31m <b>&\n\ud800 ☃")
    for kind in FORMATS:
        assert ran(mesh, "--format", kind) == 0
        out, err = capsysbinary.readouterr()
        assert (err, b"\x1b" in out) == (b"", False)
        assert kind == "csv" or "☃" in out.decode("utf-8")
