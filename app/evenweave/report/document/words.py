"""The words of a review document: verdict, notes, waivers, limits, where it comes from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from evenweave import __version__
from evenweave.check.finding import Severity
from evenweave.check.numbers import counted, number, printable
from evenweave.check.texts import title
from evenweave.limits.limits import DEFAULT, SETTINGS, Limits, range_of
from evenweave.notes.locating import FoundNote
from evenweave.notes.store import Waiver
from evenweave.notes.waiver_words import MEANING, by_whom, not_holding, open_severities, verdict
from evenweave.notes.waiving import Waiving
from evenweave.picture.lettering.pins import letters
from evenweave.pipeline import Review
from evenweave.report.document.content import NoteLine, Pair, WaiverLine


def headline(judged: Waiving) -> str:
    """Return the verdict in a few words."""
    every = [one for layout in judged.layouts for one in layout]
    count = Counter(open_severities(every))
    if faults := count[Severity.FAULT]:
        return f"{counted(faults, 'fault')} to mend"
    if findings := count[Severity.WARNING]:
        return f"No faults, {counted(findings, 'warning')} to look at"
    return "Nothing left to mend" if every else "Nothing to remark"


def sentences(judged: Waiving, located: Sequence[FoundNote]) -> tuple[str, ...]:
    """Return what stands below the headline."""
    every = [one for layout in judged.layouts for one in layout]
    is_open = verdict(open_severities(every)) if judged.worst_open or not every else "nothing"
    waived = f" Waived: {judged.waived_count:,}." if judged.waived_count else ""
    out = [f"Open: {is_open}.{waived}"]
    states = Counter(one.note.state for one in located)
    if located:
        parts = [f"{states[state]} {state}" for state in ("to do", "done", "deliberate")
                 if states[state]]  # fmt: skip
        adrift = sum(one.is_adrift for one in located)
        tail = f"; {counted(adrift, 'note')} adrift" if adrift else ""
        out.append(f"Notes: {', '.join(parts)}{tail}.")
    if loose := not_holding(judged):
        out.append(f"Waivers that do not hold: {loose}.")
    return tuple(out)


def note_lines(located: Sequence[FoundNote], review: Review) -> tuple[NoteLine, ...]:
    """Return the notes, in their order."""
    return tuple(_note_line(letters(k), one, review) for k, one in enumerate(located))


def _note_line(mark: str, located: FoundNote, review: Review) -> NoteLine:
    note, spot = located.note, located.spot
    meant = {"island": "Island", "face": "Face on", "point": "Point on"}[note.kind]
    if spot is None:
        name, place = note.place.island.name, ""
    else:
        layout = review.layouts[spot.layout].layout
        name, place = layout.island_name[spot.island], printable(layout.name) or "no material"
    return NoteLine(
        mark=mark,
        state=note.state,
        place=place,
        meant=f"{meant} {printable(name)}",
        text="\n".join(printable(line) for line in note.text.splitlines()),
        changed=printable(note.changed[:10]),
    )


def waiver_lines(judged: Waiving) -> tuple[WaiverLine, ...]:
    """Return the waivers, in their order, with what has become of them."""
    states = judged.states
    return tuple(
        WaiverLine(
            title=_title(waiver),
            where=_where(waiver),
            reason=printable(waiver.reason) or "No reason given",
            by=by_whom(waiver),
            standing=": ".join(filter(None, (states[waiver.id], MEANING.get(states[waiver.id])))),
        )
        for waiver in judged.waivers
    )


def _title(waiver: Waiver) -> str:
    try:
        return title(waiver.check)
    except KeyError:
        return printable(waiver.check)


def _where(waiver: Waiver) -> str:
    names = [printable(island.name) for island in waiver.islands[:3]]
    more = len(waiver.islands) - len(names)
    islands = ", ".join(names) + (f" and {more:,} more" if more else "")
    layout = printable(waiver.layout) or "no material"
    return f"{islands} on {layout}" if islands else layout


def limit_groups(limits: Limits) -> tuple[tuple[str, tuple[Pair, ...]], ...]:
    """Return all limits in force, by group; those that differ from the defaults say so."""
    groups: dict[str, list[Pair]] = {}
    for name in SETTINGS:
        span, value = range_of(name), getattr(limits, name)
        words = _value(value, span.word)
        unit = f" {span.unit}" if span.unit and not isinstance(value, bool | None) else ""
        own = "" if value == getattr(DEFAULT, name) else " (set here)"
        label = name.replace("_", " ").removesuffix(" px2").removesuffix(" px").removesuffix(" m")
        groups.setdefault(span.group, []).append((label, f"{words}{unit}{own}"))
    rules = [(f"severity of {check}", word) for check, word in limits.severities]
    rules += [(f"purpose of {printable(name)}", word) for name, word in limits.purposes]
    rules += [
        (f"importance of {one.kind} {printable(one.name)}", number(one.factor))
        for one in limits.importance
    ]
    if rules:
        groups["Rules"] = rules
    return tuple((group, tuple(pairs)) for group, pairs in groups.items())


def _value(value: object, word: str) -> str:
    if value is None:
        return word
    if isinstance(value, bool):
        return "yes" if value else "no"
    return number(value, 6) if isinstance(value, int | float) else str(value)


def about(review: Review, limits_path: Path | None, made: str) -> tuple[Pair, ...]:
    """Return where the document comes from."""
    asset = review.asset
    unit = f"{number(asset.unit.metres, 6)} m per unit"
    pairs = [
        ("File", printable(asset.path.name)),
        ("Format", f"{asset.format}, {counted(len(asset.part_names), 'part')}, "
                   f"{counted(asset.face_count, 'face')}"),
        ("Unit", unit if asset.unit.is_stated else f"{unit} (assumed)"),
        ("SHA-256", asset.digest),
        ("Limits", printable(limits_path.name) if limits_path else "the defaults"),
        ("Made", f"{made}, Evenweave {__version__}"),
    ]  # fmt: skip
    return (*pairs, *(("Remark", printable(caveat)) for caveat in asset.caveats[:12]))
