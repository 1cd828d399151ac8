"""Reviews made of plain numbers: a sheet of square islands, each with its own faults."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from tests import shapes

from evenweave.arrays import floats, frozen, ints
from evenweave.check.finding import Finding, Severity
from evenweave.layout.layout import Edges, Layout, Tile
from evenweave.limits.file import FoundLimits
from evenweave.limits.limits import Limits
from evenweave.measure.results import (
    Coverage,
    Gaps,
    IslandMeasures,
    LayoutMeasures,
    Measures,
    Mips,
    Overlap,
    Seams,
    Shape,
    Stacks,
    TriangleMeasures,
)
from evenweave.pipeline import Grouping, LayoutReview, Review
from evenweave.window.services.session import Session
from evenweave.window.state.preparation import Opened, prepared

SIDE_PX = 2048


def show(session: Session, review: Review) -> None:
    """Hand a review to the session as if a file had been opened."""
    session.reading.take_opened(Opened(prepared(review), FoundLimits(review.limits, None), None))


def sheet_review(islands: int = 12, *, materials: tuple[str, ...] = ("brass", "glass")) -> Review:
    """Return a review whose layouts each hold `islands` square islands in a grid.

    Island k has stretch 1 + k / islands and density (k - islands / 2) / islands octaves off;
    the last has a fault, the first a note, and every third a warning on stretch.
    """
    layouts = tuple(
        layout_review(name, islands, first_face=islands * k) for k, name in enumerate(materials)
    )
    count = islands * len(materials)
    asset = shapes.asset(
        np.concatenate([one.layout.point_m for one in layouts]),
        np.arange(4 * count).reshape(-1, 4),
        np.concatenate([one.layout.uv for one in layouts]),
        face_part=np.arange(count) % 3,
        parts=tuple(f"part {k}" for k in range(3)),
        face_material=np.repeat(np.arange(len(materials)), islands),
        materials=materials,
    )
    return Review(asset, Grouping(), Limits(), layouts)


def layout_review(name: str, islands: int, *, first_face: int = 0) -> LayoutReview:
    layout = square_layout(name, islands, first_face)
    measures = square_measures(layout)
    octaves = (np.arange(islands) - islands / 2) / islands
    return LayoutReview(
        layout=layout,
        measures=measures,
        purpose="unique",
        target_density=512.0,
        target_is="median",
        island_importance=floats(np.ones(islands)),
        island_density_octaves=floats(octaves),
        looks_tiling=False,
        limits=Limits(),
        findings=some_findings(islands),
    )


def empty_layout_review(name: str, *, missing: int = 6) -> LayoutReview:
    """Return a layout none of whose faces has UVs."""
    one = layout_review(name, 0)
    return replace(one, layout=replace(one.layout, missing_face=ints(range(missing))), findings=())


def square_layout(name: str, islands: int, first_face: int) -> Layout:
    columns = max(1, int(np.ceil(np.sqrt(islands))))
    k = np.arange(islands)
    corner = np.array([(0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9)])
    uv = (np.stack([k % columns, k // columns], axis=1)[:, None] + corner) / columns
    uv = uv.reshape(-1, 2)
    first = 4 * k[:, None]
    triangles = (first + np.array([[0, 1, 2, 0, 2, 3]])).reshape(-1, 3)
    nothing = ints(np.zeros(0))
    return Layout(
        name=name,
        materials=(name,),
        uv_set="uv",
        asset_face=ints(first_face + k),
        missing_face=nothing,
        unusable_face=nothing,
        face_start=ints(4 * np.arange(islands + 1)),
        corner_point=ints(np.arange(4 * islands)),
        corner_uv=ints(np.arange(4 * islands)),
        point_m=floats(np.column_stack([uv * columns, np.zeros(len(uv))])),
        uv=floats(uv),
        triangle_corner=ints(triangles),
        triangle_face=ints(np.repeat(k, 2)),
        face_island=ints(k),
        island_name=tuple(f"piece {i}" for i in range(islands)),
        island_parts=tuple((i % 3,) for i in range(islands)),
        edges=Edges(
            seam=ints(np.zeros((0, 2))),
            border=ints(np.arange(4 * islands)),
            nonmanifold=nothing,
            outline=ints(np.arange(4 * islands)),
        ),
    )


def square_measures(layout: Layout) -> Measures:
    islands = layout.island_count
    k = np.arange(islands)
    stretch = floats(1 + k / max(islands, 1))
    zeros, ones = floats(np.zeros(islands)), floats(np.ones(islands))
    counts = ints(np.zeros(islands))
    boxes = layout.uv.reshape(-1, 4, 2)
    bounds = floats(np.column_stack([boxes.min(axis=1), boxes.max(axis=1)]).reshape(-1, 4))
    area = floats((bounds[:, 2] - bounds[:, 0]) * (bounds[:, 3] - bounds[:, 1]))
    root = np.repeat(np.sqrt(stretch), 2)
    points = floats(np.zeros((islands, 2, 2)))
    return Measures(
        tile=Tile(SIDE_PX, SIDE_PX),
        triangle=TriangleMeasures(
            s1=floats(512 * root),
            s2=floats(512 / root),
            area_m2=floats(np.full(2 * islands, 0.32)),
            area_px=floats(np.repeat(area, 2) / 2 * SIDE_PX**2),
            is_degenerate=frozen(np.zeros(2 * islands, bool)),
        ),
        island=IslandMeasures(
            faces=ints(np.ones(islands)), triangles=ints(2 * np.ones(islands)),
            surface_m2=floats(np.full(islands, 0.64)), area_uv=area, bounds=bounds,
            tile=ints(np.zeros((islands, 2))), crosses_tile=frozen(np.zeros(islands, bool)),
            density_median=floats(512 * ones), density_p5=ones, density_p95=ones,
            density_min=ones, density_max=ones, stretch_median=stretch, stretch_p95=stretch,
            stretch_max=stretch, stretch_l2=ones, stretch_linf=ones, dirichlet=ones,
            flipped_triangles=counts, flipped_share=zeros, degenerate_triangles=counts,
        ),
        whole=LayoutMeasures(0.64 * islands, float(area.sum()), 512, 512, 512, 1.4, 1.9, 2, 1, 1),
        overlap=Overlap(
            ints(np.zeros((0, 2))), floats([]), floats(np.zeros((0, 2))), (),
            floats(np.zeros((0, 2, 2))), 0.0, 0,
        ),
        stacks=Stacks((), (), (), frozen(np.zeros(islands, bool)), ints(k)),
        gaps=Gaps(zeros, counts, points, zeros, points, 64.0),
        coverage=Coverage(ints([(0, 0)]), floats([0.6]), 0.6),
        mips=Mips(counts),
        seams=Seams(
            floats([]), ints(np.zeros((0, 2))), floats([]), floats([]),
            frozen(np.zeros(0, bool)), floats([]), ints([]), floats([]), zeros, zeros,
            ints(np.full(islands, -1)), zeros,
        ),
        shape=Shape(ones, ones, zeros, zeros, ones),
    )  # fmt: skip


def some_findings(islands: int) -> tuple[Finding, ...]:
    if not islands:
        return ()
    found = [finding("overlap", Severity.FAULT, (islands - 1,), value=12.5, limit=1e-3)]
    found += [
        finding("stretch", Severity.WARNING, (k,), value=1 + k / islands, limit=1.5)
        for k in range(0, islands, 3)
    ]
    return (*found, finding("stack", Severity.NOTE, (0,), value=2, limit=0))


def finding(
    check: str, severity: Severity, islands: tuple[int, ...], *, value: float, limit: float
) -> Finding:
    return Finding(
        check=check,
        severity=severity,
        islands=islands,
        worst=islands[0] if islands else -1,
        value=value,
        limit=limit,
        unit="square texels" if check == "overlap" else "",
        points=floats(np.full((1, 2), 0.5)),
        segments=floats(np.zeros((0, 2, 2))),
        faces=ints(islands),
        title=f"{check.capitalize()} on {len(islands)} island",
        what=f"The value is {value:.2f}; the limit is {limit:g}.",
        why="Paint would smear across it.",
        do="Relax the island, or cut it once more.",
        how="Singular values of the Jacobian; Sander et al. 2001.",
    )
