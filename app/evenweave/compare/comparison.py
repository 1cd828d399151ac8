"""`compare`: two reviews in, one frozen `Comparison` out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenweave.arrays import FloatArray, IntArray, frozen
from evenweave.compare.figures import Figure, island_figures, layout_figures
from evenweave.compare.findings import FindingChange, findings
from evenweave.compare.matching.geometry import NewFaces, new_faces
from evenweave.compare.matching.matching import IslandMatch, match_surfaces
from evenweave.compare.matching.surface import Surface, surface_of
from evenweave.compare.motion import motion
from evenweave.compare.states import IslandChanges, island_changes
from evenweave.layout.layout import Tile
from evenweave.pipeline import LayoutReview, Review
from evenweave.progress import Progress, silent

LEAST_LAYOUT_SHARE = 0.05
"""Layouts are the same where they share so much of the smaller one's surface."""


@dataclass(frozen=True, eq=False)
class LayoutChange:
    """A layout of one pass or both. old, new : indices, -1 where there is none.

    figures : name -> value before and after, NaN where there is none
    """

    old: int
    new: int
    name: str
    figures: dict[str, Figure]


@dataclass(frozen=True, eq=False)
class Comparison:
    """How two passes of one asset differ. Islands are numbered over all layouts of their pass.

    match : islands by surface; islands : what became of each
    figures : name -> (K, 2) value before and after, for each row of `islands`
    layouts : matched by surface, in the new pass's order, those lost last
    findings : warnings new, grown, remaining, fixed, and gone with their coordinates
    new_faces : for each new layout
    """

    old: Review
    new: Review
    match: IslandMatch
    islands: IslandChanges
    figures: dict[str, FloatArray]
    layouts: tuple[LayoutChange, ...]
    findings: tuple[FindingChange, ...]
    new_faces: tuple[NewFaces, ...]

    def old_place(self, island: int) -> tuple[int, int]:
        """Return the layout, and the number in it, of an old island."""
        return _place(self.match.old, island)

    def new_place(self, island: int) -> tuple[int, int]:
        """Return the layout, and the number in it, of a new island."""
        return _place(self.match.new, island)

    def island_name(self, row: int) -> str:
        """Return the name of the island in a row of `islands`: the new one where there is one."""
        if self.islands.new[row] >= 0:
            layout, island = self.new_place(int(self.islands.new[row]))
            return self.new.layouts[layout].layout.island_name[island]
        layout, island = self.old_place(int(self.islands.old[row]))
        return self.old.layouts[layout].layout.island_name[island]

    def rows_of(self, state: str) -> IntArray:
        """Return the rows of `islands` that are in a state."""
        return np.flatnonzero([one == state for one in self.islands.state]).astype(np.int32)


def _place(surface: Surface, island: int) -> tuple[int, int]:
    first = surface.layout_island
    layout = int(first.searchsorted(island, side="right")) - 1
    return layout, island - int(first[layout])


def compare(old: Review, new: Review, progress: Progress = silent) -> Comparison:
    """Match the islands of two passes by surface and tell what changed.

    Both are to be judged under the same limits, or warnings change for that. Raises `Cancelled`
    where `progress` does.
    """
    progress(0.0, "matching islands")
    match = match_surfaces(
        surface_of([one.layout for one in old.layouts], old.asset),
        surface_of([one.layout for one in new.layouts], new.asset),
        names=(_names(old), _names(new)),
    )
    progress(0.7, "comparing islands")
    tile = new.layouts[0].measures.tile if new.layouts else Tile()
    outlines = _column(old, _outline), _column(new, _outline)
    changes = island_changes(match, motion(match, tile), outlines)
    progress(0.9, "comparing warnings")
    pairs = _layout_pairs(old, new, match)
    found = findings(old.layouts, new.layouts, match, pairs, changes.has_lost_uvs)
    result = Comparison(
        old=old,
        new=new,
        match=match,
        islands=changes,
        figures=_figures(old, new, changes),
        layouts=_layouts(old, new, pairs),
        findings=found,
        new_faces=new_faces(match, new.layouts),
    )
    progress(1.0, "done")
    return result


def _names(review: Review) -> tuple[str, ...]:
    return tuple(name for layout in review.layouts for name in layout.layout.island_name)


def _outline(layout_review: LayoutReview) -> FloatArray:
    seams = layout_review.measures.seams
    length: FloatArray = seams.island_seam_m + seams.island_border_m
    return length


def _column(review: Review, figure: object) -> FloatArray:
    assert callable(figure)
    return np.concatenate([np.empty(0), *(figure(layout) for layout in review.layouts)])


def _figures(old: Review, new: Review, changes: IslandChanges) -> dict[str, FloatArray]:
    before, after = island_figures(old), island_figures(new)
    return {
        name: frozen(
            np.stack(
                (
                    np.append(before[name], np.nan)[changes.old],
                    np.append(after[name], np.nan)[changes.new],
                ),
                axis=1,
            )
        )
        for name in before
    }


def _layout_pairs(old: Review, new: Review, match: IslandMatch) -> list[int]:
    """Return for each old layout the new one that it has become, or -1.

    That is the one that holds most of its surface; else the one of its name, if that is left
    over; else, for one without any coordinates, the only such one of as many faces.
    """
    pairs = _pairs_by_surface(match)
    names = {one.layout.name: number for number, one in enumerate(new.layouts)}
    for number, one in enumerate(old.layouts):
        namesake = names.get(one.layout.name, -1)
        if pairs[number] < 0 and namesake not in pairs:
            pairs[number] = namesake
    bare = [_bare_count(one) for one in new.layouts]
    for number, one in enumerate(old.layouts):
        count = _bare_count(one)
        alike = [k for k, faces in enumerate(bare) if faces == count > 0 and k not in pairs]
        if pairs[number] < 0 and len(alike) == 1:
            pairs[number] = alike[0]
    return pairs


def _bare_count(layout_review: LayoutReview) -> int:
    """Return how many faces a layout without any coordinates has, 0 for others."""
    return 0 if layout_review.layout.island_count else len(layout_review.layout.missing_face)


def _pairs_by_surface(match: IslandMatch) -> list[int]:
    old_first, new_first = match.old.layout_island, match.new.layout_island
    shared = np.zeros((len(old_first) - 1, len(new_first) - 1))
    rows = np.searchsorted(old_first, match.piece[:, 0], side="right") - 1
    columns = np.searchsorted(new_first, match.piece[:, 1], side="right") - 1
    np.add.at(shared, (rows, columns), match.piece_m2)
    areas = [
        np.diff(np.append(0.0, np.cumsum(side.island_area_m2))[side.layout_island])
        for side in (match.old, match.new)
    ]
    shared[shared < LEAST_LAYOUT_SHARE * np.minimum.outer(*areas)] = 0.0
    return [int(row.argmax()) if row.any() else -1 for row in shared]


def _layouts(old: Review, new: Review, pairs: Sequence[int]) -> tuple[LayoutChange, ...]:
    out = []
    for number, one in enumerate(new.layouts):
        before = pairs.index(number) if number in pairs else -1
        figures = layout_figures(old.layouts[before] if before >= 0 else None, one)
        out.append(LayoutChange(before, number, one.layout.name, figures))
    for number, one in enumerate(old.layouts):
        if all(number != change.old for change in out):
            out.append(LayoutChange(number, -1, one.layout.name, layout_figures(one, None)))
    return tuple(out)
