"""Measures against published values: a benchmark's fixtures and the tables of cartography.

s1 and s2 are the semi-axes of Tissot's indicatrix, so that a sphere textured by a map
projection has known measures everywhere.
"""

import numpy as np
import pyproj
import pytest
from numpy.typing import NDArray
from tests import shapes
from tests.measure import island_energies

from evenweave.layout.build import build_layouts
from evenweave.layout.layout import Tile
from evenweave.measure.distortion import distortion
from evenweave.measure.distortion.jacobian import measure_triangles
from evenweave.measure.islands.islands import measure_islands
from evenweave.measure.results import TriangleMeasures
from evenweave.measure.seams.seams import measure_seams
from evenweave.mesh.asset import Asset

UNIT = Tile(1, 1)
Floats = NDArray[np.float64]


def measured(asset: Asset) -> TriangleMeasures:
    (layout,) = build_layouts(asset)
    return measure_triangles(layout, UNIT)


# Shay, Solomon, Stein, "A dataset and benchmark for mesh parameterization", 2022: the expected
# values asserted by its tests (Apache-2.0), for meshes rebuilt here. Surface and texture are
# scaled to a total area of 1 first.


def scaled_to_area_one(asset: Asset) -> Asset:
    triangles = measured(asset)
    surface, texture = triangles.area_m2.sum(), np.abs(triangles.area_px).sum()
    return shapes.textured(
        shapes.moved(asset, np.eye(3) / np.sqrt(surface)), lambda uv: uv / np.sqrt(texture)
    )


def square(side: float = 1.0, u: float = 1.0, v: float = 1.0) -> Asset:
    return shapes.plane(side, side, bounds=(0, 0, u, v), triangles=True)


def grid_shift() -> Asset:
    """Two by two unit squares, the left column three times as wide in the texture."""
    return shapes.patch(
        lambda s, t: (2 * s, 2 * t, 0 * s),
        lambda s, t: (np.interp(s, [0, 0.5, 1], [0, 3, 4]), 2 * t),
        columns=2, rows=2, triangles=True,
    )  # fmt: skip


def one_triangle() -> Asset:
    return shapes.asset(
        [(0, 0, 0), (1, 0, 0), (1, 1, 0)], [(0, 1, 2)], [(0, 0), (1.5, 0), (1.5, 1)]
    )


def flipped_triangle() -> Asset:
    return shapes.asset([(0, 0, 0), (1, 1, 0), (2, 0, 0)], [(0, 1, 2)], [(0, 0), (1, 1), (2, 0)])


def folded() -> Asset:
    """Two triangles on either side of an edge, the second's tip folded onto the first's."""
    return shapes.asset(
        [(0, 0, 0), (0, 2, 0), (2, 1, 0), (-2, 1, 0)], [(1, 0, 2), (3, 0, 1)],
        [(0, 0), (0, 2), (2, 1)], uv_faces=[(1, 0, 2), (2, 0, 1)],
    )  # fmt: skip


def half_cone() -> Asset:
    """Half of an eight-sided cone of height and radius 3, seen from the side as its texture."""
    position = [(0.0, 0.0, 3.0)]
    for radius in (1, 2, 3):
        turn = -np.pi / 4 * np.arange(5)
        position += [(radius * np.cos(a), radius * np.sin(a), 3 - radius) for a in turn]
    faces: list[tuple[int, ...]] = [(0, k + 1, k + 2) for k in range(4)]
    for ring in (1, 6):
        faces += [(ring + k, ring + k + 5, ring + k + 6, ring + k + 1) for k in range(4)]
    return shapes.asset(position, faces, np.array(position)[:, [0, 2]])


def cone_in_quarters() -> Asset:
    """The whole cone, cut along four of its eight edges into pieces laid flat."""
    ring = np.pi / 4 * np.arange(8)
    position = [(0.0, 0.0, 3.0), *((3 * np.cos(a), 3 * np.sin(a), 0.0) for a in ring)]
    slant = 3 * np.sqrt(2)
    step = 2 * np.arcsin(3 * np.sin(np.pi / 8) / slant)
    uv: list[tuple[float, float]] = []
    faces, uv_faces = [], []
    for quarter in range(4):
        first = len(uv)
        uv.append((20.0 * quarter, 0.0))
        uv += [
            (20 * quarter + slant * np.cos(k * step), slant * np.sin(k * step)) for k in range(3)
        ]
        for k in range(2):
            side = 2 * quarter + k
            faces.append((0, 1 + side, 1 + (side + 1) % 8))
            uv_faces.append((first, first + 1 + k, first + 2 + k))
    return shapes.asset(position, faces, uv, uv_faces=uv_faces)


FIXTURES = {
    "square": square(),
    "square_scaled": square(10, 2, 2),
    "square_stretched": square(1, 2, 1),
    "grid_shift": grid_shift(),
    "triangle": one_triangle(),
    "half cone": half_cone(),
}


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("square", 0), ("square_scaled", 0), ("square_stretched", 0.5),
        ("grid_shift", 1.3333333333333333), ("triangle", 0.16666666666666652),
    ],
)  # fmt: skip
def test_greatest_angle_distortion_of_the_benchmarks_fixtures(name, expected):
    triangles = measured(scaled_to_area_one(FIXTURES[name]))
    stretch = distortion.stretch(triangles.s1, triangles.s2)
    assert (stretch + 1 / stretch).max() - 2 == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    ("name", "total", "greatest"),
    [
        ("square", 0, 0), ("square_scaled", 0, 0), ("square_stretched", 0, 0),
        ("grid_shift", 0.5, 0.5), ("half cone", 0.4142135623730949, 0.2928932188134521),
    ],
)  # fmt: skip
def test_area_distortion_of_the_benchmarks_fixtures(name, total, greatest):
    triangles = measured(scaled_to_area_one(FIXTURES[name]))
    area_px = np.abs(triangles.area_px)
    assert np.abs(area_px - triangles.area_m2).sum() == pytest.approx(total, abs=1e-6)
    ratio = island_energies.area_distortion(triangles.s1, triangles.s2, 1.0)
    assert (ratio + 1 / ratio).max() - 2 == pytest.approx(greatest, abs=1e-6)


@pytest.mark.parametrize(
    ("name", "s1", "s2"),
    [("square_scaled", 0.2, 0.2), ("square_stretched", 2, 1), ("triangle", 1.5, 1)],
)
def test_singular_values_of_the_benchmarks_fixtures(name, s1, s2):
    triangles = measured(FIXTURES[name])
    np.testing.assert_allclose(triangles.s1, s1)
    np.testing.assert_allclose(triangles.s2, s2)


@pytest.mark.parametrize(
    ("asset", "expected"),
    [(square(), 0), (square(1, 2, 1), 0), (flipped_triangle(), 1), (folded(), 0.5)],
)
def test_flipped_share_of_the_benchmarks_fixtures(asset, expected):
    (layout,) = build_layouts(asset)
    islands, whole = measure_islands(layout, UNIT, measure_triangles(layout, UNIT))
    # Halves that mirror each other are islands of their own here, so the share is the layout's.
    flipped = (islands.flipped_share * islands.surface_m2).sum() / whole.surface_m2
    assert flipped == pytest.approx(expected)


@pytest.mark.parametrize(
    ("asset", "expected"),
    [
        (shapes.cube(), 2.8577380332470415),
        (cone_in_quarters(), 2.7708236786351703),
        (square(), 0), (grid_shift(), 0), (half_cone(), 0),
    ],
)  # fmt: skip
def test_seam_length_of_the_benchmarks_fixtures(asset, expected):
    asset = scaled_to_area_one(asset)
    (layout,) = build_layouts(asset)
    seams = measure_seams(layout, asset, measure_triangles(layout, UNIT), UNIT)
    assert seams.length_m.sum() == pytest.approx(expected, abs=1e-6)


def test_a_triangle_flat_in_the_texture_is_degenerate_where_the_benchmark_says_infinite():
    position = [(0, 0, 0), (1, 1, 0), (2, 0, 0), (1, -1, 0)]
    uv = [(0, 0), (0.5, 0), (1, 0), (0.5, -0.5)]
    triangles = measured(scaled_to_area_one(shapes.asset(position, [(0, 1, 2), (0, 3, 2)], uv)))
    assert triangles.is_degenerate.tolist() == [True, False]
    area_px = np.abs(triangles.area_px)
    assert np.abs(area_px - triangles.area_m2).sum() == pytest.approx(1)


# Derived independently for the same fixtures, by the formulas of Sander et al. 2001 and Smith &
# Schaefer 2015 as two public code bases use them: L2, L-infinity, mean s1 / s2 and the
# symmetric Dirichlet energy (least value 4), each as it is and after scaling to equal areas.
DERIVED = [
    ("square_stretched", (0.790569, 1.118034), (1, 1.414214), 2, (6.25, 5)),
    ("grid_shift", (0.881917, 1.247219), (1, 1.414214), 2, (7.555556, 6.111111)),
    ("triangle", (0.849837, 1.040833), (1, 1.224745), 1.5, (4.694444, 4.333333)),
    ("half cone", (2.051123, 1.420825), (3.557647, 2.464403), 2.515637, (9.683966, 6.683680)),
]


@pytest.mark.parametrize(("name", "l2", "linf", "stretch", "dirichlet"), DERIVED)
def test_texture_stretch_and_dirichlet_energy_of_the_fixtures(name, l2, linf, stretch, dirichlet):
    (layout,) = build_layouts(FIXTURES[name])
    triangles = measure_triangles(layout, UNIT)
    _, whole = measure_islands(layout, UNIT, triangles)
    assert whole.stretch_l2 == pytest.approx(l2[1], abs=1e-5)
    assert whole.stretch_linf == pytest.approx(linf[1], abs=1e-5)
    s1, s2, weight = triangles.s1, triangles.s2, triangles.area_m2
    mean_stretch = np.average(distortion.stretch(s1, s2), weights=weight)
    assert mean_stretch == pytest.approx(stretch, abs=1e-5)
    squares = island_energies.l2_stretch(s1, s2) ** 2
    assert np.sqrt(np.average(squares, weights=weight)) == pytest.approx(l2[0], abs=1e-5)
    assert island_energies.linf_stretch(s1, s2).max() == pytest.approx(linf[0], abs=1e-5)
    equal_areas = np.sqrt(weight.sum() / np.abs(triangles.area_px).sum())
    for scale, expected in zip((1, equal_areas), dirichlet, strict=True):
        energy = 4 * island_energies.symmetric_dirichlet(s1, s2, scale)
        assert np.average(energy, weights=weight) == pytest.approx(expected, abs=1e-5)


# Snyder, "Map Projections: A Working Manual", USGS Professional Paper 1395, 1987, sphere of
# radius 1: scale along the meridian h, along the parallel k, greatest angular deformation omega.


def mercator(lam: Floats, phi: Floats) -> tuple[Floats, Floats]:
    return lam, np.log(np.tan(np.pi / 4 + phi / 2))


def plate_carree(lam: Floats, phi: Floats) -> tuple[Floats, Floats]:
    return lam, phi


def cylindrical_equal_area(lam: Floats, phi: Floats) -> tuple[Floats, Floats]:
    return lam * np.cos(np.pi / 6), np.sin(phi) / np.cos(np.pi / 6)


def miller(lam: Floats, phi: Floats) -> tuple[Floats, Floats]:
    return lam, 1.25 * np.log(np.tan(np.pi / 4 + 0.4 * phi))


def azimuthal(radius):
    """Return the north polar projection with this radius at each colatitude."""

    def project(lam: Floats, phi: Floats) -> tuple[Floats, Floats]:
        reach = radius(np.pi / 2 - phi)
        return reach * np.sin(lam), -reach * np.cos(lam)

    return project


lambert_azimuthal = azimuthal(lambda c: 2 * np.sin(c / 2))
stereographic = azimuthal(lambda c: 2 * np.tan(c / 2))
equidistant_azimuthal = azimuthal(lambda c: c)
gnomonic = azimuthal(np.tan)
orthographic = azimuthal(np.sin)

# (projection, latitude, h, k, omega in degrees); Table 7 gives h = k, omega = 0 by definition.
SNYDER = [
    *((mercator, phi, k, k, 0) for phi, k in [
        (80, 5.75877), (70, 2.92380), (60, 2.0), (50, 1.55572), (40, 1.30541), (30, 1.15470),
        (20, 1.06418), (10, 1.01543), (0, 1.0),
    ]),  # Table 7
    *((miller, *row) for row in [
        (80, 2.28117, 5.75877, 51.26), (70, 1.78829, 2.9238, 27.89), (60, 1.49448, 2, 16.64),
        (50, 1.30541, 1.55572, 10.04), (30, 1.09464, 1.1547, 3.06), (0, 1, 1, 0),
    ]),  # Table 14
    *((lambert_azimuthal, *row) for row in [
        (80, 0.99619, 1.00382, 0.437), (60, 0.96593, 1.03528, 3.972), (40, 0.90631, 1.10338, 11.25),
        (20, 0.81915, 1.22077, 22.71), (0, 0.70711, 1.41421, 38.94), (-30, 0.5, 2, 73.74),
        (-60, 0.25882, 3.8637, 122.0),
    ]),  # Table 21
    *((stereographic, phi, k, k, 0) for phi, k in [
        (80, 1.00765), (60, 1.07180), (30, 1.33333), (0, 2), (-30, 4), (-60, 14.9282),
    ]),  # Table 21
    *((equidistant_azimuthal, *row) for row in [
        (80, 1, 1.0051, 0.291), (50, 1, 1.0861, 4.731), (20, 1, 1.30014, 15.0),
        (-20, 1, 2.04307, 40.09), (-50, 1, 3.80135, 71.39),
    ]),  # Table 21
    *((gnomonic, *row) for row in [
        (80, 1.03109, 1.01543, 0.877), (50, 1.70409, 1.30541, 15.23), (30, 4, 2, 38.94),
    ]),  # Table 21
    *((orthographic, *row) for row in [
        (80, 0.98481, 1, 0.877), (50, 0.76604, 1, 15.23), (20, 0.34202, 1, 58.72),
    ]),  # Table 21
    # Equations 12-3 and 12-4: h = 1, k = 1 / cos phi; 10-2: h = cos phi / cos 30, k = 1 / h.
    *((plate_carree, phi, 1, 1 / np.cos(np.radians(phi)), None) for phi in (0, 30, 60, 75)),
    *((cylindrical_equal_area, phi, np.cos(np.radians(phi)) / np.cos(np.pi / 6),
       np.cos(np.pi / 6) / np.cos(np.radians(phi)), None) for phi in (0, 30, 60, 75)),
]  # fmt: skip


def at(projection, latitude: float, reach: float) -> tuple[float, float, float, float]:
    """Return s1, s2, their product and omega averaged over a small piece of sphere."""
    triangles = measured(
        shapes.sphere_patch(
            projection, longitude=(20 - reach, 20 + reach),
            latitude=(latitude - reach, latitude + reach), columns=4, rows=4,
        )
    )  # fmt: skip
    s1, s2 = triangles.s1, triangles.s2
    omega = distortion.angle_distortion_degrees(s1, s2)
    return float(s1.mean()), float(s2.mean()), float((s1 * s2).mean()), float(omega.mean())


@pytest.mark.parametrize(("projection", "latitude", "h", "k", "omega"), SNYDER)
def test_a_sphere_under_a_map_projection_has_snyders_scale_factors(
    projection, latitude, h, k, omega
):
    s1, s2, area, angle = at(projection, latitude, 0.1)
    assert s1 == pytest.approx(max(h, k), rel=2e-3)
    assert s2 == pytest.approx(min(h, k), rel=2e-3)
    assert area == pytest.approx(h * k, rel=2e-4)
    if omega is None:
        omega = np.degrees(2 * np.arcsin(abs(h - k) / (h + k)))  # equation 4-9
    # Triangles of a conformal map are never quite similar: the mean of omega tends to 0 with
    # the first power of their size.
    assert angle == pytest.approx(omega, rel=1e-3, abs=0.2 if h == pytest.approx(k) else 0.02)


# As a second reference, PROJ's own derivatives, at the middle of each triangle.


@pytest.mark.parametrize(
    "name", ["merc", "eqc", "cea", "laea +lat_0=35", "stere +lat_0=35", "sinu", "mill"]
)
def test_meshes_of_a_sphere_converge_to_projs_tissot_axes(name):
    projection = pyproj.Proj(f"+proj={name} +R=1")

    def greatest_errors(cells: int) -> tuple[float, float]:
        asset = shapes.sphere_patch(
            lambda lam, phi: projection(np.degrees(lam), np.degrees(phi)),
            longitude=(-25, 25), latitude=(15, 55), columns=cells, rows=cells,
        )  # fmt: skip
        (layout,) = build_layouts(asset)
        triangles = measure_triangles(layout, UNIT)
        middle = layout.point_m[layout.corner_point[layout.triangle_corner]].mean(axis=1)
        longitude = np.degrees(np.arctan2(middle[:, 1], middle[:, 0]))
        latitude = np.degrees(np.arctan2(middle[:, 2], np.hypot(middle[:, 0], middle[:, 1])))
        factors = projection.get_factors(longitude, latitude)
        assert (triangles.s2 > 0).all()
        return (
            float(np.abs(triangles.s1 / factors.tissot_semimajor - 1).max()),
            float(np.abs(triangles.s1 * triangles.s2 / factors.areal_scale - 1).max()),
        )

    coarse, fine = greatest_errors(16), greatest_errors(64)
    assert max(fine) < 0.02
    # Triangles four times smaller: the Jacobian of a linear piece is right to first order.
    assert fine[0] < coarse[0] / 3.5
    assert fine[1] < coarse[1] / 3.5
