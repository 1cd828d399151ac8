"""Pictures for notes: whole, deterministic, and showing what they are asked to show."""

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from evenweave.check.finding import Severity
from evenweave.limits.limits import DEFAULT
from evenweave.mesh.read import read
from evenweave.notes.store import EMPTY, with_waiver
from evenweave.notes.waiving import apply_waivers, new_waiver
from evenweave.picture.lettering.sheet import sheet, sheet_lines
from evenweave.picture.painting.painting import Marks
from evenweave.picture.pictures import PictureOptions, picture, png, write_png
from evenweave.pipeline import Review, review
from evenweave.places import sample_assets
from evenweave.raster.colour.colours import ACCENT
from evenweave.raster.look import COLOURS, Look


@pytest.fixture(scope="module")
def lantern() -> Review:
    return review(read(sample_assets() / "lantern_first_pass.obj"), DEFAULT)


WISH = PictureOptions(width=900, height=620)


@pytest.mark.parametrize("size", [(320, 320), (900, 620), (3840, 2160)])
@pytest.mark.parametrize("view", ["flat", "solid", "both"])
def test_a_picture_has_the_size_that_was_asked(lantern: Review, view, size) -> None:
    options = replace(WISH, view=view, width=size[0], height=size[1])
    assert picture(lantern, options).shape == (size[1], size[0], 3)


@pytest.mark.parametrize("colours", COLOURS)
def test_every_colour_mode_draws_the_same_bytes_twice(lantern: Review, colours) -> None:
    options = replace(WISH, look=Look(colours=colours, checker=True, ellipses=True, edges=True))
    assert png(picture(lantern, options)) == png(picture(lantern, options))


def test_modes_checker_and_ellipses_change_the_picture(lantern: Review) -> None:
    looks = [Look(), Look(colours="stretch"), Look(checker=True), Look(ellipses=True)]
    pictures = [png(picture(lantern, replace(WISH, look=look))) for look in looks]
    assert len(set(pictures)) == len(looks)


def test_a_selected_island_is_outlined_in_the_accent_and_nothing_else_is(lantern: Review) -> None:
    def accents(marks: Marks) -> int:
        image = picture(lantern, replace(WISH, view="flat", marks=marks))
        return int((image == np.array(ACCENT, dtype=np.uint8)).all(axis=2).sum())

    assert accents(Marks()) == 0
    assert accents(Marks(selection=(3,))) > 50


def test_the_views_do_not_cover_title_or_legend() -> None:
    for size in [(320, 320), (1280, 720), (3840, 2160)]:
        place = sheet(*size, views=2)
        assert place.title.top + place.title.height <= place.views[0].top
        assert place.views[0].left + place.views[0].width <= place.views[1].left
        assert place.views[0].top + place.views[0].height <= place.legend.top
        assert place.legend.left + place.legend.width <= place.findings.left
        assert place.findings.top + place.findings.height <= size[1]


def test_findings_give_every_kind_once_with_its_worst_number(lantern: Review) -> None:
    (brass,) = (one for one in lantern.layouts if one.layout.name == "brass")
    standings = apply_waivers(lantern, EMPTY).layouts[lantern.layouts.index(brass)]
    found = sheet_lines(standings)
    assert len(found) == len({(w.check, w.severity) for w in brass.findings})
    assert not any(f.is_waived for f in found)
    padding = next(
        w for w in brass.findings if w.check == "padding" and w.severity is Severity.WARNING
    )
    assert any(f.text.startswith(padding.title) and "5 texels (limit 16)" in f.text for f in found)


def test_waived_findings_come_last_and_are_told_apart(lantern: Review) -> None:
    brass = lantern.layouts[0]
    overlap = next(w for w in brass.findings if w.check == "overlap")
    store = with_waiver(EMPTY, new_waiver(brass, overlap, "meant"))
    findings = apply_waivers(lantern, store).layouts[0]
    found = sheet_lines(findings)
    assert [f.text for f in found if f.is_waived] == [found[-1].text]
    assert found[-1].text.startswith(f"Waived: {overlap.title}")
    # The other overlap is open.
    assert any(f.severity is Severity.FAULT and not f.is_waived for f in found)
    plain, waived = (picture(lantern, replace(WISH, findings=w)) for w in (None, findings))
    place = sheet(WISH.width, WISH.height, views=2)
    differs = (plain != waived).any(axis=2)
    title = differs[place.title.top : place.title.top + place.title.height]
    assert title.any()
    assert differs[place.findings.top :].any()
    assert not differs[place.views[0].top : place.findings.top].any()


def test_a_written_picture_reads_back_equal(lantern: Review, tmp_path: Path) -> None:
    image = picture(lantern, WISH)
    write_png(tmp_path / "x.png", image)
    assert np.array_equal(np.asarray(Image.open(tmp_path / "x.png")), image)
    assert Image.open(io.BytesIO(png(image))).format == "PNG"
