"""Notes as JSON, and what is wrong with JSON that is no notes."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from evenweave.notes.fingerprint import Fingerprint
from evenweave.notes.place import Place
from evenweave.notes.store import KINDS, STATES, TOLERANCE, Note, NoteStore, Waiver

FORMAT = 1
LARGEST_METRES = 1e12

Json = dict[str, Any]


@dataclass(frozen=True)
class Complaint:
    """What is wrong, and where: "note 3, state"."""

    place: str
    cause: str


def as_json(store: NoteStore, mesh: str) -> Json:
    """Return a store as plain dictionaries."""
    return {
        **store.extra,
        "evenweave": "notes",
        "format": FORMAT,
        **({"mesh": mesh} if mesh else {}),
        "notes": [_note_json(note) for note in store.notes],
        "waivers": [_waiver_json(waiver) for waiver in store.waivers],
    }


def _note_json(note: Note) -> Json:
    place = note.place
    return {
        **note.extra,
        "id": note.id,
        "kind": note.kind,
        "state": note.state,
        "text": note.text,
        "created": note.created,
        "changed": note.changed,
        "place": {
            **place.extra,
            "layout": place.layout,
            "uv": list(place.uv),
            "point_m": list(place.point_m),
            "normal": list(place.normal),
            "island": _island_json(place.island),
        },
    }


def _waiver_json(waiver: Waiver) -> Json:
    return {
        **waiver.extra,
        "id": waiver.id,
        "check": waiver.check,
        "variant": waiver.variant,
        "layout": waiver.layout,
        "reason": waiver.reason,
        "who": waiver.who,
        "when": waiver.when,
        "values": list(waiver.values),
        "limit": waiver.limit,
        "tolerance": waiver.tolerance,
        "islands": [_island_json(island) for island in waiver.islands],
    }


def _island_json(island: Fingerprint) -> Json:
    return {
        **island.extra,
        "name": island.name,
        "area_m2": island.area_m2,
        "centre_m": list(island.centre_m),
        "radius_m": island.radius_m,
        "sample_m": [list(point) for point in island.sample_m],
        "sample_normal": [list(way) for way in island.sample_normal],
    }


def store_of(whole: Json) -> NoteStore:
    """Return the store of JSON of which `complaint_of` said nothing."""
    return NoteStore(
        notes=tuple(_note(one) for one in whole["notes"]),
        waivers=tuple(_waiver(one) for one in whole["waivers"]),
        extra=_extra(whole, {"evenweave": None, "format": None, "notes": None, "waivers": None}),
    )


def _note(entry: Json) -> Note:
    place = entry["place"]
    return Note(
        id=entry["id"],
        kind=entry["kind"],
        text=entry["text"],
        state=entry["state"],
        place=Place(
            layout=place["layout"],
            island=_island(place["island"]),
            point_m=_vector(place["point_m"]),
            normal=_vector(place["normal"]),
            uv=(float(place["uv"][0]), float(place["uv"][1])),
            extra=_extra(place, _PLACE),
        ),
        created=entry["created"],
        changed=entry["changed"],
        extra=_extra(entry, _NOTE),
    )


def _waiver(entry: Json) -> Waiver:
    return Waiver(
        id=entry["id"],
        check=entry["check"],
        variant=entry["variant"],
        layout=entry["layout"],
        islands=tuple(_island(island) for island in entry["islands"]),
        values=tuple(None if value is None else float(value) for value in entry["values"]),
        limit=entry["limit"],
        reason=entry["reason"],
        who=entry["who"],
        when=entry["when"],
        tolerance=float(entry.get("tolerance", TOLERANCE)),
        extra=_extra(entry, {**_WAIVER, "tolerance": None}),
    )


def _island(entry: Json) -> Fingerprint:
    return Fingerprint(
        name=entry["name"],
        area_m2=float(entry["area_m2"]),
        centre_m=_vector(entry["centre_m"]),
        radius_m=float(entry["radius_m"]),
        sample_m=tuple(_vector(point) for point in entry["sample_m"]),
        sample_normal=tuple(_vector(way) for way in entry["sample_normal"]),
        extra=_extra(entry, _ISLAND),
    )


def _vector(values: list[float]) -> tuple[float, float, float]:
    x, y, z = (float(value) for value in values)
    return x, y, z


def _extra(entry: Json, known: Mapping[str, Any]) -> Json:
    return {key: value for key, value in entry.items() if key not in known}


# What each field must be, in words, with a test for it.
Rule = tuple[Callable[[Any], bool], str]


def _is_number(value: Any) -> bool:
    is_plain = isinstance(value, int | float) and not isinstance(value, bool)
    return is_plain and abs(value) <= LARGEST_METRES and math.isfinite(value)


def _is_vector(value: Any, length: int = 3) -> bool:
    return isinstance(value, list) and len(value) == length and all(map(_is_number, value))


_TEXT: Rule = (lambda value: isinstance(value, str), "text")
_SIZE: Rule = (lambda value: _is_number(value) and value >= 0, "a number of at least 0")
_VECTOR: Rule = (_is_vector, "three numbers")
_VECTORS: Rule = (
    lambda value: isinstance(value, list) and all(map(_is_vector, value)),
    "a list of three numbers each",
)
_LIST: Rule = (lambda value: isinstance(value, list), "a list")
_FORMAT: Rule = (lambda value: value == FORMAT, str(FORMAT))
_TABLE: Rule = (lambda value: isinstance(value, dict), "an object")

_NOTE: dict[str, Rule] = {
    "id": _TEXT,
    "kind": (lambda value: value in KINDS, f"one of {', '.join(KINDS)}"),
    "state": (lambda value: value in STATES, f"one of {', '.join(STATES)}"),
    "text": _TEXT,
    "created": _TEXT,
    "changed": _TEXT,
    "place": _TABLE,
}
_PLACE: dict[str, Rule] = {
    "layout": _TEXT,
    "uv": (lambda value: _is_vector(value, 2), "two numbers"),
    "point_m": _VECTOR,
    "normal": _VECTOR,
    "island": _TABLE,
}
_WAIVER: dict[str, Rule] = {
    "id": _TEXT,
    "check": _TEXT,
    "variant": _TEXT,
    "layout": _TEXT,
    "reason": _TEXT,
    "who": _TEXT,
    "when": _TEXT,
    "values": (
        lambda value: isinstance(value, list) and all(x is None or _is_number(x) for x in value),
        "a list of numbers",
    ),
    "limit": (lambda value: value is None or _is_number(value), "a number"),
    "islands": _LIST,
}
_ISLAND: dict[str, Rule] = {
    "name": _TEXT,
    "area_m2": _SIZE,
    "centre_m": _VECTOR,
    "radius_m": _SIZE,
    "sample_m": _VECTORS,
    "sample_normal": _VECTORS,
}


def complaint_of(whole: Any) -> Complaint | None:
    """Say what keeps JSON from being notes, or nothing."""
    return next(_complaints(whole), None)


def _complaints(whole: Any) -> Iterator[Complaint]:
    if not isinstance(whole, dict) or whole.get("evenweave") != "notes":
        yield Complaint("", "it does not hold notes of Evenweave")
        return
    yield from _against(whole, {"format": _FORMAT, "notes": _LIST, "waivers": _LIST}, "")
    ids: set[str] = set()
    for number, note in enumerate(whole["notes"], 1):
        where = f"note {number}"
        yield from _against(note, _NOTE, where)
        yield from _against(note["place"], _PLACE, where)
        yield from _island_complaints(note["place"]["island"], where)
        yield from _repeated(note, ids, where)
    for number, waiver in enumerate(whole["waivers"], 1):
        where = f"waiver {number}"
        yield from _against(waiver, _WAIVER, where)
        if not _SIZE[0](waiver.get("tolerance", TOLERANCE)):
            yield Complaint(f"{where}, tolerance", f"it must be {_SIZE[1]}")
        if len(waiver["values"]) != max(len(waiver["islands"]), 1):
            yield Complaint(f"{where}, values", "there must be one for each island")
        for island in waiver["islands"]:
            yield from _island_complaints(island, where)
        yield from _repeated(waiver, ids, where)


def _against(one: Any, rules: Mapping[str, Rule], where: str) -> Iterator[Complaint]:
    if not isinstance(one, dict):
        yield Complaint(where, "it must be an object")
        return
    for name, (is_right, words) in rules.items():
        place = f"{where}, {name}".lstrip(", ")
        if name not in one:
            yield Complaint(place, "it is missing")
        elif not is_right(one[name]):
            yield Complaint(place, f"it must be {words}")


def _island_complaints(island: Any, where: str) -> Iterator[Complaint]:
    yield from _against(island, _ISLAND, f"{where}, island")
    if not 0 < len(island["sample_m"]) == len(island["sample_normal"]):
        yield Complaint(f"{where}, island, sample_m", "there must be one for each sample_normal")


def _repeated(entry: Json, ids: set[str], where: str) -> Iterator[Complaint]:
    if entry["id"] in ids:
        yield Complaint(f"{where}, id", "another has the same")
    ids.add(entry["id"])
