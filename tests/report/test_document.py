"""The review handed over: whole, self-contained, bounded, and the same words on page and paper."""

import base64
import io
import os
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image
from tests import shapes

from evenweave.check.finding import Severity
from evenweave.cli import main
from evenweave.limits.limits import DEFAULT, Limits
from evenweave.mesh.read import read
from evenweave.notes.notes_file import notes_path, save_notes
from evenweave.notes.place import place_of_island
from evenweave.notes.store import EMPTY, NoteStore, new_note, with_note, with_waiver
from evenweave.notes.waiving import new_waiver
from evenweave.pipeline import Review, review
from evenweave.places import sample_assets
from evenweave.report.document.content import ReviewDocument
from evenweave.report.document.document import MOST_FINDINGS, MOST_ROWS, review_document
from evenweave.report.document.html import document_html

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
PDFTOTEXT = shutil.which("pdftotext")
LANTERN = sample_assets() / "lantern_first_pass.obj"
EVIL = "<script>alert(1)</script>\"'&\x1b[31m"


@pytest.fixture(scope="module")
def lantern() -> Review:
    return review(read(LANTERN), DEFAULT)


@pytest.fixture(scope="module")
def notes(lantern: Review) -> NoteStore:
    brass = lantern.layouts[0]
    store = with_note(EMPTY, new_note("island", place_of_island(brass.layout, 5), "Straighten"))
    gone = replace(
        place_of_island(brass.layout, 6), point_m=(90.0, 0.0, 0.0),
        island=replace(store.notes[0].place.island, name="lost", sample_m=((90.0, 0.0, 0.0),) * 6),
    )  # fmt: skip
    store = with_note(store, new_note("point", gone, "Where is it?", state="done"))
    stack = next(w for w in brass.findings if w.check == "stack")
    return with_waiver(store, new_waiver(brass, stack, "The chain shares it", who="Mara"))


@pytest.fixture(scope="module")
def document(lantern: Review, notes: NoteStore) -> ReviewDocument:
    return review_document(lantern, notes, made="2026-05-01 12:00 UTC")


@pytest.fixture(scope="module")
def page(document: ReviewDocument) -> str:
    return document_html(document)


def parsed(page: str) -> ElementTree.Element:
    """The page as a tree; it is well-formed XML behind its doctype."""
    return ElementTree.fromstring(page.removeprefix("<!DOCTYPE html>").strip().encode())


def words(element: ElementTree.Element) -> str:
    return " ".join("".join(element.itertext()).split())


def test_the_verdict_stands_at_the_top_and_waived_warnings_are_counted_apart(
    lantern: Review, document: ReviewDocument
) -> None:
    faults = sum(w.severity is Severity.FAULT for one in lantern.layouts for w in one.findings)
    assert document.headline == f"{faults} faults to mend"
    assert "Waived: 1." in document.sentences[0]
    assert document.sentences[1] == "Notes: 1 to do, 1 done; 1 note adrift."
    assert document.summary[0].waived == 1
    listed = [one for section in document.layouts for one in section.findings]
    assert len(listed) == sum(len(one.findings) for one in lantern.layouts)
    assert [one.title for one in listed if one.is_waived] == ["Stack"]


def test_a_sound_asset_has_nothing_to_remark() -> None:
    limits = Limits(coverage=0.0, margin_px=0.0)
    document = review_document(review(shapes.plane(), limits))
    assert document.headline == "Nothing to remark"
    assert document.layouts[0].findings == ()


def test_an_asset_without_layouts_or_uvs_still_makes_a_document() -> None:
    bare = shapes.asset(shapes.CUBE_POSITION, shapes.CUBE_FACES)
    page = document_html(review_document(review(bare, DEFAULT)))
    assert "Faces without UVs" in words(parsed(page))
    parsed(document_html(review_document(review(shapes.asset([], []), DEFAULT))))


def test_numbers_in_the_pictures_are_those_of_the_list(document: ReviewDocument) -> None:
    for section in document.layouts:
        assert [one.number for one in section.findings] == list(range(1, len(section.findings) + 1))
        waived = [one.is_waived for one in section.findings]
        assert waived == sorted(waived)


def test_islands_are_listed_worst_first(document: ReviewDocument) -> None:
    faults = [dict(row.open).get(Severity.FAULT, 0) for row in document.layouts[0].rows]
    assert faults == sorted(faults, reverse=True)


def test_the_page_loads_nothing_and_runs_nothing(page: str) -> None:
    root = parsed(page)
    assert not list(root.iter("script"))
    assert not [e for e in root.iter() if any(key.startswith("on") for key in e.attrib)]
    sources = [e.attrib["src"] for e in root.iter() if "src" in e.attrib]
    assert sources
    assert all(source.startswith("data:image/png;base64,") for source in sources)
    links = [e.attrib["href"] for e in root.iter() if "href" in e.attrib]
    ids = {e.attrib["id"] for e in root.iter() if "id" in e.attrib}
    assert links
    assert all(link.removeprefix("#") in ids for link in links)
    assert not re.findall(r"@import|url\(|https?:", page)


def test_every_picture_has_words_in_its_place(page: str) -> None:
    root = parsed(page)
    texts = [image.attrib["alt"] for image in root.iter("img")]
    texts += [one.attrib["aria-label"] for one in root.iter("svg") if "role" in one.attrib]
    drawn = [one for one in root.iter("svg") if "role" not in one.attrib]
    assert all(len(text) > 10 for text in texts)
    assert all(one.attrib.get("aria-hidden") == "true" for one in drawn)


def test_the_page_says_everything_it_should(page: str, lantern: Review) -> None:
    text = words(parsed(page))
    for wanted in (
        lantern.asset.digest, "2026-05-01 12:00 UTC", "lantern_first_pass.obj", "Limits used",
        "0.25 octaves", "Straighten", "Adrift", "Where is it?", "The chain shares it", "Mara",
        "Islands, worst first", "60,000 square texels",
    ):  # fmt: skip
        assert wanted in text
    for one in lantern.layouts:
        for finding in one.findings:
            assert " ".join(finding.what.split()) in text


def test_headings_never_skip_a_level(page: str) -> None:
    levels = [int(e.tag[1]) for e in parsed(page).iter() if re.fullmatch("h[1-6]", e.tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_names_and_texts_from_files_stay_text() -> None:
    evil = shapes.with_material(shapes.plane(part=EVIL), EVIL)
    done = review(replace(evil, path=Path(f"{EVIL}.obj".replace("/", "_"))), DEFAULT)
    layout = done.layouts[0].layout
    store = with_note(EMPTY, new_note("island", place_of_island(layout, 0), EVIL))
    store = with_waiver(store, new_waiver(done.layouts[0], done.layouts[0].findings[0], EVIL))
    root = parsed(document_html(review_document(done, store)))
    assert not list(root.iter("script"))
    assert words(root).count("<script>alert(1)</script>") >= 4


def test_the_size_does_not_grow_with_the_mesh() -> None:
    done = review(shapes.tori(400, cells=2), Limits(padding_px=40.0, density_octaves=0.0))
    document = review_document(done)
    (section,) = document.layouts
    assert len(section.rows) == MOST_ROWS
    assert section.rows_left_out == 400 - MOST_ROWS
    assert len(section.findings) <= MOST_FINDINGS
    assert len(document_html(document)) < 6e6


def test_the_bars_sum_to_the_surface(document: ReviewDocument) -> None:
    for section in document.layouts:
        for bars in section.bars:
            assert bars.share.sum() == pytest.approx(1.0)
            assert all(0 <= place <= 1 for place, _ in (*bars.ticks, *bars.limits))


# As commands


@pytest.fixture
def mesh(tmp_path: Path, notes: NoteStore, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "lantern.obj"
    path.write_bytes(LANTERN.read_bytes())
    save_notes(notes_path(path), notes)
    return path


def test_notes_are_listed_with_their_places(mesh: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = mesh.read_bytes(), notes_path(mesh).read_bytes()
    assert main(["notes", str(mesh)]) == 0
    out = capsys.readouterr().out
    assert "A  to do      Island rib_3 on brass. Straighten" in out
    assert "B  done       Point on lost: adrift. Where is it?" in out
    assert "holds      Stack, chain_1, chain_2, chain_3 on brass: The chain shares it" in out
    assert (mesh.read_bytes(), notes_path(mesh).read_bytes()) == before


def test_a_mesh_without_notes_says_so(mesh: Path, capsys: pytest.CaptureFixture[str]) -> None:
    notes_path(mesh).unlink()
    assert main(["notes", str(mesh)]) == 0
    assert "no notes" in capsys.readouterr().out
    assert not notes_path(mesh).exists()


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--output", "x.txt"], "end it with .html or .pdf"),
        (["--output", "lantern.obj"], "end it with .html or .pdf"),
        (["--notes", "absent.json"], "absent.json: there is no such file"),
        (["--notes", "lantern.obj"], "lantern.obj, line 1: it is not JSON"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(
    mesh: Path, arguments: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["notes", str(mesh), *arguments]) == 2
    err = capsys.readouterr().err
    assert told in err
    assert err.count("\n") == 1


def test_notes_are_never_written_over_by_a_review(
    mesh: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = mesh.with_name("notes.html")
    shutil.copy(notes_path(mesh), other)
    assert main(["notes", str(mesh), "--notes", str(other), "--output", str(other)]) == 2
    assert other.read_bytes() == notes_path(mesh).read_bytes()


def test_paper_has_the_same_words(mesh: Path) -> None:
    environment = os.environ | {"QT_QPA_PLATFORM": "offscreen"}
    subprocess.run(
        [sys.executable, "-m", "evenweave", "notes", mesh, "--output", "r.pdf"],
        check=True, env=environment, capture_output=True,
    )  # fmt: skip
    data = mesh.with_name("r.pdf").read_bytes()
    assert data.startswith(b"%PDF-")
    assert len(data) < 8e6
    assert len(re.findall(rb"/Type\s*/Page\b", data)) >= 8
    if PDFTOTEXT is None:
        pytest.skip("poppler is not installed: the words are not read")
    done = subprocess.run([PDFTOTEXT, "r.pdf", "-"], check=True, capture_output=True, text=True)
    text = " ".join(done.stdout.split())
    for wanted in ("faults to mend", "Straighten", "60,000 square texels", "The chain shares it",
                   "Limits used", "SHA-256", "Islands, worst first"):  # fmt: skip
        assert wanted in text


@pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed")
@pytest.mark.parametrize("width", [500, 1280])
def test_a_browser_shows_the_page_without_scrolling_sideways(
    page: str, tmp_path: Path, width: int
) -> None:
    # A probe is added to a copy of the page: it writes what it measured into the title.
    probe = (
        "<script>addEventListener('load',()=>{const d=document;"
        "const broken=[...d.images].filter(i=>!i.naturalWidth).length;"
        "d.title=[d.documentElement.scrollWidth<=innerWidth,broken].join(' ')})</script>"
    )
    body = page.replace("default-src 'none'", "script-src 'unsafe-inline'")
    (tmp_path / "page.html").write_text(body.replace("</body>", f"{probe}</body>"), "utf-8")
    shared = [
        str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
        f"--user-data-dir={tmp_path / 'profile'}", f"--window-size={width},900",
    ]  # fmt: skip
    dumped = subprocess.run(
        [*shared, "--dump-dom", f"file://{tmp_path / 'page.html'}"],
        check=True, capture_output=True, text=True, timeout=90,
    )  # fmt: skip
    assert "<title>true 0</title>" in dumped.stdout


@pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed")
def test_a_browser_draws_it_dark_where_the_system_is(page: str, tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text(page, "utf-8")
    grounds = []
    for scheme in (1, 0):
        picture = tmp_path / f"{scheme}.png"
        subprocess.run(
            [str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
             f"--user-data-dir={tmp_path / 'profile'}", "--window-size=800,600",
             f"--blink-settings=preferredColorScheme={scheme}", f"--screenshot={picture}",
             f"file://{tmp_path / 'page.html'}"],
            check=True, capture_output=True, timeout=90,
        )  # fmt: skip
        grounds.append(int(np.asarray(Image.open(picture).convert("L"))[2, 2]))
    assert grounds[0] > 230
    assert grounds[1] < 60


def test_pictures_in_the_page_read_back_at_their_size(page: str) -> None:
    for image in parsed(page).iter("img"):
        data = base64.b64decode(image.attrib["src"].partition(",")[2])
        with Image.open(io.BytesIO(data)) as read_back:
            assert read_back.size == (int(image.attrib["width"]), int(image.attrib["height"]))
