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


def density_octaves(s1: FloatArray, s2: FloatArray, target: float | FloatArray) -> FloatArray:
    """Return log2(density / target): 1 is twice the texels each way, one mip level.

    target : one for all, or one for each
    """
    octaves: FloatArray = np.log2(density(s1, s2) / target)
    return octaves


def angle_distortion_degrees(s1: FloatArray, s2: FloatArray) -> FloatArray:
    """Return the largest change of an angle, 2 asin((s1 - |s2|) / (s1 + |s2|)), in degrees.

    Snyder, "Map Projections: A Working Manual", USGS PP 1395, 1987, eq. 4-9 (omega).
    """
    lesser = np.abs(s2)
    omega: FloatArray = np.degrees(2 * np.arcsin((s1 - lesser) / (s1 + lesser)))
    return omega
