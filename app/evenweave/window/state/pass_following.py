"""Where what was selected and read in one pass is in the next."""

from __future__ import annotations

from evenweave.check.warning import LayoutWarning
from evenweave.compare.comparison import Comparison


def followed(
    one: Comparison, layout: int, islands: tuple[int, ...], warning: LayoutWarning | None
) -> tuple[int, tuple[int, ...], LayoutWarning | None]:
    """Return layout, islands and warning of the new pass for those of the old.

    Layouts and islands are found by surface; a warning is the one of the same check on the same
    islands, or on the first layout's of that check. What is gone is left out.
    """
    pairs = {change.old: change.new for change in one.layouts if change.new >= 0}
    new_layout = pairs.get(layout, 0)
    kept = _islands(one, layout, islands, new_layout)
    if warning is None or not one.new.layouts:
        return new_layout, kept, None
    meant = set(_islands(one, layout, warning.islands, new_layout))
    alike = [new for new in one.new.layouts[new_layout].warnings if new.check == warning.check]
    exact = [new for new in alike if meant == set(new.islands)]
    near = [new for new in alike if meant & set(new.islands)]
    return new_layout, kept, next(iter(exact or near or alike), None)


def _islands(
    one: Comparison, layout: int, islands: tuple[int, ...], new_layout: int
) -> tuple[int, ...]:
    first = int(one.match.old.layout_island[layout])
    found = [int(one.match.new_of_old[first + island]) for island in islands]
    places = [one.new_place(island) for island in found if island >= 0]
    return tuple(sorted({island for number, island in places if number == new_layout}))
