"""DEVELOPERS.md's steps for a check and for a quantity, walked by one of each, made here."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from evenweave.check import run, texts
from evenweave.check.finding import Severity
from evenweave.check.subject import Check, Hit, Subject
from evenweave.limits.limits import DEFAULT
from evenweave.mesh.read import read
from evenweave.pipeline import review
from evenweave.places import sample_assets
from evenweave.quantities import reference
from evenweave.quantities.catalogue import CATALOGUE
from evenweave.quantities.quantity import Quantity

ROOT = Path(__file__).resolve().parents[1]
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PACKAGE = ROOT / "app" / "evenweave"


def steps(title: str) -> list[str]:
    """The numbered steps under a title of the guide."""
    part = GUIDE[GUIDE.index(f"**{title}**") :]
    part = part[: part.index("\n\n**")]
    return re.findall(r"^\d\. (.+?)(?=\n\d\. |\Z)", part, re.MULTILINE | re.DOTALL)


@pytest.mark.parametrize(("title", "count"), [("A check", 5), ("A quantity", 3)])
def test_the_steps_name_files_that_are_there(title: str, count: int) -> None:
    found = steps(title)
    assert len(found) == count
    for name in re.findall(r"`([\w/]+(?:/|\.(?:py|toml|md)))`", " ".join(found)):
        assert (PACKAGE / name).exists() or (ROOT / name).exists(), name


def test_every_file_the_guide_names_is_there() -> None:
    for name in re.findall(r"`((?:[\w]+/)+[\w]+\.(?:py|toml|md|sh|json|txt))`", GUIDE):
        places = (PACKAGE / name, ROOT / name, ROOT / "app" / name)
        assert any(place.exists() for place in places), name


def few_faces(subject: Subject) -> Iterator[Hit]:
    """Step 1: numbers of the measures alone."""
    faces = subject.measures.island.faces
    islands = tuple(int(i) for i in (faces < 13).nonzero()[0])
    if islands:
        words = {"island": subject.name(islands[0]), "count": str(len(islands))}
        yield Hit(float(faces[islands[0]]), 13.0, islands, islands[0], words=words)


FEW_FACES = Check("few-faces", Severity.NOTE, "faces", few_faces)  # step 2
WORDS = {  # step 3
    "title": "Few faces",
    "what": "{count} islands have fewer than 13 faces, {island} first.",
    "why": "They may be left over.",
    "do": "Look at them.",
    "how": "Faces are counted.",
}


def test_a_check_is_added_by_walking_the_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    known = texts.templates()
    monkeypatch.setattr(texts, "templates", lambda: {**known, FEW_FACES.id: WORDS})
    monkeypatch.setattr(run, "all_checks", lambda: (FEW_FACES,))
    monkeypatch.setattr(run, "CHECKS", (FEW_FACES,))
    done = review(read(sample_assets() / "lantern_second_pass.obj"), DEFAULT)
    told = [finding for one in done.layouts for finding in one.findings]
    assert {finding.check for finding in told} == {"few-faces"}
    for layout in done.layouts:
        expected = tuple((layout.measures.island.faces < 13).nonzero()[0].tolist())
        assert [f.islands for f in layout.findings] == ([expected] if expected else [])
    assert all("fewer than 13 faces" in finding.what for finding in told)


def test_a_quantity_is_added_by_walking_the_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    thickness = Quantity(
        "thickness", "Thickness", "Thickness, mm", "ratio", "mm", "How thick a part is.",
        "distance to the other side", "definition",
    )  # fmt: skip
    monkeypatch.setattr(reference, "CATALOGUE", (*CATALOGUE, thickness))
    assert "| Thickness | mm | How thick a part is. |" in reference.reference()
    assert thickness.say(2.0) == "2.00 mm"
