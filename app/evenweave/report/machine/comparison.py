"""A comparison as plain dictionaries that fit `resources/compare.schema.json`."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from evenweave import __version__
from evenweave.arrays import FloatArray
from evenweave.compare.comparison import Comparison, LayoutChange
from evenweave.compare.findings import FindingChange
from evenweave.compare.states import STATES
from evenweave.compare.verdict import judgement, verdict
from evenweave.pipeline import Review
from evenweave.report.machine.compare_waivers import WaivedChange
from evenweave.report.machine.machine import Json
from evenweave.report.machine.waived import decision

SCHEMA = 1


def comparison(compared: Comparison, waived: Sequence[WaivedChange] = ()) -> Json:
    """Return all that is known of how two passes differ.

    waived : findings of the new pass that count neither in the judgement nor in the verdict
    """
    return {
        "evenweave": __version__,
        "schema": SCHEMA,
        "old": _pass(compared.old),
        "new": _pass(compared.new),
        "judgement": judgement(compared),
        "verdict": verdict(compared),
        "states": {state: compared.islands.count(state) for state in STATES},
        "layouts": [_layout(change, compared) for change in compared.layouts],
        "islands": [_island(row, compared) for row in range(len(compared.islands.state))],
        "warnings": [
            *({**_finding(found), "waived": None} for found in compared.findings),
            *(
                {**_finding(found), "waived": decision(standing.waivers)}
                for found, standing in waived
            ),
        ],
        "new_faces": [
            {
                "layout": number,
                "faces": len(faces.face),
                "surface_m2": faces.area_m2,
                "without_sensible_uvs": len(faces.senseless),
                "without_uvs": len(faces.bare),
                "points": faces.points.tolist(),
            }
            for number, faces in enumerate(compared.new_faces)
        ],
    }


def comparison_text(compared: Comparison, waived: Sequence[WaivedChange] = ()) -> str:
    """Return the same as JSON text that UTF-8 can hold."""
    text = json.dumps(comparison(compared, waived), indent=2, ensure_ascii=False, allow_nan=False)
    return text.encode("utf-8", "backslashreplace").decode() + "\n"


def _pass(review: Review) -> Json:
    return {
        "path": str(review.asset.path),
        "sha256": review.asset.digest,
        "layouts": [layout.layout.name for layout in review.layouts],
    }


def _layout(change: LayoutChange, comparison: Comparison) -> Json:
    old = comparison.old.layouts[change.old].layout.name if change.old >= 0 else None
    new = comparison.new.layouts[change.new].layout.name if change.new >= 0 else None
    figures = change.figures.items()
    return {
        "old": old,
        "new": new,
        "figures": {name: [_number(f.before), _number(f.after)] for name, f in figures},
    }


def _island(row: int, comparison: Comparison) -> Json:
    islands = comparison.islands
    old, new = int(islands.old[row]), int(islands.new[row])
    return {
        "state": islands.state[row],
        "old": _old_place(old, comparison) if old >= 0 else None,
        "new": _new_place(new, comparison) if new >= 0 else None,
        "pieces": [
            _new_place(int(piece), comparison) for piece in comparison.match.pieces_of_old(old)
        ]
        if islands.state[row] == "re-cut"
        else [],
        "shared_surface": _number(comparison.match.share[old] if old >= 0 else 0.0),
        "offset_px": _pair(islands.offset_px[row]),
        "scale": _number(islands.scale[row]),
        "turn_degrees": _number(islands.turn_degrees[row]),
        "mirrored": bool(islands.is_mirrored[row]),
        "followed": _number(islands.kept[row]),
        "moved_in_space": bool(old >= 0 and comparison.match.is_carried[old]),
        "lost_uvs": bool(islands.has_lost_uvs[row]),
        "figures": {name: _pair(values[row]) for name, values in comparison.figures.items()},
    }


def _old_place(island: int, comparison: Comparison) -> Json:
    layout, number = comparison.old_place(island)
    return _named(comparison.old, layout, number)


def _new_place(island: int, comparison: Comparison) -> Json:
    layout, number = comparison.new_place(island)
    return _named(comparison.new, layout, number)


def _named(review: Review, layout: int, number: int) -> Json:
    name = review.layouts[layout].layout.island_name[number]
    return {"layout": layout, "id": number, "name": name}


def _finding(change: FindingChange) -> Json:
    finding, before = change.finding, change.before
    return {
        "standing": change.standing,
        "check": finding.check,
        "severity": finding.severity.name.lower(),
        "layout": change.layout,
        "islands": list(change.islands),
        "value": _number(finding.value),
        "value_before": _number(before.value) if before is not None else None,
        "limit": _number(finding.limit),
        "unit": finding.unit,
        "what": finding.what,
    }


def _number(value: float | np.floating[Any]) -> float | None:
    return float(value) if math.isfinite(value) else None


def _pair(values: FloatArray) -> list[float | None]:
    return [_number(value) for value in values.tolist()]
