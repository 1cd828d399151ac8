"""The results of measuring: plain tables of numbers.

Lengths and areas in "px" are texels of the tile (u * width, v * height). Densities are texels
per metre. Not measurable is NaN for numbers and -1 for indices.
"""

from __future__ import annotations

from dataclasses import dataclass

from evenweave.arrays import BoolArray, FloatArray, IntArray
from evenweave.layout.layout import Tile


@dataclass(frozen=True, eq=False)
class TriangleMeasures:
    """Per triangle, (T,) float64 each.

    s1 >= |s2| : singular values of the Jacobian from the surface (metres) to the texture
    (texels); s2 < 0 means flipped
    area_m2 : surface area; area_px : signed texel area (> 0 counter-clockwise)
    is_degenerate : no usable surface or texel area (s1, s2 are then NaN)
    """

    s1: FloatArray
    s2: FloatArray
    area_m2: FloatArray
    area_px: FloatArray
    is_degenerate: BoolArray


@dataclass(frozen=True, eq=False)
class IslandMeasures:
    """Per island, first axis I. Percentiles are weighted by surface area.

    bounds : (I, 4) u0, v0, u1, v1 in tile units; tile : (I, 2) int32 column and row of the tile
    that holds the middle of the bounds; crosses_tile : part of it lies in another tile.
    """

    faces: IntArray
    triangles: IntArray
    surface_m2: FloatArray
    area_uv: FloatArray
    bounds: FloatArray
    tile: IntArray
    crosses_tile: BoolArray
    density_median: FloatArray
    density_p5: FloatArray
    density_p95: FloatArray
    density_min: FloatArray
    density_max: FloatArray
    stretch_median: FloatArray
    stretch_p95: FloatArray
    stretch_max: FloatArray
    stretch_l2: FloatArray
    stretch_linf: FloatArray
    dirichlet: FloatArray
    flipped_triangles: IntArray
    flipped_share: FloatArray
    degenerate_triangles: IntArray


@dataclass(frozen=True)
class LayoutMeasures:
    """Of the whole layout: surface-weighted percentiles, Sander's L2 and L-infinity."""

    surface_m2: float
    area_uv: float
    density_median: float
    density_p5: float
    density_p95: float
    stretch_median: float
    stretch_p95: float
    stretch_max: float
    stretch_l2: float
    stretch_linf: float


@dataclass(frozen=True, eq=False)
class Overlap:
    """Texture claimed twice, in texels squared of the tile.

    pair : (K, 2) int32 islands a <= b; a == b is self-overlap. pair_area_px : (K,)
    pair_point : (K, 2) uv inside the worst place. pair_patch : per pair (N, 2) uv outline of
    one closed ring at its worst place (may be empty)
    outline : (S, 2, 2) uv segments round everything that is covered twice or more
    area_px : area covered twice or more, each place once
    counted_at : 0 where exact; else the number of texels per tile side it was counted at
    """

    pair: IntArray
    pair_area_px: FloatArray
    pair_point: FloatArray
    pair_patch: tuple[FloatArray, ...]
    outline: FloatArray
    area_px: float
    counted_at: int


@dataclass(frozen=True, eq=False)
class Stacks:
    """Congruent islands.

    group : per stack the islands (>= 2, ascending) lying exactly on each other
    misaligned : per near miss (islands, largest offset in texels)
    shareable : groups of congruent islands that do not lie on each other
    is_mirrored : (I,) the island is a mirror image of the first of its congruence class
    congruent : (I,) int32 congruence class of each island, numbered by first island
    """

    group: tuple[tuple[int, ...], ...]
    misaligned: tuple[tuple[tuple[int, ...], float], ...]
    shareable: tuple[tuple[int, ...], ...]
    is_mirrored: BoolArray
    congruent: IntArray


@dataclass(frozen=True, eq=False)
class Gaps:
    """Room around islands, in texels.

    padding_px : (I,) to the nearest other island, inf where none is near; padding_to : (I,)
    that island or -1; padding_points : (I, 2, 2) uv, on this and on the other island
    margin_px : (I,) to the nearest edge of its tile, negative where it sticks out;
    margin_points : (I, 2, 2) uv
    reach_px : distance up to which padding was looked for
    Members of one stack are one island here.
    """

    padding_px: FloatArray
    padding_to: IntArray
    padding_points: FloatArray
    margin_px: FloatArray
    margin_points: FloatArray
    reach_px: float


@dataclass(frozen=True, eq=False)
class Coverage:
    """Share of the texel centres covered, per tile in use.

    tile : (K, 2) int32 column and row; share : (K,) in 0 to 1; total : over the tiles in use
    """

    tile: IntArray
    share: FloatArray
    total: float


@dataclass(frozen=True, eq=False)
class Mips:
    """safe_mip : (I,) int32 highest level at which no texel block holds two islands (-1: none)."""

    safe_mip: IntArray


@dataclass(frozen=True, eq=False)
class Seams:
    """Row i speaks of `layout.edges.seam[i]`, (S,) each.

    length_m; island : (S, 2) int32 of the two sides; density_step_octaves : log2 of the larger
    over the smaller density across; turn_degrees : change of the checker's direction, 0 to 180
    is_hard : split or unlike normals; fold_degrees : angle between the face normals
    hard_inside : corners of edges with split normals that are no seam, and hard_inside_m lengths
    island_seam_m : (I,) length of seam round each island; island_border_m : (I,) of border
    fragment : (I,) island with which most of the outline is shared, or -1;
    fragment_share : (I,) share of its outline
    """

    length_m: FloatArray
    island: IntArray
    density_step_octaves: FloatArray
    turn_degrees: FloatArray
    is_hard: BoolArray
    fold_degrees: FloatArray
    hard_inside: IntArray
    hard_inside_m: FloatArray
    island_seam_m: FloatArray
    island_border_m: FloatArray
    fragment: IntArray
    fragment_share: FloatArray


@dataclass(frozen=True, eq=False)
class Shape:
    """Shape of each island.

    strip_length_px and strip_width_px (NaN if no strip), bow : share of its
    length by which a strip bends; grid_angle_degrees : turn of its dominant edges from the
    texel grid, -45 to 45; short_side_px : shorter side of its smallest rectangle.
    """

    strip_length_px: FloatArray
    strip_width_px: FloatArray
    bow: FloatArray
    grid_angle_degrees: FloatArray
    short_side_px: FloatArray


@dataclass(frozen=True, eq=False)
class WorstSpot:
    """A connected patch of bad triangles.

    `island`, its `triangles`, a `point` (2,) uv inside,
    the patch's area-weighted `value`, and `badness`, excess times surface, for ordering.
    """

    measure: str
    island: int
    triangles: IntArray
    point: FloatArray
    value: float
    badness: float


@dataclass(frozen=True, eq=False)
class Measures:
    """Everything measured of one layout at one tile size."""

    tile: Tile
    triangle: TriangleMeasures
    island: IslandMeasures
    whole: LayoutMeasures
    overlap: Overlap
    stacks: Stacks
    gaps: Gaps
    coverage: Coverage
    mips: Mips
    seams: Seams
    shape: Shape
