"""`evenweave.review`: measure and judge a file or a mesh, as plain data."""

from __future__ import annotations

from dataclasses import dataclass, replace
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from evenweave import pipeline
from evenweave.arrays import frozen
from evenweave.check.finding import Finding, Severity
from evenweave.limits.file import discover
from evenweave.limits.limits import Limits
from evenweave.mesh.asset import Asset, Unit
from evenweave.mesh.read import read
from evenweave.notes.outcome import Outcome
from evenweave.places import sample_assets

if TYPE_CHECKING:
    import pandas
    import trimesh

COLUMNS = (
    ("faces", np.int32),
    ("triangles", np.int32),
    ("surface_m2", np.float64),
    ("area_uv", np.float64),
    ("density_px_per_m", np.float64),
    ("density_octaves", np.float64),
    ("stretch_median", np.float64),
    ("stretch_p95", np.float64),
    ("flipped_triangles", np.int32),
    ("padding_px", np.float64),
    ("margin_px", np.float64),
    ("safe_mip", np.int32),
    ("importance", np.float64),
)
"""The columns of `islands`, beside the names of the layout and of the island."""

_NAMES = tuple(name for name, _ in COLUMNS)


@dataclass(frozen=True, eq=False)
class LayoutResult:
    """One layout in short.

    coverage : share of the tile's texel centres that are covered
    overlap_px : texture claimed twice, square texels
    target_density : texels per metre
    findings : gravest first
    """

    name: str
    uv_set: str
    islands: int
    coverage: float
    overlap_px: float
    target_density: float
    stretch_p95: float
    findings: tuple[Finding, ...]


@dataclass(frozen=True, eq=False)
class Review:
    """What is known of one asset under one set of limits.

    whole : everything that was measured, as the program itself keeps it; its fields may change
    from version to version, those named here do not
    """

    whole: pipeline.Review

    @property
    def layouts(self) -> tuple[LayoutResult, ...]:
        """Every layout, in the asset's order of materials."""
        return tuple(_layout(one) for one in self.whole.layouts)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The findings of all layouts, layout by layout."""
        return tuple(finding for one in self.whole.layouts for finding in one.findings)

    @property
    def worst(self) -> Severity | None:
        """The gravest severity found, None where nothing was."""
        return max((finding.severity for finding in self.findings), default=None)

    @property
    def islands(self) -> NDArray[np.void]:
        """One row an island: `layout`, `name`, and `COLUMNS`; NaN where not measurable."""
        tables = [_island_table(one) for one in self.whole.layouts]
        return frozen(np.concatenate(tables)) if tables else np.empty(0, _dtype(1, 1))

    def to_dict(self) -> dict[str, Any]:
        """Return what `evenweave check --format json` writes of a file."""
        from evenweave.report.machine.machine import file_result

        return file_result(Outcome(self.whole.asset.path, review=self.whole))

    def to_pandas(self) -> pandas.DataFrame:
        """Return `islands` as a data frame. Raises ImportError where there is no pandas."""
        import pandas

        return pandas.DataFrame({name: self.islands[name] for name in ("layout", "name", *_NAMES)})

    def to_trimesh(self) -> trimesh.Scene:
        """Return the asset as a scene whose `visual.uv` are the coordinates judged."""
        from evenweave.library.to_trimesh import scene_of

        return scene_of(self.whole)


def sample(name: str) -> Path:
    """Return the path of a bundled sample asset."""
    return sample_assets() / name


def review(
    source: str | PathLike[str] | trimesh.Trimesh | trimesh.Scene,
    limits: Limits | None = None,
    *,
    uv_set: str | None = None,
    metres_per_unit: float | None = None,
) -> Review:
    """Measure and judge a file, or a mesh or scene of trimesh.

    limits : else those found beside the file or above it, else the defaults
    uv_set : the name of the set to look at
    metres_per_unit : where the file does not say, or says wrongly

    Raises FileProblem, a sentence, where the file cannot be read.

    >>> import evenweave
    >>> lantern = evenweave.review(evenweave.sample("lantern_second_pass.obj"))
    >>> lantern.worst is None or lantern.worst < evenweave.Severity.WARNING
    True
    >>> [round(float(s), 2) for s in sorted(lantern.islands["stretch_p95"])[-2:]]
    [1.37, 1.37]
    """
    asset, found = _opened(source)
    if metres_per_unit is not None:
        asset = replace(asset, unit=Unit(metres_per_unit, is_stated=True))
    chosen = limits if limits is not None else found
    return Review(pipeline.review(asset, chosen, pipeline.Grouping(uv_set=uv_set)))


def _opened(
    source: str | PathLike[str] | trimesh.Trimesh | trimesh.Scene,
) -> tuple[Asset, Limits]:
    if isinstance(source, (str, PathLike)):
        path = Path(source)
        return read(path), discover(path.parent).limits
    from evenweave.library.from_trimesh import asset_of

    return asset_of(source), Limits()


def _layout(layout_review: pipeline.LayoutReview) -> LayoutResult:
    return LayoutResult(
        name=layout_review.layout.name,
        uv_set=layout_review.layout.uv_set,
        islands=layout_review.layout.island_count,
        coverage=layout_review.measures.coverage.total,
        overlap_px=layout_review.measures.overlap.area_px,
        target_density=layout_review.target_density,
        stretch_p95=layout_review.measures.whole.stretch_p95,
        findings=layout_review.findings,
    )


def _dtype(layout: int, name: int) -> np.dtype[np.void]:
    return np.dtype([("layout", f"U{layout}"), ("name", f"U{name}"), *COLUMNS])


def _island_table(layout_review: pipeline.LayoutReview) -> NDArray[np.void]:
    island, gaps = layout_review.measures.island, layout_review.measures.gaps
    names = np.array(layout_review.layout.island_name, dtype=str)
    table = np.empty(
        len(names), _dtype(max(len(layout_review.layout.name), 1), max(names.itemsize // 4, 1))
    )
    table["layout"], table["name"] = layout_review.layout.name, names
    columns = {
        "faces": island.faces,
        "triangles": island.triangles,
        "surface_m2": island.surface_m2,
        "area_uv": island.area_uv,
        "density_px_per_m": island.density_median,
        "density_octaves": layout_review.island_density_octaves,
        "stretch_median": island.stretch_median,
        "stretch_p95": island.stretch_p95,
        "flipped_triangles": island.flipped_triangles,
        "padding_px": gaps.padding_px,
        "margin_px": gaps.margin_px,
        "safe_mip": layout_review.measures.mips.safe_mip,
        "importance": layout_review.island_importance,
    }
    for name, column in columns.items():
        table[name] = column
    return table
