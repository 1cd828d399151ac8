"""Does the order of densities follow the order of importance: budget."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenweave.arrays import BoolArray, FloatArray, IntArray
from evenweave.check.finding import Severity
from evenweave.check.numbers import density, number
from evenweave.check.rules.evenness import octaves
from evenweave.check.rules.islands import SLACK, exceeds, on_islands
from evenweave.check.subject import Check, Hit, Subject

MOST_NAMED = 200


def _budget(subject: Subject) -> list[Hit]:
    """Name the fewest islands that put the others in order when left out.

    One unimportant island with too much is named, rather than everything that has less.
    """
    if (subject.importance == subject.importance[:1]).all():
        return []
    order = _Order(
        importance=subject.importance,
        amount=octaves(subject.measures.island.density_median),
        limit=subject.limits.density_octaves,
    )
    short, richer = order.against_rivals(1.0)
    rich, poorer = order.against_rivals(-1.0)
    is_named = order.fewest_to_blame(exceeds(short, order.limit))
    is_short = is_named & exceeds(short, order.limit)
    return _finding(subject, is_short, short, richer) + _finding(
        subject, is_named & ~is_short, rich, poorer, variant="rich"
    )


@dataclass(frozen=True, eq=False)
class _Order:
    """Islands by importance, (I,), and by amount, (I,) log2 of density (NaN takes no part).

    Two islands are in conflict where the less important one has more by over `limit` octaves.
    """

    importance: FloatArray
    amount: FloatArray
    limit: float

    def against_rivals(self, sign: float) -> tuple[FloatArray, IntArray]:
        """Return how much more the richest of less importance has, and that island.

        With sign -1: how much less the poorest of more importance has. -inf, -1: there is none.
        """
        rank, amount = sign * self.importance, sign * self.amount
        excess = np.full(len(rank), -np.inf)
        rival = np.full(len(rank), -1, dtype=np.int32)
        usable = np.isfinite(amount)
        for level in np.unique(rank)[1:]:
            lower = np.flatnonzero(usable & (rank < level))
            here = usable & (rank == level)
            if len(lower):
                most = lower[np.argmax(amount[lower])]
                excess[here] = amount[most] - amount[here]
                rival[here] = most
        return excess, rival

    def fewest_to_blame(self, is_preferred: BoolArray) -> BoolArray:
        """Name islands until no conflict is left, each time the one in most conflicts.

        Of two in equally many the preferred one is named.
        """
        named = np.zeros(len(self.amount), dtype=bool)
        conflicts = self._conflicts()
        for _ in range(MOST_NAMED):
            if not conflicts.any():
                break
            one = int(np.argmax(conflicts + np.where(is_preferred & (conflicts > 0), 0.5, 0.0)))
            named[one] = True
            conflicts[self._against(one) & ~named] -= 1
            conflicts[one] = 0
        return named

    def _conflicts(self) -> FloatArray:
        """Return the number of conflicts of each island."""
        count = np.zeros(len(self.amount))
        levels = np.unique(self.importance)
        groups = [np.flatnonzero(self.importance == level) for level in levels]
        step = self.limit + SLACK
        for low, lower in enumerate(groups):
            for higher in groups[low + 1 :]:
                less, more = np.sort(self.amount[lower]), np.sort(self.amount[higher])
                less, more = less[np.isfinite(less)], more[np.isfinite(more)]
                above = np.searchsorted(less, self.amount[higher] + step, side="right")
                count[higher] += len(less) - np.minimum(above, len(less))
                below = np.searchsorted(more, self.amount[lower] - step, side="left")
                count[lower] += np.where(np.isfinite(self.amount[lower]), below, 0)
        return count

    def _against(self, index: int) -> BoolArray:
        rank, amount, step = self.importance[index], self.amount[index], self.limit + SLACK
        has_more = (self.importance < rank) & (self.amount > amount + step)
        has_less = (self.importance > rank) & (self.amount < amount - step)
        return np.asarray(has_more | has_less)


def _finding(
    subject: Subject,
    is_failing: BoolArray,
    excess: FloatArray,
    rival: IntArray,
    *,
    variant: str = "",
) -> list[Hit]:
    if not is_failing.any():
        return []
    worst = int(np.flatnonzero(is_failing)[np.argmax(excess[is_failing])])
    other = int(rival[worst])
    got, unit = subject.measures.island.density_median, subject.limits.density_unit
    return on_islands(
        subject,
        is_failing,
        value=excess,
        badness=excess,
        limit=subject.limits.density_octaves,
        variant=variant,
        words={
            "importance": number(float(subject.importance[worst])),
            "density": density(float(got[worst]), unit),
            "other": subject.name(other),
            "other_importance": number(float(subject.importance[other])),
            "other_density": density(float(got[other]), unit),
        },
    )


BUDGET = Check("budget", Severity.WARNING, "octaves", _budget, of_lightmaps=False)
