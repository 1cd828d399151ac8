"""Strips that could be straight, what that costs in stretch and gains in the tile."""

from __future__ import annotations

from PySide6.QtWidgets import QLabel, QPushButton, QWidget

from evenweave.check.numbers import number, percent
from evenweave.check.texts import Explanation
from evenweave.pipeline import LayoutReview
from evenweave.progress import Progress
from evenweave.trial import jobs
from evenweave.trial.jobs import Job
from evenweave.trial.pack.pack import PackOptions
from evenweave.trial.straighten.straighten import (
    StraightenAdvice,
    StraightenGain,
    StraightenVerdict,
    packing_gain,
    straighten,
)
from evenweave.window.advice.advice_words import strip_row, tr
from evenweave.window.advice.proposals import Proposals, Words
from evenweave.window.parts.row_list import Row
from evenweave.window.services.session import Session
from evenweave.window.state.ghosts import Ghost, change_ghost


class StripAdvice(Proposals):
    """Strips of the layout, those worth straightening first; the ghost is the straight version."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        words = Words(
            name=tr("Strips to straighten"),
            idle=tr("Look for strips"),
            nothing=tr("No island is a strip, or all strips are straight as they are."),
            hint=tr("Bowed strips, what a straight version costs, and what the tile gains by it."),
        )
        super().__init__(session, session.advising.straightening, words, parent)
        self._packing = session.advising.gaining
        self.measure = QPushButton(self.tr("Measure the &gain in the tile"), self)
        self.gain = QLabel(self)
        self.gain.setWordWrap(True)
        self.gain.hide()
        self.foot.addWidget(self.measure)
        self.foot.addWidget(self.gain)
        self.measure.clicked.connect(self._on_measure_clicked)
        self._packing.failed.connect(session.problem_met)
        self._packing.started.connect(self._enable)
        self._packing.ended.connect(self._enable)
        self._enable()

    def _find(self, judged: LayoutReview, progress: Progress) -> tuple[StraightenAdvice, ...]:
        islands = range(judged.layout.island_count)
        found = straighten(
            judged.layout,
            judged.measures.tile,
            islands,
            self._session.advising.worker,
            stacks=judged.measures.stacks,
            progress=progress,
        )
        strips = [
            one
            for one in found
            if one is not None and one.verdict is not StraightenVerdict.STRAIGHT
        ]
        return tuple(sorted(strips, key=lambda one: (not _is_wanted(one), one.added_stretch)))

    def _row(self, key: int, advice: StraightenAdvice) -> Row:
        names = self._judged.layout.island_name if self._judged is not None else ()
        row = strip_row(advice, names)
        return Row(key, row.text, row.aside, row.sign, row.is_faint, row.tip)

    def _explained(self, advice: StraightenAdvice) -> Explanation:
        name = self._judged.layout.island_name[advice.island] if self._judged is not None else ""
        strip = advice.strip
        what = tr(
            "{island} bends by {bow} of its length and fills {now} of its box; straight it fills "
            "{straight}, {length} × {width} texels, at {added} more mean stretch."
        ).format(
            island=name,
            bow=percent(strip.bow_now),
            now=percent(strip.fill_now, 2),
            straight=percent(strip.fill_straight, 2),
            length=number(advice.length_px),
            width=number(advice.width_px),
            added=percent(max(advice.added_stretch, 0.0), 2),
        )
        title = advice.words[:1].upper() + advice.words[1:]
        why = tr("A straight strip packs closely and shows the texel grid without steps.")
        if advice.verdict is StraightenVerdict.TAPER:
            why += " " + tr("This one is {ratio} times as wide at one end as at the other.").format(
                ratio=number(advice.taper)
            )
        do = tr("Try it on the copy, and measure by packing what the tile gains.")
        if advice.verdict is StraightenVerdict.STACKED:
            do = tr("Straighten one of the stack by hand and lay the others on it again.")
        return Explanation(title, what, why, do, "")

    def _ghost_of(self, advice: StraightenAdvice) -> Ghost | None:
        scene = self._session.scene
        if scene is None:
            return None
        return change_ghost(
            scene.flats[self._session.layout_index], (advice.island,), advice.change
        )

    def _islands_of(self, advice: StraightenAdvice) -> tuple[int, ...]:
        return (advice.island,)

    def _job(self, some: tuple[StraightenAdvice, ...]) -> Job:
        return jobs.straightening(self._session.layout_index, some)

    def _worth_all(self) -> tuple[StraightenAdvice, ...]:
        return tuple(one for one in self.found or () if _is_wanted(one))

    def _enable(self) -> None:
        super()._enable()
        if hasattr(self, "measure"):
            is_busy = self._packing.is_busy
            self.measure.setText(
                self.tr("Packing both ways…")
                if is_busy
                else self.tr("Measure the &gain in the tile")
            )
            self.measure.setEnabled(not is_busy and bool(self._worth_all()))

    def _on_session_layout_chosen(self) -> None:
        super()._on_session_layout_chosen()
        if hasattr(self, "gain") and self.found is None:
            self._packing.cancel()
            self.gain.hide()

    def _on_measure_clicked(self) -> None:
        judged, strips = self._judged, self._worth_all()
        if judged is None or not strips:
            return
        options = PackOptions(
            padding_px=judged.limits.required_padding_px, margin_px=judged.limits.required_margin_px
        )

        def work(progress: Progress) -> StraightenGain:
            measures = judged.measures
            return packing_gain(
                judged.layout, measures.tile, strips, options,
                stacks=measures.stacks, progress=progress,
            )  # fmt: skip

        self._packing.submit(work, self._show_gain)

    def _show_gain(self, straighten_gain: StraightenGain) -> None:
        verb = self.tr("gains") if straighten_gain.coverage >= 0 else self.tr("loses")
        self.gain.setText(
            self.tr(
                "Packed as they are {before}, straight {after}: the tile {verb} {gain}."
            ).format(
                before=percent(straighten_gain.before.coverage),
                after=percent(straighten_gain.after.coverage),
                verb=verb,
                gain=percent(abs(straighten_gain.coverage)),
            )
        )
        self.gain.show()


def _is_wanted(advice: StraightenAdvice) -> bool:
    return advice.verdict is StraightenVerdict.STRAIGHTEN
