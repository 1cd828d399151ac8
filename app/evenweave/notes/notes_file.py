"""The notes file beside a mesh: `lantern.obj.evenweave-notes.json`.

JSON that fits `resources/notes.schema.json`. Fields that this version does not know are kept.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from evenweave.errors import FileProblem
from evenweave.notes.notes_json import FORMAT, Json, as_json, complaint_of, store_of
from evenweave.notes.store import NoteStore
from evenweave.writing import write_whole

SUFFIX = ".evenweave-notes.json"
LARGEST_BYTES = 1 << 26
_LINES = ",\n    "


def notes_path(mesh: Path) -> Path:
    """Return where the notes on a mesh are kept."""
    return mesh.with_name(mesh.name + SUFFIX)


def read_notes(path: Path) -> NoteStore:
    """Read a notes file; an empty store where there is none.

    Raises FileProblem where the file cannot be used: it is then not to be written over.
    """
    try:
        if path.exists() and path.stat().st_size > LARGEST_BYTES:
            cause = f"it is larger than {LARGEST_BYTES >> 20} MB, which no notes are"
            raise FileProblem(path, "", cause, "move it away")
        data = path.read_bytes()
    except FileNotFoundError:
        return NoteStore()
    except OSError as error:
        cause = f"it cannot be read, {(error.strerror or str(error)).lower()}"
        raise FileProblem(path, "", cause, "move it away or make it readable") from None
    try:
        whole = json.loads(data.decode("utf-8"), parse_constant=_refused)
    except UnicodeDecodeError as error:
        cause, place = "it is not UTF-8 text", f"byte {error.start:,}"
        raise FileProblem(path, place, cause, "restore it or move it away") from None
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}"
        raise FileProblem(path, place, "it is not JSON", "restore it or move it away") from None
    except (RecursionError, ValueError):
        raise FileProblem(path, "", "it is not JSON", "restore it or move it away") from None
    if (
        isinstance(whole, dict)
        and isinstance(whole.get("format"), int)
        and whole["format"] > FORMAT
    ):
        cause = "a newer version of Evenweave wrote it"
        raise FileProblem(path, "", cause, "update Evenweave to read it")
    wrong = complaint_of(whole)
    if wrong is not None:
        raise FileProblem(path, wrong.place, wrong.cause, "restore it or move it away")
    return store_of(whole)


def save_notes(path: Path, store: NoteStore, *, mesh: str = "") -> None:
    """Write a notes file, whole or not at all. Where there is nothing to keep, none is made.

    mesh : name of the mesh's file, for whoever looks inside. Raises FileProblem.
    """
    if store == NoteStore() and not path.exists():
        return
    write_whole(path, _text(as_json(store, mesh)).encode("utf-8", "backslashreplace"))


def _text(whole: Json) -> str:
    """Write a note or waiver a line, so that version control shows and merges them one by one."""
    fields = [
        f"  {_dumped(name)}: [\n    {_LINES.join(map(_dumped, value))}\n  ]"
        if name in ("notes", "waivers") and value
        else f"  {_dumped(name)}: {_dumped(value)}"
        for name, value in whole.items()
    ]
    return "{\n" + ",\n".join(fields) + "\n}\n"


def _dumped(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _refused(word: str) -> float:
    raise ValueError(word)
