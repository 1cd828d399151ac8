"""Reading an earlier result of `evenweave check` as a baseline."""

from __future__ import annotations

import json
import os
from pathlib import Path

from evenweave.errors import FileProblem
from evenweave.report.gate.gate import complaint
from evenweave.report.machine.machine import Json

LARGEST_BYTES = 1 << 30


def read_baseline(path: Path) -> list[Json]:
    """Read an earlier result and return its files. Raises FileProblem."""
    remedy = "give the output of evenweave check --format json"
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise FileProblem(path, "", "it is too large to be a result", remedy)
        result = json.loads(path.read_bytes())
    except OSError as error:
        cause = (error.strerror or "it cannot be read").lower()
        raise FileProblem(path, "", cause, "give a file that exists") from None
    except (ValueError, RecursionError):
        raise FileProblem(path, "", "it is not JSON", remedy) from None
    if cause := complaint(result):
        raise FileProblem(path, "", cause, remedy)
    files: list[Json] = result["files"]
    return files


def entry(known: list[Json] | None, path: Path) -> Json | None:
    """Return what a baseline says of a file: by its path, else by its name if only one has it."""
    if known is None:
        return None
    whole = os.path.abspath(path)
    for file in known:
        if os.path.abspath(file["path"]) == whole:
            return file
    named = [file for file in known if Path(file["path"]).name == path.name]
    return named[0] if len(named) == 1 else None
