"""Notes as JSON, and what is wrong with JSON that is no notes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from evenweave import schemas
from evenweave.notes.fingerprint import Fingerprint
from evenweave.notes.place import Place
from evenweave.notes.store import TOLERANCE, Note, NoteStore, Waiver
from evenweave.schemas import Complaint

FORMAT = 1

Json = dict[str, Any]


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
        extra=_extra(whole, ("evenweave", "format", "notes", "waivers")),
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
        extra=_extra(entry, _WAIVER),
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


def _extra(entry: Json, known: tuple[str, ...]) -> Json:
    return {key: value for key, value in entry.items() if key not in known}


SCHEMA = "notes.schema.json"
_NOTE = ("id", "kind", "state", "text", "created", "changed", "place")
_PLACE = ("layout", "uv", "point_m", "normal", "island")
_WAIVER = (
    "id", "check", "variant", "layout", "reason", "who", "when", "values", "limit", "islands",
    "tolerance",
)  # fmt: skip
_ISLAND = ("name", "area_m2", "centre_m", "radius_m", "sample_m", "sample_normal")


def complaint_of(whole: Any) -> Complaint | None:
    """Say what keeps JSON from being notes, or nothing."""
    if not isinstance(whole, dict) or whole.get("evenweave") != "notes":
        return Complaint("", "it does not hold notes of Evenweave")
    return schemas.complaint_of(whole, SCHEMA) or next(_complaints(whole), None)


def _complaints(whole: Json) -> Iterator[Complaint]:
    """Yield what no schema can say."""
    ids: set[str] = set()
    for number, note in enumerate(whole["notes"], 1):
        yield from _island_complaints(note["place"]["island"], f"note {number}")
        yield from _repeated(note, ids, f"note {number}")
    for number, waiver in enumerate(whole["waivers"], 1):
        where = f"waiver {number}"
        if len(waiver["values"]) != max(len(waiver["islands"]), 1):
            yield Complaint(f"{where}, values", "there must be one for each island")
        for island in waiver["islands"]:
            yield from _island_complaints(island, where)
        yield from _repeated(waiver, ids, where)


def _island_complaints(island: Any, where: str) -> Iterator[Complaint]:
    if len(island["sample_m"]) != len(island["sample_normal"]):
        yield Complaint(f"{where}, island, sample_m", "there must be one for each sample_normal")


def _repeated(entry: Json, ids: set[str], where: str) -> Iterator[Complaint]:
    if entry["id"] in ids:
        yield Complaint(f"{where}, id", "another has the same")
    ids.add(entry["id"])
