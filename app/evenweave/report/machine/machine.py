"""The machine-readable result: plain dictionaries that fit `resources/result.schema.json`."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from itertools import chain
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenweave import __version__
from evenweave.arrays import FloatArray
from evenweave.check.tile import is_from_texture
from evenweave.errors import FileProblem
from evenweave.layout import udim
from evenweave.layout.unread import unread_sets
from evenweave.measure.seams.kinds import island_lengths_m
from evenweave.mesh.texturing import Slot
from evenweave.notes.outcome import Outcome
from evenweave.notes.waiving import JudgedFinding
from evenweave.pipeline import LayoutReview, Review
from evenweave.report.machine.waived import counts, file_waivers, finding_waivers, island_findings

SCHEMA = 1

Json = dict[str, Any]


def file_result(outcome: Outcome) -> Json:
    """Return what became of one file."""
    done = outcome.review
    return {
        "path": str(outcome.path),
        "format": done.asset.format if done else None,
        "error": _error(outcome.problem) if outcome.problem else None,
        "limits": str(outcome.limits_path) if outcome.limits_path else None,
        "notes": str(outcome.notes_path) if outcome.notes_path else None,
        "notes_error": _error(outcome.notes_problem) if outcome.notes_problem else None,
        "asset": _asset(done) if done else None,
        "counts": counts(chain.from_iterable(outcome.standings)),
        "waivers": file_waivers(outcome.waiving) if outcome.waiving else [],
        "layouts": [
            _layout(one, findings, done)
            for one, findings in zip(done.layouts, outcome.standings, strict=True)
        ]
        if done
        else [],
    }


def result(files: Sequence[Json]) -> Json:
    """Return the whole result of one run from those of its files."""
    return {"evenweave": __version__, "schema": SCHEMA, "files": list(files)}


def result_text(files: Sequence[Json]) -> str:
    """Return the result as JSON text that UTF-8 can hold.

    Bytes of file names that are not UTF-8 become escapes of lone surrogates, from which Python
    gets the same name back.
    """
    text = json.dumps(result(files), indent=2, ensure_ascii=False, allow_nan=False)
    return text.encode("utf-8", "backslashreplace").decode() + "\n"


def _error(problem: FileProblem) -> Json:
    return {
        "place": problem.place,
        "cause": problem.cause,
        "remedy": problem.remedy,
        "message": str(problem),
    }


def _asset(review: Review) -> Json:
    asset = review.asset
    return {
        "parts": list(asset.part_names),
        "faces": asset.face_count,
        "triangles": int(len(asset.corner_position) - 2 * asset.face_count),
        "metres_per_unit": asset.unit.metres,
        "unit_is_stated": asset.unit.is_stated,
        "materials": list(asset.material_names),
        "uv_sets": [one.name for one in asset.uv_sets],
        "unjudged_uv_sets": [
            {"uv_set": one.uv_set, "materials": list(one.materials)}
            for one in unread_sets(asset, (judged.layout for judged in review.layouts))
        ],
        "remarks": list(asset.caveats),
        "sha256": asset.digest,
    }


def _layout(layout_review: LayoutReview, findings: Sequence[JudgedFinding], review: Review) -> Json:
    whole, tile = layout_review.measures.whole, layout_review.measures.tile
    return {
        "name": layout_review.layout.name,
        "material": layout_review.layout.materials[0]
        if len(layout_review.layout.materials) == 1
        else None,
        "materials": list(layout_review.layout.materials),
        "uv_set": layout_review.layout.uv_set,
        "textures": [_slot(slot) for slot in layout_review.layout.slots],
        "use": layout_review.limits.use_of(layout_review.layout.uv_set),
        "purpose": layout_review.purpose,
        "looks_tiling": bool(layout_review.looks_tiling),
        "udim": layout_review.udim,
        "tile_px": [tile.width, tile.height],
        "tile_is": "texture" if is_from_texture(layout_review.layout, review.limits) else "limits",
        "target_density": _number(layout_review.target_density),
        "target_is": layout_review.target_is,
        "coverage": _number(layout_review.measures.coverage.total),
        "tiles": _tiles(layout_review),
        "overlap_px": _number(layout_review.measures.overlap.area_px),
        "faces_without_uvs": len(layout_review.layout.missing_face)
        + len(layout_review.layout.unusable_face),
        "stretch": {
            "median": _number(whole.stretch_median),
            "p95": _number(whole.stretch_p95),
            "max": _number(whole.stretch_max),
            "l2": _number(whole.stretch_l2),
            "linf": _number(whole.stretch_linf),
        },
        "density": {
            "median": _number(whole.density_median),
            "p5": _number(whole.density_p5),
            "p95": _number(whole.density_p95),
        },
        "counts": counts(findings),
        "islands": _islands(layout_review, findings, review),
        "stacks": [list(group) for group in layout_review.measures.stacks.group],
        "could_share": [list(group) for group in layout_review.measures.stacks.shareable],
        "warnings": [_finding(standing) for standing in findings],
    }


def _tiles(layout_review: LayoutReview) -> list[Json]:
    coverage = layout_review.measures.coverage
    return [
        {"tile": tile, "udim": udim.number(*tile), "coverage": _number(share)}
        for tile, share in zip(coverage.tile.tolist(), coverage.share.tolist(), strict=True)
    ]


def _slot(slot: Slot) -> Json:
    image, moved = slot.image, slot.transform
    return {
        "slot": slot.name,
        "image": image.name,
        "size_px": [image.width, image.height] if image.width else None,
        "transform": {"matrix": list(moved.matrix), "offset": list(moved.offset)}
        if moved
        else None,
    }


def _islands(
    layout_review: LayoutReview, findings: Sequence[JudgedFinding], review: Review
) -> list[Json]:
    m, parts = layout_review.measures, review.asset.part_names
    island, gaps = m.island, m.gaps
    hard_m, smooth_m = island_lengths_m(layout_review.layout, m.seams)
    column: dict[str, Any] = {
        "surface": _column(island.surface_m2),
        "area": _column(island.area_uv),
        "density": _rows(
            island.density_median, island.density_p5, island.density_p95,
            island.density_min, island.density_max, layout_review.island_density_octaves,
        ),
        "stretch": _rows(
            island.stretch_median, island.stretch_p95, island.stretch_max, island.stretch_l2
        ),
        "padding": _column(gaps.padding_px),
        "margin": _column(gaps.margin_px),
        "seam": _column(m.seams.island_seam_m),
        "hard": _column(hard_m),
        "smooth": _column(smooth_m),
        "importance": _column(layout_review.island_importance),
    }  # fmt: skip
    told = island_findings(findings, layout_review.layout.island_count)
    return [
        {
            "id": i,
            "name": name,
            "parts": [parts[part] for part in layout_review.layout.island_parts[i]],
            "faces": int(island.faces[i]),
            "triangles": int(island.triangles[i]),
            "surface_m2": column["surface"][i],
            "uv_area": column["area"][i],
            "bounds": _column(island.bounds[i]),
            "tile": island.tile[i].tolist(),
            "importance": column["importance"][i],
            "density": dict(
                zip(("median", "p5", "p95", "min", "max", "octaves"), column["density"][i],
                    strict=True)
            ),
            "stretch": dict(
                zip(("median", "p95", "max", "l2"), column["stretch"][i], strict=True)
            ),
            "flipped_triangles": int(island.flipped_triangles[i]),
            "padding_px": column["padding"][i],
            "padding_to": int(gaps.padding_to[i]) if gaps.padding_to[i] >= 0 else None,
            "margin_px": column["margin"][i],
            "safe_mip": int(m.mips.safe_mip[i]),
            "seam_m": column["seam"][i],
            "hard_inside_m": column["hard"][i],
            "smooth_seam_m": column["smooth"][i],
            **told[i],
        }
        for i, name in enumerate(layout_review.layout.island_name)
    ]  # fmt: skip


def _finding(standing: JudgedFinding) -> Json:
    finding = standing.finding
    return {
        "check": finding.check,
        "severity": finding.severity.name.lower(),
        "islands": list(finding.islands),
        "worst": finding.worst if finding.worst >= 0 else None,
        "value": _number(finding.value),
        "limit": _number(finding.limit),
        "unit": finding.unit,
        "points": finding.points.tolist(),
        "title": finding.title,
        "what": finding.what,
        "why": finding.why,
        "do": finding.do,
        "how": finding.how,
        **finding_waivers(standing),
    }


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _column(values: FloatArray) -> list[float | None]:
    return [value if math.isfinite(value) else None for value in values.tolist()]


def _rows(*columns: NDArray[np.float64]) -> list[list[float | None]]:
    return [list(row) for row in zip(*map(_column, columns), strict=True)]
