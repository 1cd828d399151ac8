"""What the kernels sum over islands, in plain formulas: pure functions of singular values."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray


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
