"""Short words on advice, for lists; the long ones are in the resources."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication

from evenweave.check.finding import Severity
from evenweave.check.numbers import number, percent
from evenweave.trial.advice.advice import IslandAdvice
from evenweave.trial.advice.text import added_energy, cut_words
from evenweave.trial.advice.verdict import Verdict
from evenweave.trial.cut.cut import CutProposal
from evenweave.trial.sew.sew import SewProposal
from evenweave.trial.straighten.straighten import StraightenAdvice
from evenweave.window.parts.row_list import Row

NO_ADVICE = "no advice"


def tr(text: str) -> str:
    """Translate a text of advice."""
    return QCoreApplication.translate("Advice", text)


def verdict_word(verdict: str) -> str:
    """Return a verdict, or `NO_ADVICE`, with a capital."""
    return tr(verdict[:1].upper() + verdict[1:])


def verdict_sign(verdict: str) -> Severity | None:
    """Return the sign that goes with a verdict: only what can be mended has one."""
    if verdict in (Verdict.UNWRAP, Verdict.SEAM):
        return Severity.WARNING
    return Severity.NOTE if verdict in (Verdict.MIRRORED, NO_ADVICE) else None


def verdicts_of(advice: IslandAdvice) -> tuple[str, ...]:
    """Return what is said of an island, gravest first."""
    return tuple(advice.verdicts) if advice.attainable is not None else (NO_ADVICE,)


def island_row(island: int, name: str, advice: IslandAdvice | None) -> Row:
    """Return an island's row."""
    if advice is None:
        return Row(island, tr("Not looked at yet"), name, is_faint=True)
    said = verdicts_of(advice)
    text = ", ".join((verdict_word(said[0]), *map(tr, said[1:])))
    short = ", ".join((_brief(said[0]).capitalize(), *map(_brief, said[1:])))
    is_good = said == (Verdict.GOOD,)
    tip = advice.no_advice or f"{name}\n{text}"
    return Row(island, short, name, verdict_sign(said[0]), is_faint=is_good, tip=tip)


def _brief(verdict: str) -> str:
    """Return a verdict as it fits beside a name."""
    brief: dict[str, str] = {
        Verdict.GOOD: tr("as good as seams allow"),
        Verdict.SEAM: tr("needs a seam"),
    }
    return brief.get(verdict, tr(verdict))


def energies(advice: IslandAdvice) -> str:
    """Return what is wrong now, and the energy now and attainable."""
    found = advice.attainable
    if found is None:
        return ""
    now = number(found.energy_now.value, 4)
    if found.energy_now.flips:
        now = tr("{count} flipped, {energy}").format(count=found.energy_now.flips, energy=now)
    if found.energy_best is None:
        return now
    best = number(found.energy_best.value, 4)
    if found.overlap_best > 0:
        return tr("{now} → {best}, on itself").format(now=now, best=best)
    return f"{now} → {best}"


def cut_row(key: int, cut: CutProposal) -> Row:
    """Return the row of a cut: how many pieces, length, stretch after, how much of it hides."""
    words = cut_words(cut)
    text = tr("Cut {length} m") if cut.pieces == 1 else tr("Part in {pieces}, {length} m")
    text = text.format(length=words["length"], pieces=cut.pieces)
    aside = tr("→ {after}, {hidden} hidden").format(
        after=words["after"], hidden=percent(cut.hidden_share, 2)
    )
    sign = Severity.NOTE if cut.overlap > 0 or cut.energy.flips else None
    tip = tr("mean stretch {mean}, {p95} at 95 % of the surface").format(
        mean=number(cut.energy.mean_stretch), p95=number(cut.energy.p95_stretch)
    )
    return Row(key, text, aside, sign, tip=f"{text}, {words['along']}\n{aside}\n{tip}")


def sew_row(key: int, sew: SewProposal, names: tuple[str, ...]) -> Row:
    """Return the row of a sew: who, how long, how much stretch it adds."""
    first, second = (names[k] for k in sew.islands)
    text = first if first == second else f"{first} + {_shortened(second, first)}"
    aside = f"{number(sew.length_m)} m"
    tip = first if first == second else f"{first} + {second}"
    if added := added_energy(sew):
        aside = f"{aside}, +{added}"
        tip = tr("{islands}\nadds {added} to the stretch energy").format(islands=tip, added=added)
    sign = Severity.WARNING if sew.is_fragment else None
    return Row(key, text, aside, sign, tip=tip)


def _shortened(name: str, other: str) -> str:
    """Return the number alone of an island of the same part: "mount 2" and "mount 19" → "19"."""
    part, _, number_ = name.rpartition(" ")
    same = part in (other, other.rpartition(" ")[0]) and part
    return number_ if same and number_.isdecimal() else name


def strip_row(strip: StraightenAdvice, names: tuple[str, ...]) -> Row:
    """Return the row of a strip."""
    is_wanted = strip.verdict.value == "straighten"
    text = tr(strip.words[:1].upper() + strip.words[1:])
    sign = Severity.WARNING if is_wanted else None
    return Row(strip.island, text, names[strip.island], sign, is_faint=not is_wanted, tip=text)
