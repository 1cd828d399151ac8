"""Fix what is safe: what can be mended without an artist's judgement, in one step a layout.

In this order, for each change makes room for the next:

    unwrap      islands that the same seams let lie much better; no seam moves
    straighten  bowed strips where that costs little stretch and the packing does not suffer
    level       every island scaled to the density that its importance deserves
    pack        all islands placed anew, with the wished padding and margin

Unless more is asked for, only that is done which the findings of a layout ask for: densities
are levelled where one is off, and islands are placed anew where one lies badly or was changed.
Left alone are layouts that tile or spread over several tiles, and the shapes of islands that
lie in stacks, which share texels on purpose. A layout that would have more faults, or as many
and more warnings, or would lose half an octave of density, stays as it is.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from evenweave.check.finding import Severity
from evenweave.check.numbers import number
from evenweave.limits.limits import Limits
from evenweave.pipeline import LayoutReview
from evenweave.progress import Progress, silent, within
from evenweave.trial.document.document import Trial, applied, step
from evenweave.trial.safe.options import FixOptions, asked_for
from evenweave.trial.safe.work import Work
from evenweave.trial.uvs.retexture import joined
from evenweave.trial.work.worker import Worker

MOST_FALL = 0.5  # octaves of density, that room for padding may cost


@dataclass(frozen=True, eq=False)
class Fixed:
    """The trial with one step more for each layout that was changed.

    said : sentences on what was done and what was left, each begun with the layout's name
    """

    trial: Trial
    said: tuple[str, ...]


def fix_safely(
    trial: Trial,
    worker: Worker,
    *,
    options: Callable[[LayoutReview], FixOptions] = asked_for,
    layouts: tuple[int, ...] | None = None,
    progress: Progress = silent,
) -> Fixed:
    """Fix all layouts of a trial, or some; `wish` tells what to do to each.

    Raises Cancelled where `progress` does.
    """
    numbers = range(len(trial.review.layouts)) if layouts is None else layouts
    said: list[str] = []
    for done, layout in enumerate(numbers):
        own = within(progress, done / len(numbers), (done + 1) / len(numbers))
        judged = trial.review.layouts[layout]
        reason = reason_to_leave(judged, trial.review.limits)
        if reason:
            said.append(f"{_name(judged)}: left as it is, {reason}.")
            continue
        trial, words = _fixed(trial, layout, options(judged), worker=worker, progress=own)
        said += [f"{_name(judged)}: {one}." for one in words]
    return Fixed(trial, tuple(said))


def _name(judged: LayoutReview) -> str:
    return judged.layout.name or "no material"


def reason_to_leave(judged: LayoutReview, limits: Limits) -> str:
    """Return why nothing in a layout is changed without the artist, a phrase, "" where it may."""
    if not judged.layout.island_count:
        return "it has no islands"
    if judged.purpose == "tiling":
        return "its texture repeats, and where islands lie is the artist's choice"
    if judged.looks_tiling:
        return "it looks like a repeating texture; state its purpose in the limits"
    if judged.udim and len(judged.measures.coverage.tile) > 1:
        return "it spreads over several tiles, and what lies where is the artist's choice"
    return ""


def _fixed(
    trial: Trial, layout: int, options: FixOptions, *, worker: Worker, progress: Progress
) -> tuple[Trial, list[str]]:
    """Try everything; where that is worse than before, without straightening; else leave it."""
    before = trial.review.layouts[layout]
    work = Work(before, trial.review.limits, options, worker)
    work.run(within(progress, 0.0, 0.9))
    worse = ""
    for bench in work.results():
        change = joined(bench.changes)
        if not len(change.corner):
            return trial, [*work.said, "nothing to do"]
        words = f"fix what is safe in {_name(before)}"
        after = applied(trial, step(words, layout, [change]), within(progress, 0.9, 1.0))
        worse = _in_what_worse(before, after.review.layouts[layout], trial.review.limits)
        if not worse or not options.is_guarded:
            return after, [*work.said, *bench.said]
    return trial, [*work.said, f"left as it is, for {worse}"]


def _in_what_worse(before: LayoutReview, after: LayoutReview, limits: Limits) -> str:
    """Return in what a layout became worse, a phrase; "" if in nothing that counts."""
    faults = [_found(one, Severity.FAULT) for one in (before, after)]
    findings = [_found(one, Severity.WARNING) for one in (before, after)]
    if faults[1] > faults[0]:
        return "there would be more faults"
    if faults[1] == faults[0] and findings[1] > findings[0]:
        return "there would be more warnings"
    had, has = (one.measures.whole.density_median for one in (before, after))
    wanted = had if limits.target_density is None else min(had, limits.target_density)
    fall = math.log2(wanted / has) if wanted > 0 and has > 0 else 0.0
    if fall > MOST_FALL:
        return f"with the wished padding the density would fall by {number(fall, 2)} octaves"
    return ""


def _found(judged: LayoutReview, severity: Severity) -> int:
    """Count islands, once for each thing found about them."""
    return sum(max(len(one.islands), 1) for one in judged.findings if one.severity is severity)
