"""Edits make new stores; files keep everything and are refused whole."""

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenweave.errors import FileProblem
from evenweave.notes.fingerprint import Fingerprint
from evenweave.notes.notes_file import notes_path, read_notes, save_notes
from evenweave.notes.place import Place
from evenweave.notes.store import (
    KINDS,
    STATES,
    Note,
    NoteStore,
    Waiver,
    new_note,
    with_note,
    with_state,
    with_text,
    with_waiver,
    without_note,
    without_waiver,
)
from evenweave.places import resource

ISLAND = Fingerprint("roof", 2.0, (0.0, 1.0, 0.0), 0.5, ((0.0, 1.0, 0.0),), ((0.0, 1.0, 0.0),))
PLACE = Place("brass", ISLAND, (0.1, 1.0, 0.2), (0.0, 1.0, 0.0), (0.25, 0.75))
WAIVER = Waiver(
    "w1", "stretch", "", "brass", (ISLAND,), (2.5,), 1.5, "seen from afar", "", "2026-01-01"
)  # fmt: skip

FINITE = st.floats(-1e6, 1e6)
VECTORS = st.tuples(FINITE, FINITE, FINITE)
TEXTS = st.text(max_size=12)
EXTRAS = st.dictionaries(st.sampled_from(["later", "mood"]), st.integers() | TEXTS, max_size=2)
ISLANDS = st.builds(
    Fingerprint, TEXTS, st.floats(0, 1e6), VECTORS, st.floats(0, 1e3),
    st.tuples(VECTORS), st.tuples(VECTORS), EXTRAS,
)  # fmt: skip
NOTES = st.builds(
    Note, st.uuids().map(str), st.sampled_from(KINDS), TEXTS, st.sampled_from(STATES),
    st.builds(Place, TEXTS, ISLANDS, VECTORS, VECTORS, st.tuples(FINITE, FINITE), EXTRAS),
    TEXTS, TEXTS, EXTRAS,
)  # fmt: skip


def test_edits_leave_the_old_store_as_it_was() -> None:
    empty = NoteStore()
    note = new_note("face", PLACE, "sew this")
    one = with_note(empty, note)
    two = with_state(with_text(one, note.id, "sew this on"), note.id, "done")
    assert (empty.notes, one.notes) == ((), (note,))
    assert (two.note(note.id).text, two.note(note.id).state) == ("sew this on", "done")
    assert without_note(two, note.id) == empty
    assert without_waiver(with_waiver(one, WAIVER), "w1") == one
    with pytest.raises(KeyError):
        with_text(one, "absent", "")


def test_notes_stand_beside_the_mesh() -> None:
    path = notes_path(Path("assets/lantern.obj"))
    assert path == Path("assets/lantern.obj.evenweave-notes.json")


@settings(deadline=None, max_examples=60, derandomize=True)
@given(st.lists(NOTES, max_size=3), EXTRAS)
def test_what_is_saved_reads_back_equal_and_fits_the_schema(notes, extra) -> None:
    import tempfile

    store = NoteStore(tuple(notes), (WAIVER,), extra)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.json"
        save_notes(path, store)
        assert read_notes(path) == store
        written = json.loads(path.read_bytes())
    schema = json.loads(resource("notes.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(written)


def test_fields_of_later_versions_are_kept(tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    save_notes(path, NoteStore((new_note("point", PLACE),), (WAIVER,)), mesh="lantern.obj")
    whole = json.loads(path.read_text())
    whole["later"] = {"a": [1, 2]}
    whole["notes"][0]["colour"] = "red"
    whole["notes"][0]["place"]["camera"] = [1]
    whole["notes"][0]["place"]["island"]["hash"] = "f00"
    whole["waivers"][0]["until"] = "2027"
    path.write_text(json.dumps(whole))
    store = read_notes(path)
    save_notes(path, with_state(store, store.notes[0].id, "done"))
    again = json.loads(path.read_text())
    assert again["notes"][0]["state"] == "done"
    for one in (whole, again):
        del one["notes"][0]["state"], one["notes"][0]["changed"]
    assert again == whole


def test_without_notes_no_file_is_made_and_an_emptied_store_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    assert read_notes(path) == NoteStore()
    save_notes(path, NoteStore())
    assert not path.exists()
    save_notes(path, with_waiver(NoteStore(), WAIVER))
    save_notes(path, NoteStore())
    assert read_notes(path) == NoteStore()
    assert path.exists()


def broken(**changes: object) -> bytes:
    note = {
        "id": "a", "kind": "point", "state": "to do", "text": "", "created": "", "changed": "",
        "place": {"layout": "", "uv": [0, 0], "point_m": [0, 0, 0], "normal": [0, 0, 1],
                  "island": {"name": "", "area_m2": 1, "centre_m": [0, 0, 0], "radius_m": 1,
                             "sample_m": [[0, 0, 0]], "sample_normal": [[0, 0, 1]]}},
    }  # fmt: skip
    whole = {"evenweave": "notes", "format": 1, "notes": [note], "waivers": []}
    for way, value in changes.items():
        *steps, last = way.split("__")
        target: object = whole
        for step in steps:
            target = target[int(step)] if isinstance(target, list) else target[step]  # type: ignore[index]
        target[last] = value  # type: ignore[index]
    return json.dumps(whole).encode()


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "line 1: it is not JSON"),
        (b"\xff", "byte 0: it is not UTF-8 text"),
        (b"[" * 100_000, "it is not JSON"),
        (b'{"evenweave": "notes", "format": 1, "notes": [NaN], "waivers": []}', "it is not JSON"),
        (b"[]", "it does not hold notes of Evenweave"),
        (broken(format=2), "a newer version of Evenweave wrote it"),
        (broken(format="1"), "format: it must be 1"),
        (broken(notes=3), "notes: it must be a list"),
        (broken(notes__0__kind="edge"), "note 1, kind: it must be one of island, face, point"),
        (broken(notes__0__state=None), "note 1, state: it must be one of to do, done"),
        (broken(notes__0__place__uv=[0, True]), "note 1, uv: it must be two numbers"),
        (broken(notes__0__place__point_m=[0, 1e300, 0]), "note 1, point_m: it must be three"),
        (broken(notes__0__place__island=[]), "note 1, island: it must be an object"),
        (
            broken(notes__0__place__island__sample_m=[]),
            "sample_m: it must be a list",
        ),
        (broken(waivers=[{}]), "waiver 1, id: it is missing"),
    ],
)
def test_what_is_no_notes_is_one_sentence_and_stays_untouched(
    tmp_path: Path, data: bytes, told: str
) -> None:
    path = tmp_path / "x.json"
    path.write_bytes(data)
    with pytest.raises(FileProblem) as caught:
        read_notes(path)
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)
    assert path.read_bytes() == data


def test_two_notes_of_one_id_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    note = new_note("point", PLACE)
    save_notes(path, NoteStore((note, replace(note, text="again"))))
    with pytest.raises(FileProblem, match="note 2, id: another has the same"):
        read_notes(path)


SAVER = """
import sys
from dataclasses import replace
from pathlib import Path
from evenweave.notes.notes_file import read_notes, save_notes
path = Path(sys.argv[1])
store = read_notes(path)
note = store.notes[0]
number = 0
while True:
    number += 1
    texts = [replace(note, id=str(k), text=f"{number} " * 2000) for k in range(40)]
    save_notes(path, replace(store, notes=tuple(texts)))
    print(number, flush=True)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_a_kill_during_save_leaves_the_old_or_the_new_file(tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    save_notes(path, NoteStore((new_note("point", PLACE),)))
    for pause in (0.0, 0.003, 0.007):
        process = subprocess.Popen(
            [sys.executable, "-c", SAVER, str(path)], stdout=subprocess.PIPE, text=True
        )
        assert process.stdout is not None
        assert process.stdout.readline()
        time.sleep(pause)
        os.kill(process.pid, signal.SIGKILL)
        process.communicate()
        texts = {note.text for note in read_notes(path).notes}
        assert len(texts) == 1
