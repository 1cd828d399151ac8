"""What the front door demands of every reader's asset."""

from dataclasses import replace

import numpy as np
import pytest
from tests import shapes

from evenweave.arrays import floats, ints
from evenweave.errors import FileProblem
from evenweave.mesh.asset import UvSet
from evenweave.mesh.validation import validated

SQUARE = shapes.asset(
    [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]],
    [[0, 1, 2, 3]],
    [[0, 0], [1, 0], [1, 1], [0, 1]],
    normal=[[0, 0, 1]] * 4,
)


def test_a_sound_asset_passes_unchanged() -> None:
    passed = validated(SQUARE)
    for name, value in vars(SQUARE).items():
        if name != "uv_sets":
            np.testing.assert_array_equal(getattr(passed, name), value)
    np.testing.assert_array_equal(passed.uv_sets[0].corner_uv, SQUARE.uv_sets[0].corner_uv)


@pytest.mark.parametrize(
    ("changes", "cause"),
    [
        ({"face_start": ints([0])}, "it has no faces"),
        ({"face_start": ints([0, 3])}, "its faces do not use up its corners"),
        ({"face_start": ints([0, 2, 4])}, "a face has fewer than three corners"),
        ({"corner_position": ints([0, 1, 2, 4])}, "a face uses vertex 4 but only 4 are defined"),
        ({"corner_position": ints([0, -1, 2, 3])}, "a face uses vertex -1, which cannot be"),
        ({"corner_normal": ints([0, 1, 2, 9])}, "a face uses normal 9 but only 4 are defined"),
        ({"corner_normal": ints([0])}, "its corners and their attributes differ in number"),
        ({"face_part": ints([1])}, "a face uses part 1 but only 1 are defined"),
        ({"face_material": ints([-1])}, "a face uses material -1, which cannot be"),
        ({"face_smoothing": ints([])}, "its faces and their attributes differ in number"),
        (
            {"uv_sets": (UvSet("map", floats([[0, 0]]), ints([0, 0, 1, 0])),)},
            "a face uses texture coordinate of “map” 1 but only 1 are defined",
        ),
        (
            {"position": floats([[0, 0, 0], [1, np.inf, 0], [1, 1, 0], [0, 1, 0]])},
            "the position of vertex 1 (counted from 0) is not finite",
        ),
    ],
)
def test_an_unsound_asset_is_refused_with_its_cause(changes: dict, cause: str) -> None:
    with pytest.raises(FileProblem) as problem:
        validated(replace(SQUARE, **changes))
    assert problem.value.cause == cause


def test_a_position_that_no_face_uses_may_be_anything() -> None:
    position = floats([*SQUARE.position, [np.nan, 0, 0]])
    assert validated(replace(SQUARE, position=position)).face_count == 1


def test_texture_coordinates_that_are_not_finite_stay() -> None:
    odd = UvSet("uv", floats([[0, 0], [np.nan, 0], [1, np.inf], [0, 1]]), ints([0, 1, 2, -1]))
    (passed,) = validated(replace(SQUARE, uv_sets=(odd,))).uv_sets
    np.testing.assert_array_equal(passed.uv, odd.uv)


def test_normals_that_are_not_finite_count_as_absent() -> None:
    normal = floats([[0, 0, 1], [np.nan, 0, 0], [0, 0, 1], [0, np.inf, 0]])
    passed = validated(replace(SQUARE, normal=normal, corner_normal=ints([0, 1, 2, -1])))
    assert passed.corner_normal.tolist() == [0, -1, 2, -1]
    assert passed.caveats[-1] == "Normals that are not numbers were left out (1)."
