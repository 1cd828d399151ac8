"""SARIF 2.1.0 (OASIS standard, 2020, errata 2023): results for code-scanning services.

A result points at the mesh file; the place in the texture stands in the region's properties,
layout and island are logical locations. A waived finding is a suppressed result; every result
says whether it is suppressed, since the standard wants that of all results of a run or of none
(result object, suppressions property).
"""

from __future__ import annotations

import hashlib
import json
import math
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote_from_bytes

import numpy as np

from evenweave import __version__
from evenweave.check.catalogue import all_checks
from evenweave.check.finding import Finding, Severity
from evenweave.check.subject import Check
from evenweave.check.texts import templates
from evenweave.layout import udim
from evenweave.notes.waiver_words import file_properties, reason, status
from evenweave.notes.waiving import JudgedFinding
from evenweave.pipeline import LayoutReview
from evenweave.report.gate.gate import Judged
from evenweave.report.machine.machine import Json

SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
LEVEL = {Severity.NOTE: "note", Severity.WARNING: "warning", Severity.FAULT: "error"}
ROOT = "%SRCROOT%"

# What the texts of a rule, told before anything is found, say in place of names and numbers.
_WORDS = {
    "island": "the island",
    "neighbour": "its neighbour",
    "scale": "the factor told",
    "limit": "the share given in the limits",
    "precision": "exact or counted as the result says",
}
_TEXTUAL = ("obj", "gltf", "collada")
_MOST_POINTS = 20
_MOST_ISLANDS = 20


def file_part(judged: Judged) -> Json:
    """Return what a run says of one file: its artifact, its results, and what went wrong."""
    outcome = judged.outcome
    place = location(outcome.path)
    if outcome.review is None:
        notice = _notice("error", str(outcome.problem), outcome.path)
        return {"artifact": {"location": place}, "results": [], "notices": [notice]}
    notices = []
    if outcome.notes_problem is not None:
        notices = [_notice("warning", str(outcome.notes_problem), Path(outcome.notes_problem.path))]
    asset = outcome.review.asset
    artifact = {
        "location": place,
        "roles": ["analysisTarget"],
        "hashes": {"sha-256": asset.digest},
        "properties": {key: _text(value) for key, value in file_properties(outcome).items()},
    }
    results = [
        _result(standing, layout, judged, is_new=is_new)
        for layout, standings, news in zip(
            outcome.review.layouts, outcome.standings, judged.is_new, strict=True
        )
        for standing, is_new in zip(standings, news, strict=True)
    ]
    return {"artifact": artifact, "results": results, "notices": notices}


def _notice(level: str, text: str, path: Path) -> Json:
    return {
        "level": level,
        "message": {"text": _text(text)},
        "locations": [{"physicalLocation": {"artifactLocation": location(path)}}],
    }


def sarif_text(files: Sequence[Json]) -> str:
    """Return one run over all files as SARIF."""
    results = []
    for number, file in enumerate(files):
        for result in file["results"]:
            for place in result["locations"]:
                place["physicalLocation"]["artifactLocation"]["index"] = number
            results.append(result)
    notices = [notice for file in files for notice in file["notices"]]
    run = {
        "tool": {
            "driver": {
                "name": "Evenweave",
                "version": __version__,
                "rules": [_rule(check) for check in all_checks()],
            }
        },
        "columnKind": "unicodeCodePoints",
        "invocations": [
            {
                "executionSuccessful": all(one["level"] != "error" for one in notices),
                "toolExecutionNotifications": notices,
            }
        ],
        "artifacts": [file["artifact"] for file in files],
        "results": results,
    }
    whole = {"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}
    return json.dumps(whole, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def location(path: Path) -> Json:
    """Return a file's artifact location: relative to the folder of the run where it is inside."""
    inside = os.path.normpath(path)
    if not os.path.isabs(inside) and not inside.startswith(os.pardir):
        return {"uri": _encoded(Path(inside).as_posix()), "uriBaseId": ROOT}
    absolute = Path(os.path.abspath(path)).as_posix()
    return {"uri": "file://" + _encoded(absolute if absolute[0] == "/" else "/" + absolute)}


def _encoded(path: str) -> str:
    """Percent-encode a path's own bytes, whatever they are."""
    return quote_from_bytes(os.fsencode(path), safe="/")


def _rule_index(check: str) -> int:
    return [one.id for one in all_checks()].index(check)


def _rule(check: Check) -> Json:
    texts = templates()[check.id]
    own = {key: texts[key].format_map(_WORDS) for key in ("title", "why", "do", "how")}
    return {
        "id": check.id,
        "name": "".join(word.capitalize() for word in check.id.split("-")),
        "shortDescription": {"text": own["title"]},
        "fullDescription": {"text": own["why"]},
        "help": {
            "text": f"{own['why']}\n\n{own['do']}\n\n{own['how']}",
            "markdown": f"{own['why']}\n\n**What to do.** {own['do']}\n\n"
            f"**How it is measured.** {own['how']}",
        },
        "defaultConfiguration": {"level": LEVEL[check.severity]},
        "properties": {"unit": check.unit},
    }


def _result(standing: JudgedFinding, layout: LayoutReview, judged: Judged, *, is_new: bool) -> Json:
    finding = standing.finding
    result: Json = {
        "ruleId": finding.check,
        "ruleIndex": _rule_index(finding.check),
        "level": LEVEL[finding.severity],
        "message": {"text": _text(finding.what)},
        "locations": [_place(finding, layout, judged)],
        "partialFingerprints": {"evenweave/v1": _fingerprint(finding, layout)},
        "suppressions": _suppressions(standing),
        "properties": {
            "value": _number(finding.value),
            "limit": _number(finding.limit),
            "unit": finding.unit,
            "do": _text(finding.do),
            "waivers": [_text(line) for line in status(standing, layout.layout.island_name)],
        },
    }
    if judged.gate.has_baseline:
        result["baselineState"] = "new" if is_new else "unchanged"
    return result


def _suppressions(standing: JudgedFinding) -> list[Json]:
    """Return the waivers of what is waived altogether; what is open in part is not suppressed."""
    return [
        {
            "kind": "external",
            "status": "accepted",
            "justification": _text(reason(waiver)),
            "properties": {"id": waiver.id, "who": _text(waiver.who), "when": _text(waiver.when)},
        }
        for waiver in (standing.waivers if standing.is_waived else ())
    ]


def _place(finding: Finding, layout: LayoutReview, judged: Judged) -> Json:
    assert judged.outcome.review is not None
    is_text = judged.outcome.review.asset.format in _TEXTUAL
    # A region must say where in the file; meshes are not read line by line, so it is the start.
    region: Json = {"startLine": 1} if is_text else {"byteOffset": 0, "byteLength": 0}
    region["properties"] = {
        "uvBounds": _uv_bounds(finding, layout),
        "uvTile": _tile(finding, layout),
        "uvPoints": finding.points[:_MOST_POINTS].tolist(),
    }
    return {
        "physicalLocation": {
            "artifactLocation": location(judged.outcome.path),
            "region": region,
        },
        "logicalLocations": _logical(finding, layout),
    }


def _uv_bounds(finding: Finding, layout: LayoutReview) -> list[float] | None:
    """Return u0, v0, u1, v1 round the warning's islands, else its points, else the layout.

    None where the layout has no UVs.
    """
    bounds = layout.measures.island.bounds
    points = np.concatenate((finding.points, finding.points), axis=1)
    for box in (bounds[list(finding.islands)], points, bounds):
        known = box[np.isfinite(box).all(axis=1)]
        if len(known):
            low, high = known[:, :2].min(axis=0), known[:, 2:].max(axis=0)
            return [*low.tolist(), *high.tolist()]
    return None


def _tile(finding: Finding, layout: LayoutReview) -> Json | None:
    """Return the tile to look at: the worst island's, else that of the region's middle."""
    if finding.worst >= 0:
        column, row = layout.measures.island.tile[finding.worst].tolist()
    elif bounds := _uv_bounds(finding, layout):
        u0, v0, u1, v1 = bounds
        column, row = math.floor((u0 + u1) / 2), math.floor((v0 + v1) / 2)
    else:
        return None
    return {"column": column, "row": row, "udim": udim.number(column, row)}


def _logical(finding: Finding, layout: LayoutReview) -> list[Json]:
    """Return the islands, the worst first, or the layout where it is meant as a whole."""
    name = _text(layout.layout.name) or "no material"
    islands = sorted(finding.islands, key=lambda island: island != finding.worst)
    if not islands:
        return [{"name": name, "fullyQualifiedName": name, "kind": "layout"}]
    names = layout.layout.island_name
    return [
        {
            "name": _text(names[island]),
            "fullyQualifiedName": f"{name}/{_text(names[island])}",
            "kind": "island",
        }
        for island in islands[:_MOST_ISLANDS]
    ]


def _fingerprint(finding: Finding, layout: LayoutReview) -> str:
    """Return what stays the same from run to run while the finding does."""
    names = sorted(layout.layout.island_name[island] for island in finding.islands)
    told = "\0".join((finding.check, finding.variant, layout.layout.name, *names))
    return hashlib.sha256(told.encode("utf-8", "surrogatepass")).hexdigest()[:32]


def _text(text: str) -> str:
    """Return text that UTF-8 can hold."""
    return text.encode("utf-8", "backslashreplace").decode()


def _number(value: float | np.floating[Any]) -> float | None:
    return float(value) if math.isfinite(value) else None
