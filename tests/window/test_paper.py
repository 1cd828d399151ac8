"""The review on paper is drawn away from the event loop as well, and holds every page's foot."""

import re
from concurrent.futures import ThreadPoolExecutor

import pytest
from tests import shapes

from evenweave.limits.limits import DEFAULT
from evenweave.mesh.read import read
from evenweave.notes.place import place_of_island
from evenweave.notes.store import EMPTY, new_note, with_note
from evenweave.pipeline import review
from evenweave.places import sample_assets
from evenweave.report.document.document import review_document
from evenweave.window.paper.flow import Flow
from evenweave.window.paper.paper import pdf


def pages(data: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", data))


def test_it_is_drawn_in_the_background_just_as_well() -> None:
    document = review_document(review(shapes.cube_pieces(), DEFAULT), made="today")
    with ThreadPoolExecutor(1) as pool:
        data = pool.submit(pdf, document).result()
    assert data.startswith(b"%PDF-")
    assert pages(data) == pages(pdf(document)) >= 2


def test_a_note_longer_than_a_page_goes_on_on_the_next() -> None:
    done = review(shapes.plane(), DEFAULT)
    place = place_of_island(done.layouts[0].layout, 0)
    short = with_note(EMPTY, new_note("point", place, "Relax"))
    long = with_note(EMPTY, new_note("point", place, "Relax this island. " * 2000))
    few, many = (pages(pdf(review_document(done, store))) for store in (short, long))
    assert many >= few + 4


def test_paper_shows_words_without_spaces_and_other_scripts() -> None:
    done = review(shapes.plane(part="x" * 400), DEFAULT)
    place = place_of_island(done.layouts[0].layout, 0)
    store = with_note(EMPTY, new_note("point", place, "y" * 30000 + " Größe 測試"))
    assert pages(pdf(review_document(done, store))) > 3


def test_no_page_is_left_half_empty(monkeypatch: pytest.MonkeyPatch) -> None:
    left: list[float] = []
    turn = Flow.turn

    def turned(flow: Flow) -> None:
        left.append(flow.room / flow._page_height)
        turn(flow)

    monkeypatch.setattr(Flow, "turn", turned)
    for name in ("lantern_first_pass.obj", "lantern_second_pass.obj", "lantern.glb"):
        pdf(review_document(review(read(sample_assets() / name), DEFAULT)))
    assert len(left) > 10
    assert max(left) < 0.5
