"""All advice on one layout, gathered: islands, seams to sew, strips, densities and room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from evenweave.limits.limits import Limits
from evenweave.pipeline import LayoutReview
from evenweave.progress import Progress, silent, within
from evenweave.trial.advice.advice import IslandAdvice, advise
from evenweave.trial.pack.level import Levelled, LevelOptions, level
from evenweave.trial.pack.pack import Packing, PackOptions, pack
from evenweave.trial.sew.sew import SewProposal, propose_sews
from evenweave.trial.straighten.straighten import StraightenAdvice, StraightenVerdict, straighten
from evenweave.trial.work.worker import NoAdvice, Worker

PACK_SECONDS = 1.5


@dataclass(frozen=True, eq=False)
class Survey:
    """What is advised on one layout.

    islands : in the order asked for; sews : best first; strips : worth straightening or worth a
    word; levelled, packing : None where there is nothing to level or to pack, or no use in it
    late : questions that real time ended on a busy machine; their answers are not known
    """

    islands: tuple[tuple[int, IslandAdvice], ...]
    sews: tuple[SewProposal, ...]
    strips: tuple[StraightenAdvice, ...]
    levelled: Levelled | None
    packing: Packing | None
    late: int = 0


def survey(
    judged: LayoutReview,
    limits: Limits,
    islands: Sequence[int],
    worker: Worker,
    *,
    progress: Progress = silent,
) -> Survey:
    """Gather all advice on a layout, on some of its islands. Raises Cancelled."""
    layout, tile = judged.layout, judged.measures.tile
    own = within(progress, 0.0, 0.6)
    late = worker.late
    told = tuple(advise(judged, islands, worker, progress=own)) if islands else ()
    sews = propose_sews(
        layout, judged.measures, worker, limits=limits, progress=within(progress, 0.6, 0.8)
    )
    strips = straighten(
        layout, tile, islands, worker,
        stacks=judged.measures.stacks, progress=within(progress, 0.8, 0.9),
    )  # fmt: skip
    worth = [one for one in strips if one and one.verdict is not StraightenVerdict.STRAIGHT]
    return Survey(
        islands=told,
        sews=sews,
        strips=tuple(worth),
        levelled=_levelled(judged),
        packing=_packed(judged, within(progress, 0.9, 1.0)),
        late=worker.late - late,
    )


def _levelled(judged: LayoutReview) -> Levelled | None:
    options = LevelOptions(importance=tuple(judged.island_importance.tolist()))
    measures = judged.measures
    try:
        return level(judged.layout, measures.tile, options, stacks=measures.stacks)
    except NoAdvice:
        return None


def _packed(judged: LayoutReview, progress: Progress) -> Packing | None:
    if judged.purpose == "tiling" or judged.looks_tiling:
        return None
    options = PackOptions(
        padding_px=judged.limits.required_padding_px,
        margin_px=judged.limits.required_margin_px,
        importance=tuple(judged.island_importance.tolist()),
        seconds=PACK_SECONDS,
    )
    measures = judged.measures
    try:
        return pack(
            judged.layout, measures.tile, options, stacks=measures.stacks, progress=progress
        )
    except NoAdvice:
        return None
