"""Where what was selected and read in one pass is in the next."""

from __future__ import annotations

from evenweave.check.finding import Finding
from evenweave.compare.comparison import Comparison


def followed(
    comparison: Comparison, layout: int, islands: tuple[int, ...], finding: Finding | None
) -> tuple[int, tuple[int, ...], Finding | None]:
    """Return layout, islands and finding of the new pass for those of the old.

    Layouts and islands are found by surface; a warning is the one of the same check on the same
    islands, or on the first layout's of that check. What is gone is left out.
    """
    pairs = {change.old: change.new for change in comparison.layouts if change.new >= 0}
    new_layout = pairs.get(layout, 0)
    kept = _islands(comparison, layout, islands, new_layout)
    if finding is None or not comparison.new.layouts:
        return new_layout, kept, None
    meant = set(_islands(comparison, layout, finding.islands, new_layout))
    alike = [
        new for new in comparison.new.layouts[new_layout].findings if new.check == finding.check
    ]
    exact = [new for new in alike if meant == set(new.islands)]
    near = [new for new in alike if meant & set(new.islands)]
    return new_layout, kept, next(iter(exact or near or alike), None)


def _islands(
    comparison: Comparison, layout: int, islands: tuple[int, ...], new_layout: int
) -> tuple[int, ...]:
    first = int(comparison.match.old.layout_island[layout])
    found = [int(comparison.match.new_of_old[first + island]) for island in islands]
    places = [comparison.new_place(island) for island in found if island >= 0]
    return tuple(sorted({island for number, island in places if number == new_layout}))
