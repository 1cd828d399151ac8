"""Callouts: none covers another or the place another means, and hidden places have none."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from tests import shapes

from evenweave.cli import main
from evenweave.layout.build import build_layouts
from evenweave.limits.limits import DEFAULT
from evenweave.mesh.read import read
from evenweave.notes.notes_file import notes_path, save_notes
from evenweave.notes.place import place_of_face, place_of_island
from evenweave.notes.store import NoteStore, new_note, with_note
from evenweave.picture.lettering.callout_drawing import draw_callouts
from evenweave.picture.lettering.callouts import Box, Callout, arrange
from evenweave.picture.lettering.lettering import Page
from evenweave.picture.lettering.pins import Pin, finding_pins, letters, projected, solid_callouts
from evenweave.picture.pictures import PictureOptions, picture
from evenweave.picture.scene.scene import prepare_scene
from evenweave.pipeline import Review, review
from evenweave.places import sample_assets
from evenweave.raster.camera import Orbit

WORDS = st.sampled_from(["", "A", "Relax", "More texels for the roof: it is seen from above"])
CALLOUTS = st.lists(
    st.builds(Callout, st.integers(0, 640), st.integers(0, 480), st.just("12"), WORDS), max_size=30
)


def overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


@settings(deadline=None, max_examples=50, derandomize=True)
@given(CALLOUTS, st.sampled_from([0.5, 1.0, 2.0]))
def test_no_callout_covers_another_or_any_place_and_none_is_cut_off(callouts, unit) -> None:
    done = arrange(callouts, (640, 480), unit)
    assert len(done.placed) + len(done.left_out) == len(callouts)
    boxes = [one.box for one in done.placed]
    for number, box in enumerate(boxes):
        assert not any(overlap(box, other) for other in boxes[number + 1 :])
        assert not any(box[0] < c.x < box[2] and box[1] < c.y < box[3] for c in callouts)
        assert box[0] >= 0
        assert box[1] >= 0
        assert box[2] <= 640
        assert box[3] <= 480


def test_there_is_room_for_a_few_and_they_stand_near() -> None:
    callouts = [Callout(320, 240, str(k), "Too little padding") for k in range(8)]
    done = arrange(callouts, (640, 480), 1.0)
    assert done.left_out == ()
    for one in done.placed:
        assert 0 < np.hypot(one.foot[0] - 320, one.foot[1] - 240) < 200


def test_where_there_is_no_room_callouts_are_named_as_left_out() -> None:
    callouts = [Callout(40, 40, str(k), "Too little padding") for k in range(80)]
    done = arrange(callouts, (160, 160), 1.0)
    assert done.placed
    assert len(done.left_out) > 60


def test_places_beyond_the_picture_have_no_callout() -> None:
    done = arrange([Callout(-5, 20, "1"), Callout(50, 900, "2")], (100, 100), 1.0)
    assert (done.placed, done.left_out) == ((), ())


def test_a_drawn_callout_points_at_its_place_and_stays_in_its_box() -> None:
    page = Page(300, 200, (118, 118, 118))
    done = arrange([Callout(60, 150, "7", "Stretched")], (300, 200), 1.0)
    draw_callouts(page, done, 1.0)
    drawn = (np.asarray(page.image) != 118).any(axis=2)
    assert drawn[148:153, 58:63].any()
    x0, y0, x1, y1 = done.placed[0].box
    outside = drawn.copy()
    outside[int(y0) - 2 : int(y1) + 3, int(x0) - 2 : int(x1) + 3] = False
    rows, columns = np.nonzero(outside)
    corner = (done.placed[0].foot, (60.0, 150.0))
    assert columns.min() >= min(x for x, _ in corner) - 8
    assert columns.max() <= max(x for x, _ in corner) + 8
    assert rows.min() >= min(y for _, y in corner) - 8
    assert rows.max() <= max(y for _, y in corner) + 8


def test_letters_go_on_after_z() -> None:
    names = [letters(k) for k in range(1000)]
    assert names[:3] == ["A", "B", "C"]
    assert len(set(names)) == 1000


def test_projection_agrees_with_the_camera_s_rays() -> None:
    camera = Orbit(target=(0.2, 0.1, -0.3))
    point = np.random.default_rng(1).uniform(-0.4, 0.4, (20, 3))
    pixel, distance = projected(point, camera, 640, 480)
    for (x, y), ahead, wanted in zip(pixel, distance, point, strict=True):
        eye, way = camera.ray(x, y, 640, 480)
        assert eye + ahead * way == pytest.approx(wanted)


def test_only_the_sides_of_a_cube_that_face_the_viewer_are_called_out() -> None:
    done = review(shapes.cube_pieces(), DEFAULT)
    scene = prepare_scene(done)
    camera = Orbit().fitted(*scene.solid.bounds())
    middles = [place_of_face(done.layouts[0].layout, face).point_m for face in range(6)]
    pins = [Pin(str(k), "", "warning", (0.0, 0.0), point) for k, point in enumerate(middles)]
    seen = {one.mark for one in solid_callouts(pins, scene.solid.mesh, camera, (400, 400))}
    facing = shapes.CUBE_NORMAL @ (camera.eye() - 0.5) > 0.5
    assert seen == {str(k) for k in np.flatnonzero(facing)}


@pytest.fixture(scope="module")
def lantern() -> Review:
    return review(read(sample_assets() / "lantern_first_pass.obj"), DEFAULT)


def test_every_warning_with_a_place_is_pinned_inside_its_islands(lantern: Review) -> None:
    brass = lantern.layouts[0]
    pins = finding_pins(brass, labels=True)
    for pin in pins:
        finding = brass.findings[int(pin.mark) - 1]
        box = brass.measures.island.bounds[list(finding.islands)]
        inside = (box[:, :2] - 1e-6 <= pin.uv).all(1) & (box[:, 2:] + 1e-6 >= pin.uv).all(1)
        assert inside.any()
    placeless = [w for w in brass.findings if w.worst < 0 and len(w.points) == 0]
    assert len(pins) == len(brass.findings) - len(placeless)


def test_pins_change_the_picture_and_the_same_pins_draw_the_same(lantern: Review) -> None:
    options = PictureOptions(width=900, height=620)
    pinned = replace(options, pins=finding_pins(lantern.layouts[0], labels=True))
    one, other = picture(lantern, pinned), picture(lantern, pinned)
    assert np.array_equal(one, other)
    assert not np.array_equal(one, picture(lantern, options))


def test_the_command_draws_notes_and_marks_at_the_resolution_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    mesh = tmp_path / "lantern.obj"
    mesh.write_bytes((sample_assets() / "lantern_first_pass.obj").read_bytes())
    (brass, *_) = build_layouts(read(mesh), None, ())
    note = new_note("island", place_of_island(brass, 3), "Relax")
    save_notes(notes_path(mesh), with_note(NoteStore(), note))
    pictures = []
    for number, options in enumerate(([], ["--notes"], ["--notes", "--marks"])):
        path = tmp_path / f"{number}.png"
        asked = ["--output", str(path), "--size", "800x600", "--dpi", "300", *options]
        assert main(["picture", str(mesh), *asked]) == 0
        with Image.open(path) as image:
            assert image.info["dpi"] == pytest.approx((300, 300), abs=0.1)
            pictures.append(image.tobytes())
    assert len(set(pictures)) == 3
