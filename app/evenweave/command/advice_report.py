"""Advice as a person reads it in a terminal, and as a program reads it."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import zip_longest
from typing import Any

import numpy as np

from evenweave import __version__
from evenweave.check.numbers import counted, number, percent, printable
from evenweave.check.texts import Explanation
from evenweave.layout.layout import Layout
from evenweave.pipeline import LayoutReview, Review
from evenweave.report.text.wrapping import wrapped
from evenweave.trial.advice.advice import IslandAdvice
from evenweave.trial.advice.text import explain_island, explain_sew
from evenweave.trial.advice.verdict import Verdict
from evenweave.trial.cut.cut import CutProposal
from evenweave.trial.document.survey import Survey
from evenweave.trial.flatten.energy import Energy

MOST_SEWS = 5
MOST_ENDS = 4  # of a cut that are named
LEVEL_OCTAVES = 0.02  # below which an island's density counts as level
LABEL = 20  # the longest, "needs another seam", and a gap
HANGING = " " * (4 + LABEL)
LEAST_COVERAGE_GAIN = 0.02

Json = dict[str, Any]


def advice_lines(review: Review, surveys: Sequence[Survey]) -> str:
    """Write advice as text, layout by layout."""
    lines = [printable(str(review.asset.path))]
    for judged, found in zip(review.layouts, surveys, strict=True):
        count = counted(judged.layout.island_count, "island")
        lines += ["", f"  {printable(judged.layout.name) or 'no material'} ({count})"]
        told = list(_layout_lines(judged, found))
        lines += told or ([] if found.late else ["    nothing to advise"])
        if found.late:
            words = f"{counted(found.late, 'question')} given up: the machine is too busy."
            lines += _wrapped("not known", words)
    return "\n".join(lines) + "\n"


def _layout_lines(judged: LayoutReview, survey: Survey) -> Iterator[str]:
    names = judged.layout.island_name
    told = [(i, one) for i, one in survey.islands if one.verdicts != (Verdict.GOOD,)]
    good = len(survey.islands) - len(told)
    yield from _island_lines(judged, told)
    for sew in survey.sews[:MOST_SEWS]:
        yield from _told(explain_sew(sew, names))
    if len(survey.sews) > MOST_SEWS:
        yield from _wrapped("sew", f"{len(survey.sews) - MOST_SEWS:,} more seams could be sewn.")
    for strip in survey.strips:
        yield from _wrapped("straighten", f"{names[strip.island]}: {strip.words}.")
    yield from _room_lines(judged, survey)
    if good:
        rest = judged.layout.island_count - len(survey.islands)
        more = f"; {counted(rest, 'further island')} not looked at" if rest else ""
        yield from _wrapped("good", f"{counted(good, 'island')} as good as the seams allow{more}.")


def _island_lines(
    judged: LayoutReview, advised: Sequence[tuple[int, IslandAdvice]]
) -> Iterator[str]:
    """Say what is to be done once for all islands it is said of, in the order of the worst."""
    what: dict[tuple[str, str], list[str]] = {}
    for island, advice in advised:
        for verdict, words in zip_longest(
            advice.verdicts, explain_island(advice, judged.layout.island_name[island])
        ):
            do = words.do
            if verdict is Verdict.SEAM and advice.cuts:
                do = f"{do} {ends_of_cut(judged.layout, advice.cuts[0])}"
            what.setdefault((words.title.lower(), do), []).append(words.what)
    for (title, do), sentences in what.items():
        for number_, sentence in enumerate(sentences):
            yield from _wrapped("" if number_ else title, sentence)
        yield from _wrapped("", do)


def ends_of_cut(layout: Layout, cut: CutProposal) -> str:
    """Say where the ends of a cut lie on the texture and on the surface, a sentence."""
    _point, first, count = np.unique(cut.edge_point, return_index=True, return_counts=True)
    ends = first[count == 1] if (count == 1).any() else first[:1]
    flat = cut.edge_uv.reshape(-1, 2)
    metres = layout.point_m[cut.edge_point.reshape(-1)]
    size = float(np.ptp(layout.point_m, axis=0).max())
    places = [
        f"uv {coordinates(flat[row], 1.0)} (on the surface {coordinates(metres[row], size)} m)"
        for row in ends[:MOST_ENDS]
    ]
    more = f" and {len(ends) - MOST_ENDS} more" if len(ends) > MOST_ENDS else ""
    begins = "Its ends" if len(ends) > 1 else "It runs through"
    return f"{begins}: {'; '.join(places)}{more}."


def coordinates(values: Iterable[float], size: float) -> str:
    """Write coordinates to a ten-thousandth of the size of what they lie in."""
    decimals = 4 - math.floor(math.log10(size)) if size > 0 else 4
    return ", ".join(number(round(float(one), decimals) + 0.0, 4) for one in values)


def _room_lines(judged: LayoutReview, survey: Survey) -> Iterator[str]:
    if survey.levelled is not None:
        off = int(_off_level(survey).sum())
        if off:
            scale = survey.levelled.scale[_off_level(survey)]
            yield from _wrapped(
                "level",
                f"{counted(off, 'island')} would be scaled by {number(float(scale.min()))} to "
                f"{number(float(scale.max()))}, to give each the density its importance deserves.",
            )
    coverage = judged.measures.coverage.total
    if survey.packing is not None and survey.packing.coverage - coverage > LEAST_COVERAGE_GAIN:
        yield from _wrapped(
            "pack",
            f"Islands cover {percent(coverage)} of the tile; packed anew they cover "
            f"{percent(survey.packing.coverage)}. No packing can exceed "
            f"{percent(survey.packing.bound)} with this padding and margin.",
        )


def _off_level(survey: Survey) -> np.ndarray[Any, np.dtype[np.bool_]]:
    if survey.levelled is None:
        return np.zeros(0, bool)
    return np.asarray(np.abs(np.log2(survey.levelled.scale)) > LEVEL_OCTAVES)


def _told(explanation: Explanation) -> Iterator[str]:
    yield from _wrapped(explanation.title.lower(), explanation.what)
    yield from _wrapped("", explanation.do)


def _wrapped(label: str, text: str) -> list[str]:
    return wrapped(f"    {label:<{LABEL}}", text, HANGING)


def advice_json(review: Review, surveys: Sequence[Survey]) -> str:
    """Write advice as JSON; what cannot be told is null."""
    result = {
        "evenweave": __version__,
        "advice": 1,
        "path": str(review.asset.path),
        "layouts": [
            _layout(judged, found) for judged, found in zip(review.layouts, surveys, strict=True)
        ],
    }
    return json.dumps(_plain(result), ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def _layout(judged: LayoutReview, survey: Survey) -> Json:
    names = judged.layout.island_name
    packing, levelled = survey.packing, survey.levelled
    return {
        "given_up": survey.late,
        "name": judged.layout.name,
        "uv_set": judged.layout.uv_set,
        "island_count": judged.layout.island_count,
        "islands": [_island(i, judged.layout, advice) for i, advice in survey.islands],
        "sew": [
            {
                "islands": list(sew.islands),
                "length_m": sew.length_m,
                "edges_m": judged.layout.point_m[sew.edge_point].tolist(),
                "energy": sew.energy.value,
                "added_energy": sew.added,
                "box_fill": sew.fill,
                "density_step_octaves": sew.step_octaves,
                "is_straggler": sew.is_fragment,
                **_words(explain_sew(sew, names)),
            }
            for sew in survey.sews
        ],
        "straighten": [
            {
                "island": strip.island,
                "name": names[strip.island],
                "verdict": strip.verdict.value,
                "added_stretch": strip.added_stretch,
                "taper": strip.taper,
            }
            for strip in survey.strips
        ],
        "level": levelled and {"density": levelled.density, "scale": levelled.scale.tolist()},
        "pack": packing
        and {
            "coverage_now": judged.measures.coverage.total,
            "coverage": packing.coverage,
            "bound": packing.bound,
            "scale": packing.scale,
            "padding_px": packing.padding_px,
            "margin_px": packing.margin_px,
        },
    }


def _island(island: int, layout: Layout, advice: IslandAdvice) -> Json:
    found, name = advice.attainable, layout.island_name[island]
    return {
        "id": island,
        "name": name,
        "verdicts": [str(one) for one in advice.verdicts],
        "no_advice": advice.no_advice or None,
        "now": found and _energy(found.energy_now, found.overlap_now),
        "attainable": found
        and found.energy_best
        and _energy(found.energy_best, found.overlap_best),
        "cuts": [_cut(one, layout) for one in advice.cuts],
        "no_cuts": advice.no_cuts or None,
        "told": [_words(one) for one in explain_island(advice, name)],
    }


def _energy(energy: Energy, overlap: float) -> Json:
    return {
        "energy": energy.value,
        "mean_stretch": energy.mean_stretch,
        "p95_stretch": energy.p95_stretch,
        "flips": energy.flips,
        "overlap": overlap,
    }


def _cut(cut: CutProposal, layout: Layout) -> Json:
    return {
        "kinds": [kind.value for kind in cut.kinds],
        "length_m": cut.length_m,
        "hidden_share": cut.hidden_share,
        "pieces": cut.pieces,
        "edges_uv": cut.edge_uv.tolist(),
        "edges_m": layout.point_m[cut.edge_point].tolist(),
        **_energy(cut.energy, cut.overlap),
    }


def _words(explanation: Explanation) -> Json:
    return {"title": explanation.title, "what": explanation.what, "do": explanation.do}


def _plain(value: Any) -> Any:
    """Return the value with numbers that are none as null."""
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_plain(one) for one in value]
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    return value
