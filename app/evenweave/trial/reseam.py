"""New seams for a whole layout as they are advised: stragglers sewn on, islands cut open.

Where seams run is an artist's decision; this is for those who ask for it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from evenweave.check.numbers import counted
from evenweave.pipeline import LayoutReview
from evenweave.progress import Progress, silent, within
from evenweave.trial import jobs
from evenweave.trial.advice.advice import IslandAdvice, advise, worst_first
from evenweave.trial.advice.verdict import Verdict
from evenweave.trial.cut.cut import CutProposal
from evenweave.trial.document.document import Trial
from evenweave.trial.jobs import Tried
from evenweave.trial.safe.fixes import reason_to_leave
from evenweave.trial.sew.sew import propose_sews, without_sharing
from evenweave.trial.work.worker import NoAdvice, Worker

MOST_ROUNDS = 8
MOST_CUT = 400  # islands of a layout; those that are left stay as they are
STRETCHED = frozenset(("stretch", "density-range", "self-overlap", "flipped"))
"""Checks that say of an island that it does not lie well."""

_LOOKING = 0.7  # of the time; cutting takes the rest


Act = Callable[[Trial, int, Worker, Progress], Tried]


def reseamed(
    trial: Trial, worker: Worker, acts: Sequence[Act], progress: Progress = silent
) -> Tried:
    """Do acts of this module to all layouts that may be changed without the artist.

    What is said begins with the layout's name. Raises Cancelled where `progress` does.
    """
    said: list[str] = []
    numbers = range(len(trial.review.layouts))
    tasks = [(layout, act) for layout in numbers for act in acts]
    for done, (layout, act) in enumerate(tasks):
        judged = trial.review.layouts[layout]
        name = judged.layout.name or "no material"
        if reason := reason_to_leave(judged, trial.review.limits):
            said.append(f"{name}: left as it is, {reason}.")
            continue
        own = within(progress, done / len(tasks), (done + 1) / len(tasks))
        tried = act(trial, layout, worker, own)
        trial = tried.trial
        said += [f"{name}: {one[0].lower()}{one[1:]}" for one in tried.said]
    return Tried(trial, tuple(dict.fromkeys(said)))


def sew_fragments(trial: Trial, layout: int, worker: Worker, progress: Progress = silent) -> Tried:
    """Sew every straggler to the island it was cut from, where the whole lies well.

    Round after round, for what was sewn on may hold the next one. Raises Cancelled.
    """
    said: tuple[str, ...] = ()
    sewn = 0
    for number in range(MOST_ROUNDS):
        share = 1 - 0.5**number, 1 - 0.5 ** (number + 1)
        judged, limits = trial.review.layouts[layout], trial.review.limits
        proposals = propose_sews(
            judged.layout,
            judged.measures,
            worker,
            limits=limits,
            progress=within(progress, share[0], sum(share) / 2),
        )
        chosen = without_sharing([one for one in proposals if one.is_fragment])
        if not chosen:
            break
        try:
            sewing = jobs.sewing(layout, chosen)
            tried = sewing(trial, worker, within(progress, sum(share) / 2, share[1]))
        except NoAdvice:
            break
        sewn += judged.layout.island_count - tried.trial.review.layouts[layout].layout.island_count
        trial, said = tried.trial, (*said, *tried.said)
    words = f"Sewed {counted(sewn, 'straggler')} on." if sewn else "No straggler can be sewn on."
    return Tried(trial, (words, *said))


def cut_where_needed(
    trial: Trial, layout: int, worker: Worker, progress: Progress = silent
) -> Tried:
    """Cut open, along the best proposal, every island that its seams do not let lie well.

    Islands in stacks stay as they are. Raises Cancelled.
    """
    judged = trial.review.layouts[layout]
    every = _candidates(judged)
    islands = every[:MOST_CUT]
    cuts: dict[int, CutProposal] = {}
    looking = advise(judged, islands, worker, progress=within(progress, 0.0, _LOOKING))
    for island, advice in looking if islands else ():
        if cut := _sound_cut(advice):
            cuts[island] = cut
    said: tuple[str, ...] = ()
    if left := len(every) - len(islands):
        said = (f"{counted(left, 'island')} not looked at; do the same again for the next.",)
    if not cuts:
        return Tried(trial, ("No island is cut open: none is helped by it.", *said))
    try:
        tried = jobs.cutting(layout, cuts)(trial, worker, within(progress, _LOOKING, 1.0))
    except NoAdvice as refusal:
        return Tried(trial, (*said, f"Nothing was cut: {refusal.reason}."))
    words = f"Cut {counted(len(cuts) - len(tried.said), 'island')} open."
    return Tried(tried.trial, (words, *said, *tried.said))


def _candidates(judged: LayoutReview) -> tuple[int, ...]:
    """Return islands by themselves that are stretched beyond the limits or fold, worst first."""
    stacked = {i for group in judged.measures.stacks.group for i in group}
    found = {island for one in judged.findings if one.check in STRETCHED for island in one.islands}
    return tuple(i for i in worst_first(judged) if i in found and i not in stacked)


def _sound_cut(advice: IslandAdvice) -> CutProposal | None:
    """Return the best cut that leaves nothing folded or on itself, if a seam is needed."""
    if Verdict.SEAM not in advice.verdicts:
        return None
    sound = (one for one in advice.cuts if not one.energy.flips and one.overlap == 0)
    return next(sound, None)
