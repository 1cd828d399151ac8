"""Fix what is safe: in order, only where asked for, and never for the worse."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests import shapes

from evenweave.limits.limits import DEFAULT, Limits
from evenweave.mesh.asset import Asset
from evenweave.pipeline import Review, review
from evenweave.trial.document import document
from evenweave.trial.safe.fixes import Fixed, fix_safely
from evenweave.trial.safe.options import JUDGEMENT, FixOptions, Placing, asked_for
from evenweave.trial.uvs.asset_uvs import corner_values
from evenweave.trial.work.worker import TooLate, Worker

UV = NDArray[np.float64]


def two(change: tuple[float, float] = (1.0, 1.0)) -> Asset:
    """Two square sheets of 1 m side by side on the tile; the texture of one is scaled."""
    left = shapes.plane(columns=4, rows=4, bounds=(0.02, 0.02, 0.48, 0.48), part="left")
    right = shapes.plane(columns=4, rows=4, bounds=(0.52, 0.02, 0.98, 0.48), part="right")

    def scaled(uv: UV) -> UV:
        return (uv - [0.75, 0.25]) * change + [0.75, 0.25]

    moved = shapes.moved(shapes.textured(right, scaled), np.eye(3), (3.0, 0.0, 0.0))
    return shapes.together(left, moved)


def fixed(judged: Review, worker: Worker, options: FixOptions | None = None) -> Fixed:
    def own(one: object) -> FixOptions:
        return options or asked_for(judged.layouts[0], 0.2)

    return fix_safely(document.begin(judged), worker, options=own)


def left_over(done: Fixed) -> set[str]:
    return {w.check for one in done.trial.review.layouts for w in one.findings}


def test_a_layout_without_findings_stays_as_it_is(worker: Worker) -> None:
    judged = review(two(), Limits(coverage=0.3))
    assert not judged.layouts[0].findings
    done = fixed(judged, worker)
    assert done.trial.review is judged
    assert done.said == ("material: nothing to do.",)


def test_a_squashed_island_is_unwrapped_again(worker: Worker) -> None:
    judged = review(two((0.5, 1.0)), Limits(coverage=0.3))
    assert "stretch" in {w.check for w in judged.layouts[0].findings}
    done = fixed(judged, worker)
    assert "material: unwrapped 1 island again." in done.said
    assert left_over(done) <= JUDGEMENT
    # A plane can lie without any stretch.
    assert done.trial.review.layouts[0].measures.whole.stretch_max == pytest.approx(1, abs=1e-3)


def test_strips_not_tried_in_time_are_told(worker: Worker, monkeypatch: pytest.MonkeyPatch) -> None:
    judged = review(two(), Limits())

    def too_late(*asked: object, **how: object) -> None:
        worker.late += 1
        raise TooLate("it was stopped after 60 seconds")

    options = replace(asked_for(judged.layouts[0], 0.2), unwrap=False, straighten=True)
    monkeypatch.setattr(worker, "call", too_late)
    done = fixed(judged, worker, options)
    assert any("2 islands not tried as a strip" in words for words in done.said)


def test_one_step_takes_everything_back(worker: Worker) -> None:
    judged = review(two((0.5, 1.0)), Limits(coverage=0.3))
    done = fixed(judged, worker)
    assert len(done.trial.steps) == 1
    assert document.undone(done.trial).review is judged


def test_a_smaller_island_is_levelled_to_the_density_of_the_other(worker: Worker) -> None:
    judged = review(two((0.5, 0.5)), Limits(coverage=0.3))
    done = fixed(judged, worker)
    density = done.trial.review.layouts[0].measures.island.density_median
    assert density[0] == pytest.approx(density[1], rel=1e-6)
    assert "material: levelled densities." in done.said


def test_a_given_density_is_met_and_not_exceeded(worker: Worker) -> None:
    judged = review(two((0.5, 0.5)), Limits(coverage=0.1, target_density=500.0))
    done = fixed(judged, worker)
    density = done.trial.review.layouts[0].measures.island.density_median
    assert density == pytest.approx([500.0, 500.0], rel=1e-4)


def test_only_what_is_wished_is_done(worker: Worker) -> None:
    judged = review(two((0.5, 0.5)), Limits(coverage=0.3))
    options = FixOptions(False, False, False, Placing.ALWAYS, seconds=0.2)
    done = fixed(judged, worker, options)
    assert all("levelled" not in one and "unwrapped" not in one for one in done.said)
    before, after = (one.layouts[0].measures.island for one in (judged, done.trial.review))
    # One scale for all islands.
    ratio = after.density_median / before.density_median
    assert ratio[0] == pytest.approx(ratio[1], rel=1e-6)


def test_islands_of_a_stack_keep_their_shape(worker: Worker) -> None:
    one = two((0.5, 1.0))
    twin = shapes.moved(one, np.eye(3), (0.0, 0.0, 5.0))
    judged = review(shapes.together(one, twin), Limits(coverage=0.2))
    assert len(judged.layouts[0].measures.stacks.group) == 2
    done = fixed(judged, worker)
    assert all("unwrapped" not in words for words in done.said)
    assert len(done.trial.review.layouts[0].measures.stacks.group) == 2


def test_a_repeating_texture_is_left_to_the_artist(worker: Worker) -> None:
    limits = Limits(purposes=(("material", "tiling"),))
    done = fixed(review(two((0.5, 1.0)), limits), worker)
    assert not done.trial.steps
    assert done.said[0].startswith("material: left as it is, its texture repeats")


def test_several_tiles_are_left_to_the_artist(worker: Worker) -> None:
    spread = shapes.textured(two((0.5, 1.0)), lambda uv: uv + np.round(uv[:, :1]) * [1.0, 0.0])
    done = fixed(review(spread, replace(DEFAULT, udim=True)), worker)
    assert not done.trial.steps
    assert "spreads over several tiles" in done.said[0]


def test_room_for_padding_that_costs_much_density_is_not_made(worker: Worker) -> None:
    # Padding of half the tile: two squares of almost half a tile would shrink by far.
    limits = Limits(tile_width=128, tile_height=128, padding_px=64.0, margin_px=2.0)
    judged = review(two(), limits)
    assert "padding" in {w.check for w in judged.layouts[0].findings}
    done = fixed(judged, worker)
    assert not done.trial.steps
    assert "the density would fall by" in done.said[-1]
    options = FixOptions(False, False, False, Placing.ALWAYS, is_guarded=False, seconds=0.2)
    asked = fixed(judged, worker, options)
    assert asked.trial.review.layouts[0].measures.gaps.padding_px.min() >= 64


def test_what_does_not_fit_at_all_is_not_packed(worker: Worker) -> None:
    limits = Limits(tile_width=64, tile_height=64, padding_px=40.0, margin_px=40.0)
    done = fixed(review(two(), limits), worker)
    assert not done.trial.steps


def test_the_original_stays(worker: Worker) -> None:
    judged = review(two((0.5, 1.0)), Limits(coverage=0.3))
    before = corner_values(judged.asset.uv_sets[0]).copy()
    fixed(judged, worker)
    assert (corner_values(judged.asset.uv_sets[0]) == before).all()
