"""The words of advice, from `resources/advice.toml`."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache

from evenweave.check.numbers import counted, number, percent
from evenweave.check.texts import FIELDS, Explanation
from evenweave.places import resource
from evenweave.trial.advice.advice import IslandAdvice
from evenweave.trial.advice.verdict import Verdict
from evenweave.trial.cut.cut import CutProposal
from evenweave.trial.flatten.attainable import Attainable
from evenweave.trial.sew.sew import SewProposal

EVEN = 1.001
SAME_DENSITY = 0.02  # octaves
NO_ADDED, LEAST_ADDED = 1e-5, 1e-3  # energy below which it is none, or hardly any


@cache
def templates() -> Mapping[str, Mapping[str, str]]:
    """Return all templates as they stand in the file."""
    return tomllib.loads(resource("advice.toml").read_text(encoding="utf-8"))


def explain(key: str, variant: str, words: Mapping[str, str]) -> Explanation:
    """Fill the templates of one advice; `<field>_<variant>` goes before `<field>`."""
    own = templates()[key]
    return Explanation(
        **{name: own.get(f"{name}_{variant}", own[name]).format_map(words) for name in FIELDS}
    )


def explain_island(advice: IslandAdvice, island: str) -> tuple[Explanation, ...]:
    """Put the advice on an island of this name into words, one for each verdict."""
    found = advice.attainable
    if found is None:
        return (explain("none", "", {"island": island, "reason": advice.no_advice}),)
    words = {
        "island": island,
        "now": number(found.energy_now.value, 4),
        "best": number(found.energy_best.value, 4) if found.energy_best else "",
        "flips": counted(found.energy_now.flips, "triangle"),
        "obstacle": found.obstacle or _obstacle(found),
        "share": percent(found.overlap_best, 2),
        "nothing": "No seam was found that helps" + (advice.no_cuts and f": {advice.no_cuts}"),
    }
    if advice.cuts:
        words |= cut_words(advice.cuts[0])
    told = [explain(one.name.lower(), _variant(one, advice), words) for one in advice.verdicts]
    if found.caveat:
        caveat = f"{found.caveat[:1].upper()}{found.caveat[1:]}."
        told[0] = replace(told[0], what=f"{told[0].what} {caveat}")
    return tuple(told)


def _obstacle(attainable: Attainable) -> str:
    if attainable.overlap_best > 0:
        return f"with these seams {percent(attainable.overlap_best, 2)} of it lies on itself"
    return "these seams leave it nowhere to open"


def cut_words(cut: CutProposal) -> dict[str, str]:
    """Return the words that describe a cut: cuts, length, after, hidden, along, apart, them."""
    along = templates()["along"]
    return {
        "cuts": counted(len(cut.kinds), "cut"),
        "length": number(cut.length_m),
        "after": number(cut.energy.value, 4),
        "hidden": percent(cut.hidden_share, 2),
        "along": ", then ".join(dict.fromkeys(along[kind.value] for kind in cut.kinds)),
        "apart": f" in {counted(cut.pieces, 'piece')}" if cut.pieces > 1 else "",
        "them": "each piece" if cut.pieces > 1 else "the island",
    }


def explain_sew(sew: SewProposal, names: Sequence[str]) -> Explanation:
    """Put a proposal to sew into words; names : of the layout's islands."""
    first, second = sew.islands
    words = {
        "first": names[first],
        "second": names[second],
        "length": number(sew.length_m),
        "stretch": _stretch(sew),
        "fill": percent(sew.fill, 2),
        "step": number(abs(sew.step_octaves), 2),
        "scale": number(sew.scale),
    }
    if first == second:
        return explain("sew", "self", words)
    is_scaled = abs(sew.step_octaves) > SAME_DENSITY
    told = explain("sew", "fragment" if sew.is_fragment else "", words)
    return replace(told, do=explain("sew", "scaled", words).do) if is_scaled else told


def added_energy(sew: SewProposal) -> str:
    """Write the energy that a sew adds, "" where nobody could see it."""
    return number(sew.added, 2) if sew.added >= LEAST_ADDED else ""


def _stretch(sew: SewProposal) -> str:
    if added := added_energy(sew):
        return f"a stretch energy of {number(sew.energy.value, 4)}, {added} more"
    return "hardly more stretch" if sew.added > NO_ADDED else "no more stretch"


def _variant(verdict: Verdict, advice: IslandAdvice) -> str:
    found = advice.attainable
    if found is None:
        return ""
    if verdict is Verdict.SEAM and not advice.cuts:
        return "unknown"
    if verdict is Verdict.SEAM and found.obstacle:
        return "closed"
    if verdict is Verdict.SEAM and advice.cuts[0].overlap > 0:
        return "overlap"
    if verdict is Verdict.SEAM and found.overlap_best > 0:
        return "double"
    if verdict is Verdict.UNWRAP and found.energy_now.flips:
        return "flips"
    if verdict is Verdict.UNWRAP and found.overlap_now > 0:
        return "overlap"
    if verdict is Verdict.GOOD and found.energy_now.value < EVEN:
        return "even"
    return ""
