"""Islands as a table: CSV, one line an island."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any

from evenweave.layout import udim
from evenweave.report.machine.machine import Json

COLUMNS = (
    "file", "layout", "island", "parts", "faces", "triangles", "surface_m2", "uv_area",
    "u0", "v0", "u1", "v1", "udim", "importance", "density_px_per_m", "density_octaves",
    "density_p5", "density_p95", "stretch_median", "stretch_p95", "stretch_max",
    "flipped_triangles", "padding_px", "padding_to", "margin_px", "safe_mip", "seam_m",
    "warnings", "waived",
)  # fmt: skip


def table_text(files: Sequence[Json]) -> str:
    """Return the islands of all files as CSV (RFC 4180, with a header line).

    files : as `machine.file_result` gives them. `warnings` names the checks whose warnings of the
    island are open, `waived` those whose warnings of it are waived. What cannot be measured is an
    empty field. Files that could not be read have no lines.
    """
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for file in files:
        for layout in file["layouts"]:
            names = [island["name"] for island in layout["islands"]]
            for island in layout["islands"]:
                writer.writerow(_row(file["path"], layout["name"], island, names))
    return out.getvalue().encode("utf-8", "backslashreplace").decode()


def _row(path: str, layout: str, island: Json, names: Sequence[str]) -> list[Any]:
    density, stretch, (column, row) = island["density"], island["stretch"], island["tile"]
    neighbour = "" if island["padding_to"] is None else names[island["padding_to"]]
    return [
        _plain(path), _plain(layout), _plain(island["name"]), _plain("; ".join(island["parts"])),
        island["faces"], island["triangles"], island["surface_m2"], island["uv_area"],
        *island["bounds"], udim.number(column, row),
        island["importance"], density["median"], density["octaves"], density["p5"],
        density["p95"], stretch["median"], stretch["p95"], stretch["max"],
        island["flipped_triangles"], island["padding_px"], _plain(neighbour),
        island["margin_px"], island["safe_mip"], island["seam_m"],
        " ".join(island["open_warnings"]), " ".join(island["waived_warnings"]),
    ]  # fmt: skip


def _plain(text: str) -> str:
    """Keep a spreadsheet from taking a name for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
