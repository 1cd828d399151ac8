"""The background work of the session: from a file, or from a review, to what views can show."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

from evenweave import pipeline as pipeline
from evenweave.compare.comparison import Comparison, compare
from evenweave.errors import SettingsProblem
from evenweave.limits.file import FoundLimits, discover
from evenweave.limits.limits import DEFAULT, Limits
from evenweave.mesh.asset import Asset
from evenweave.mesh.read import read
from evenweave.notes.waiving import Waiving
from evenweave.picture.scene.scene import Scene, prepare_scene
from evenweave.pipeline import Grouping, Review
from evenweave.progress import Progress, silent, within
from evenweave.report.machine.compare_waivers import WaivedChange, apart
from evenweave.window.state.island_rows import IslandRows, island_rows


@dataclass(frozen=True, eq=False)
class Prepared:
    """A review with what the views need of each layout."""

    review: Review
    rows: tuple[IslandRows, ...]
    scene: Scene


@dataclass(frozen=True, eq=False)
class Opened:
    """What opening a file brought, the limits found for it, and why a limits file failed."""

    prepared: Prepared
    found: FoundLimits
    problem: SettingsProblem | None


def opened(path: Path, known: FoundLimits, edited: Limits, progress: Progress) -> Opened:
    """Read and review a file.

    known, edited : the limits found for the file before, and those in force now; these stay as
    long as the same file of limits applies. Raises FileProblem, Cancelled.
    """
    found, problem = _limits_for(path)
    limits = edited if found == known else found.limits
    asset = read(path, within(progress, 0.0, 0.3))
    measured = remeasured(asset, limits, Grouping(), within(progress, 0.3, 1.0))
    return Opened(measured, found, problem)


@dataclass(frozen=True, eq=False)
class Pass:
    """The open file read anew: what there was, what there is, and how they differ.

    waiving : what is waived in what there is
    """

    before: Prepared
    after: Prepared
    comparison: Comparison
    waiving: Waiving

    @cached_property
    def told(self) -> tuple[Comparison, tuple[WaivedChange, ...]]:
        """The comparison with its open findings alone, and the waived ones."""
        return apart(self.comparison, self.waiving)


def same_way(like: Review, path: Path, limits: Limits, progress: Progress) -> Prepared:
    """Read and review a file with the unit and the grouping of another review.

    Raises FileProblem, Cancelled.
    """
    asset = read(path, within(progress, 0.0, 0.3))
    if not asset.unit.is_stated:
        asset = replace(asset, unit=like.asset.unit)
    grouping = like.grouping
    if grouping.uv_set not in {None, *(one.name for one in asset.uv_sets)}:
        grouping = replace(grouping, uv_set=None)
    return remeasured(asset, limits, grouping, within(progress, 0.3, 1.0))


def compared(old: Review, new: Review, progress: Progress = silent) -> Comparison:
    """Compare two reviews, both judged by the limits of the new one."""
    if old.limits != new.limits:
        old = pipeline.rejudge(old, new.limits)
    return compare(old, new, progress)


def remeasured(asset: Asset, limits: Limits, grouping: Grouping, progress: Progress) -> Prepared:
    """Review an asset that has been read."""
    review = pipeline.review(asset, limits, grouping, within(progress, 0.0, 0.7))
    return prepared(review, within(progress, 0.7, 1.0))


def rejudged(before: Prepared, limits: Limits, progress: Progress) -> Prepared:
    """Judge a review by other limits."""
    return prepared(pipeline.rejudge(before.review, limits, progress), old=before.scene)


def prepared(review: Review, progress: Progress = silent, old: Scene | None = None) -> Prepared:
    """Return the review made ready for the views.

    old : the scene of an earlier review; its meshes are used again where the layouts are the same
    """
    rows = tuple(island_rows(one) for one in review.layouts)
    if old is not None and _draws(old, review):
        pairs = zip(old.flats, review.layouts, strict=True)
        flats = tuple(replace(flat, review=one) for flat, one in pairs)
        return Prepared(review, rows, replace(old, review=review, flats=flats))
    return Prepared(review, rows, prepare_scene(review, progress))


def _draws(scene: Scene, review: Review) -> bool:
    """Whether the scene's meshes are those of the review's layouts."""
    before = [id(one.layout) for one in scene.review.layouts]
    return before == [id(one.layout) for one in review.layouts]


def _limits_for(path: Path) -> tuple[FoundLimits, SettingsProblem | None]:
    """The limits that apply to a file; the defaults, and why, where their file is unusable."""
    try:
        return discover(path.parent), None
    except SettingsProblem as problem:
        return FoundLimits(DEFAULT, None), problem
