"""Noted places are found again after a re-export, or told to be adrift."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests import shapes

from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Layout
from evenweave.mesh.asset import Asset
from evenweave.mesh.read import read
from evenweave.notes.fingerprint import fingerprints
from evenweave.notes.locating import Finder
from evenweave.notes.place import (
    place_in_texture,
    place_of_face,
    place_of_island,
    place_on_surface,
)
from evenweave.notes.store import new_note
from evenweave.places import sample_assets


def layouts(asset: Asset) -> tuple[Layout, ...]:
    return build_layouts(asset, None, ())


def only(asset: Asset) -> Layout:
    (layout,) = layouts(asset)
    return layout


def moved(asset: Asset, by: tuple[float, float, float]) -> Asset:
    return replace(asset, position=asset.position + np.array(by))


def test_the_fingerprint_of_a_square_is_known_in_closed_form() -> None:
    # Mean square distance from the middle of a rectangle: (a^2 + b^2) / 12.
    (one,) = fingerprints(only(shapes.plane(2.0, 1.0, columns=3, rows=2)), [0])
    assert one.area_m2 == pytest.approx(2.0)
    assert one.centre_m == pytest.approx((1.0, 0.5, 0.0))
    assert one.radius_m == pytest.approx(np.sqrt(5 / 12))
    assert set(one.sample_normal) == {(0.0, 0.0, 1.0)}
    assert len(one.sample_m) == 6


def test_texture_and_object_agree_on_a_place() -> None:
    layout = only(shapes.plane(2.0, 1.0, columns=4, rows=4))
    for triangle in (0, 7, 20):
        uv = layout.uv[layout.corner_uv[layout.triangle_corner[triangle]]].mean(axis=0)
        place = place_in_texture(layout, triangle, (float(uv[0]), float(uv[1])))
        assert place.point_m == pytest.approx((2 * uv[0], uv[1], 0.0))
        assert place_on_surface(layout, triangle, np.array(place.point_m)).uv == pytest.approx(uv)


def test_a_place_asked_for_beside_the_triangle_lies_on_its_edge() -> None:
    layout = only(shapes.plane())
    place = place_in_texture(layout, 0, (5.0, -3.0))
    assert 0.0 <= place.uv[0] <= 1.0
    assert 0.0 <= place.uv[1] <= 1.0


def test_faces_and_islands_are_pinned_inside_themselves() -> None:
    layout = only(shapes.tori(9))
    finder = Finder([layout])
    notes = [new_note("face", place_of_face(layout, face)) for face in (0, 11, 100)]
    notes += [new_note("island", place_of_island(layout, island)) for island in range(9)]
    found = finder.notes(notes)
    assert [one.spot.face for one in found[:3] if one.spot] == [0, 11, 100]
    assert [one.spot.island for one in found[3:] if one.spot] == list(range(9))


@settings(deadline=None, max_examples=25, derandomize=True)
@given(st.randoms(use_true_random=False), st.integers(2, 12))
def test_notes_survive_renaming_reordering_and_moving_in_the_texture(random, islands) -> None:
    asset = shapes.tori(islands, cells=4)
    old = only(asset)
    notes = [new_note("island", place_of_island(old, k), str(k)) for k in range(islands)]
    order = list(range(asset.face_count))
    random.shuffle(order)
    scale, turn = random.uniform(0.2, 0.9), random.uniform(-3, 3)
    new = only(
        shapes.textured(
            replace(shuffled(asset, order), part_names=tuple(f"x {k}" for k in range(islands))),
            lambda uv: scale * uv @ np.array([[np.cos(turn), np.sin(turn)],
                                              [-np.sin(turn), np.cos(turn)]]),
        )
    )  # fmt: skip
    for one in Finder([new]).notes(notes):
        assert one.spot is not None
        assert new.island_name[one.spot.island] == f"x {one.note.text}"
        assert one.spot.point_m == pytest.approx(one.note.place.point_m, abs=1e-6)


def shuffled(asset: Asset, order: list[int]) -> Asset:
    """The asset with its faces in another order."""
    starts = asset.face_start
    corners = np.concatenate([np.arange(starts[f], starts[f + 1]) for f in order])
    sizes = np.diff(starts)[order]
    return replace(
        asset,
        face_start=np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32),
        corner_position=asset.corner_position[corners],
        corner_normal=asset.corner_normal[corners],
        face_part=asset.face_part[order],
        face_material=asset.face_material[order],
        face_smoothing=asset.face_smoothing[order],
        uv_sets=tuple(replace(s, corner_uv=s.corner_uv[corners]) for s in asset.uv_sets),
    )


def test_every_note_on_the_first_pass_is_found_on_the_second() -> None:
    old = layouts(read(sample_assets() / "lantern_first_pass.obj"))
    new = layouts(read(sample_assets() / "lantern_second_pass.obj"))
    notes = [
        new_note("island", place_of_island(one, island))
        for one in old
        for island in range(one.island_count)
    ]
    sewn = {"cap 3": "cap 2"}
    for found in Finder(new).notes(notes):
        assert found.spot is not None
        layout, name = new[found.spot.layout], found.note.place.island.name
        assert layout.name == found.note.place.layout
        assert layout.island_name[found.spot.island] == sewn.get(name, name)


def test_a_part_moved_as_a_whole_takes_its_pin_along() -> None:
    old = only(shapes.cube_pieces())
    notes = [new_note("point", place_of_face(old, face)) for face in range(6)]
    new = only(moved(shapes.cube_pieces(), (7.0, 0.0, 0.0)))
    for face, one in enumerate(Finder([new]).notes(notes)):
        assert one.spot is not None
        assert one.spot.face == face
        assert one.spot.point_m == pytest.approx(np.add(one.note.place.point_m, (7, 0, 0)))


def test_what_is_gone_is_adrift() -> None:
    old = only(shapes.together(shapes.plane(part="a"), moved(shapes.plane(part="b"), (3, 0, 0))))
    notes = [new_note("island", place_of_island(old, k)) for k in range(2)]
    found = Finder([only(shapes.plane(part="a"))]).notes(notes)
    assert [one.is_adrift for one in found] == [False, True]
    assert all(one.is_adrift for one in Finder(()).notes(notes))


def test_the_two_sides_of_a_sheet_are_told_apart() -> None:
    front = shapes.plane(part="front", bounds=(0.0, 0.0, 0.4, 0.4))
    back = shapes.plane(part="back", bounds=(0.5, 0.5, 0.9, 0.9))
    turned = back.corner_position[::-1].copy()
    back = replace(
        back,
        corner_position=turned,
        uv_sets=(replace(back.uv_sets[0], corner_uv=back.uv_sets[0].corner_uv[::-1].copy()),),
    )
    old = only(shapes.together(front, back))
    new = only(shapes.together(back, front))
    notes = [new_note("point", place_of_island(old, k)) for k in range(2)]
    found = Finder([new]).notes(notes)
    assert [new.island_name[one.spot.island] for one in found if one.spot] == ["front", "back"]


def test_islands_in_one_place_are_told_apart_by_name() -> None:
    both = shapes.together(
        shapes.plane(part="a", bounds=(0.0, 0.0, 0.4, 0.4)),
        shapes.plane(part="b", bounds=(0.5, 0.5, 0.9, 0.9)),
    )
    swapped = shapes.together(
        shapes.plane(part="b", bounds=(0.0, 0.5, 0.4, 0.9)),
        shapes.plane(part="a", bounds=(0.5, 0.0, 0.9, 0.4)),
    )
    old, new = only(both), only(swapped)
    wanted = fingerprints(old, range(old.island_count))
    found = Finder([new]).islands(wanted)
    assert [new.island_name[place[1]] for place in found if place] == list(old.island_name)
