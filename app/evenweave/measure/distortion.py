"""Measures derived from the singular values of one triangle: pure functions of arrays.

s1 >= |s2| > 0 as in `TriangleMeasures`; s2 < 0 means flipped, and counts by its size. NaN in,
NaN out. Every function returns an array shaped like its arguments.
"""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray


def stretch(s1: FloatArray, s2: FloatArray) -> FloatArray:
    """Return s1 / |s2|: 1 where the scale is the same both ways."""
    return s1 / np.abs(s2)


def density(s1: FloatArray, s2: FloatArray) -> FloatArray:
    """Return sqrt(s1 |s2|), the root of texel area over surface area: texels per metre."""
    return np.sqrt(s1 * np.abs(s2))


def density_octaves(s1: FloatArray, s2: FloatArray, target: float) -> FloatArray:
    """Return log2(density / target): 1 is twice the texels each way, one mip level."""
    octaves: FloatArray = np.log2(density(s1, s2) / target)
    return octaves


def angle_distortion_degrees(s1: FloatArray, s2: FloatArray) -> FloatArray:
    """Return the largest change of an angle, 2 asin((s1 - |s2|) / (s1 + |s2|)), in degrees.

    Snyder, "Map Projections: A Working Manual", USGS PP 1395, 1987, eq. 4-9 (omega).
    """
    lesser = np.abs(s2)
    omega: FloatArray = np.degrees(2 * np.arcsin((s1 - lesser) / (s1 + lesser)))
    return omega


def area_distortion(s1: FloatArray, s2: FloatArray, reference_density: float) -> FloatArray:
    """Return texel area over surface area, relative to a density: 1 where it is that."""
    return s1 * np.abs(s2) / reference_density**2


def l2_stretch(s1: FloatArray, s2: FloatArray) -> FloatArray:
    """Return the root mean square stretch of the map from texture to surface.

    sqrt((1 / s1^2 + 1 / s2^2) / 2), metres per texel: Sander, Snyder, Gortler, Hoppe,
    "Texture Mapping Progressive Meshes", SIGGRAPH 2001. Times the density it is 1 at least.
    """
    root: FloatArray = np.sqrt((s1**-2.0 + s2**-2.0) / 2)
    return root


def linf_stretch(s1: FloatArray, s2: FloatArray) -> FloatArray:
    """Return the largest stretch from texture to surface, 1 / |s2|, metres per texel (ibid.)."""
    return 1 / np.abs(s2)


def symmetric_dirichlet(s1: FloatArray, s2: FloatArray, scale: float = 1.0) -> FloatArray:
    """Return (t1^2 + t2^2 + 1 / t1^2 + 1 / t2^2) / 4 with t = scale * s: least value 1.

    A quarter of the energy of Smith & Schaefer, "Bijective Parameterization with Free
    Boundaries", SIGGRAPH 2015, whose least value is 4.
    """
    t1, t2 = scale * s1, scale * s2
    return (t1**2 + t2**2 + t1**-2.0 + t2**-2.0) / 4
