"""The catalogue of quantities, in the order in which they are explained."""

from __future__ import annotations

from evenweave.quantities.quantity import Quantity

SNYDER = "Snyder, Map Projections: A Working Manual, USGS Professional Paper 1395, 1987"
SANDER = "Sander, Snyder, Gortler, Hoppe, Texture Mapping Progressive Meshes, SIGGRAPH 2001"
SMITH = "Smith, Schaefer, Bijective Parameterization with Free Boundaries, SIGGRAPH 2015"
TRADE = "common practice, no source"
BY_DEFINITION = "definition"

STRETCH = Quantity(
    "stretch", "Stretch", "Stretch", "ratio", "",
    "How many times longer than wide a square of the texture becomes; 1 is none.",
    "s1 / |s2|", SANDER + "; Tissot's indicatrix in " + SNYDER,
    colours="sequential", tops=(2.0, 3.0, 4.0, 6.0, 8.0, 12.0), mode="stretch",
)  # fmt: skip
STRETCH_95 = Quantity(
    "stretch-95", "Stretch of the worst twentieth", "Stretch, 95 %", "ratio", "",
    "Stretch that 95 % of the surface does not exceed.",
    "95th percentile of s1 / |s2|, weighted by surface", BY_DEFINITION,
    field="island.stretch.p95", column="stretch_p95",
)  # fmt: skip
STRETCH_MEDIAN = Quantity(
    "stretch-median", "Median stretch", "Stretch, median", "ratio", "",
    "Stretch that half of the surface does not exceed.",
    "median of s1 / |s2|, weighted by surface", BY_DEFINITION,
    field="island.stretch.median", column="stretch_median",
)  # fmt: skip
STRETCH_MOST = Quantity(
    "stretch-most", "Greatest stretch", "Stretch, most", "ratio", "",
    "Stretch of the worst triangle.", "maximum of s1 / |s2|", BY_DEFINITION,
    field="island.stretch.max", column="stretch_max",
)  # fmt: skip
STRETCH_L2 = Quantity(
    "stretch-l2", "L2 stretch", "Stretch, L2", "ratio", "",
    "Root mean square of the scale from texture to surface; 1 for a uniform scale.",
    "sqrt(Σ area · (s1⁻² + s2⁻²) / 2 / Σ area), for a mean scale of 1", SANDER,
    field="island.stretch.l2",
)  # fmt: skip
ANGLE = Quantity(
    "angle", "Angle distortion", "Angle, °", "degrees", "°",
    "The greatest change of an angle between surface and texture.",
    "2 · asin((s1 − |s2|) / (s1 + |s2|))", SNYDER,
    colours="sequential", tops=(30.0, 60.0, 90.0, 120.0, 180.0), mode="angle",
)  # fmt: skip
AREA_SCALE = Quantity(
    "area", "Area scale against the median", "Area, octaves", "octaves", "octaves",
    "How much more or less area a place gets than the layout's median.",
    "log2(s1 · |s2| / median density²)", BY_DEFINITION,
    colours="diverging", tops=(1.0, 2.0, 3.0, 4.0, 6.0, 8.0), mode="area",
)  # fmt: skip
ENERGY = Quantity(
    "energy", "Symmetric Dirichlet energy", "Energy", "ratio", "",
    "Distortion of an island at its best common scale; 1 is none.",
    "mean of (s1² + s2² + s1⁻² + s2⁻²) / 4, weighted by surface", SMITH,
)  # fmt: skip
DENSITY = Quantity(
    "density", "Texel density", "Density, texels/m", "density", "texels per metre",
    "How many texels lie along a metre of the surface.",
    "sqrt(s1 · |s2|); of an island the median by surface", BY_DEFINITION,
    field="island.density.median", column="density_px_per_m",
)  # fmt: skip
OCTAVES = Quantity(
    "density-octaves", "Texel density against the target", "Density, octaves", "octaves",
    "octaves",
    "Density against what is wanted here: one octave more is twice as sharp, one less half.",
    "log2(density / (target · importance))", BY_DEFINITION,
    colours="diverging", tops=(1.0, 2.0, 3.0, 4.0, 6.0, 8.0), mode="density",
    field="island.density.octaves", column="density_octaves",
)  # fmt: skip
SURFACE = Quantity(
    "surface", "Surface", "Surface, %", "share", "%",
    "Share of the layout's surface.", "surface / surface of the layout", BY_DEFINITION,
)  # fmt: skip
SURFACE_M2 = Quantity(
    "surface-m2", "Surface in square metres", "Surface, m²", "m²", "m²",
    "Surface of the island on the object.", "sum of the triangles' areas", BY_DEFINITION,
    field="island.surface_m2", column="surface_m2",
)  # fmt: skip
AREA_UV = Quantity(
    "area-uv", "Area on the texture", "Area, tiles", "uv", "tiles",
    "Area on the texture; the tile from 0 to 1 is 1.", "sum of the triangles' areas in uv",
    BY_DEFINITION, field="island.uv_area", column="uv_area",
)  # fmt: skip
TEXELS = Quantity(
    "texels", "Texels covered", "Texels", "texels²", "texels",
    "Texels that the island covers.", "area in uv · tile width · tile height", BY_DEFINITION,
)  # fmt: skip
OVERLAP = Quantity(
    "overlap", "Times the texture is claimed", "Claimed", "count", "times",
    "How many triangles lie on a place of the texture.",
    "winding number of the outlines and folds", BY_DEFINITION,
    colours="sequential", tops=(3.0, 4.0, 6.0, 10.0, 20.0, 50.0), mode="overlap",
)  # fmt: skip
OVERLAP_AREA = Quantity(
    "overlap-area", "Overlap", "Overlap, texels", "texels²", "square texels",
    "Texture that is claimed twice or more, each place once.",
    "area of winding number ≥ 2", BY_DEFINITION, field="layout.overlap_px",
)  # fmt: skip
PADDING = Quantity(
    "padding", "Padding", "Padding, texels", "texels", "texels",
    "Least distance to another island.", "Euclidean distance of the outlines", BY_DEFINITION,
    colours="sequential", mode="padding", field="island.padding_px", column="padding_px",
)  # fmt: skip
MARGIN = Quantity(
    "margin", "Margin", "Margin, texels", "texels", "texels",
    "Least distance to the edge of the tile; below 0 where it sticks out.",
    "least of the bounds against the tile", BY_DEFINITION,
    field="island.margin_px", column="margin_px",
)  # fmt: skip
SAFE_MIP = Quantity(
    "safe-mip", "Last safe mip level", "Safe mip", "level", "",
    "Last mip level at which no block of texels holds two islands.",
    "pyramid of island numbers, halved level by level", BY_DEFINITION,
    field="island.safe_mip", column="safe_mip",
)  # fmt: skip
COVERAGE = Quantity(
    "coverage", "Coverage", "Coverage, %", "share", "%",
    "Share of the tile's texel centres that islands cover.",
    "texel centres inside triangles / all, at the tile's size", BY_DEFINITION,
    field="layout.coverage",
)  # fmt: skip
SEAM = Quantity(
    "seam", "Seam", "Seam, m", "metres", "m",
    "Length of the seams round the island.", "sum of the edges' lengths", BY_DEFINITION,
    field="island.seam_m", column="seam_m",
)  # fmt: skip
FLIPPED = Quantity(
    "flipped", "Flipped triangles", "Flipped", "count", "triangles",
    "Triangles that lie mirrored on the texture.", "det J < 0, exact", BY_DEFINITION,
    field="island.flipped_triangles", column="flipped_triangles",
)  # fmt: skip
IMPORTANCE = Quantity(
    "importance", "Importance", "Importance", "ratio", "",
    "How much more density a part deserves than others; 1 is normal.", "given in the limits",
    TRADE, field="island.importance", column="importance",
)  # fmt: skip
FINDINGS = Quantity(
    "findings", "Findings", "Found", "count", "",
    "How many open findings name the island.", "count", BY_DEFINITION,
)  # fmt: skip

CATALOGUE = (
    STRETCH, STRETCH_95, STRETCH_MEDIAN, STRETCH_MOST, STRETCH_L2, ANGLE, AREA_SCALE, ENERGY,
    DENSITY, OCTAVES, SURFACE, SURFACE_M2, AREA_UV, TEXELS, OVERLAP, OVERLAP_AREA, PADDING, MARGIN,
    SAFE_MIP, COVERAGE, SEAM, FLIPPED, IMPORTANCE, FINDINGS,
)  # fmt: skip
"""Every quantity."""

BY_MODE = {quantity.mode: quantity for quantity in CATALOGUE if quantity.mode}
"""The quantity that each colour mode shows; modes without numbers have none."""
