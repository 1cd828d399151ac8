"""Seams that could be sewn, stragglers first."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

from evenweave.check.texts import Explanation
from evenweave.pipeline import LayoutReview
from evenweave.progress import Progress
from evenweave.trial import jobs
from evenweave.trial.advice.text import explain_sew
from evenweave.trial.jobs import Job
from evenweave.trial.sew.sew import SewProposal, propose_sews, without_sharing
from evenweave.window.advice.advice_words import sew_row, tr
from evenweave.window.advice.proposals import Proposals, Words
from evenweave.window.parts.row_list import Row
from evenweave.window.services.session import Session
from evenweave.window.state.ghosts import Ghost, sew_ghost


class SewAdvice(Proposals):
    """Each pair of islands once; the ghost is the joined island."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        words = Words(
            name=tr("Seams to sew"),
            idle=tr("Look for seams"),
            nothing=tr("No seam was found that can be sewn without much stretch."),
            hint=tr(
                "Islands that could be joined with little stretch, stragglers first. Length of "
                "seam removed and energy added are listed."
            ),
        )
        super().__init__(session, session.advising.sewing, words, parent)

    def _find(self, judged: LayoutReview, progress: Progress) -> tuple[SewProposal, ...]:
        return propose_sews(
            judged.layout,
            judged.measures,
            self._session.advising.worker,
            limits=self._session.limits,
            progress=progress,
        )

    def _names(self) -> tuple[str, ...]:
        return self._judged.layout.island_name if self._judged is not None else ()

    def _row(self, key: int, proposal: SewProposal) -> Row:
        return sew_row(key, proposal, self._names())

    def _explained(self, proposal: SewProposal) -> Explanation:
        return explain_sew(proposal, self._names())

    def _ghost_of(self, proposal: SewProposal) -> Ghost | None:
        return sew_ghost(proposal, self._judged.layout) if self._judged is not None else None

    def _islands_of(self, proposal: SewProposal) -> tuple[int, ...]:
        return tuple(sorted(set(proposal.islands)))

    def _job(self, some: tuple[SewProposal, ...]) -> Job:
        return jobs.sewing(self._session.layout_index, some)

    def _worth_all(self) -> tuple[SewProposal, ...]:
        """Return the best proposals of which none touches another's islands."""
        return without_sharing(self.found or ())
