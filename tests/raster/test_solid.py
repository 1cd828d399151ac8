"""Pictures in space: the nearest surface, right in perspective, right at the near plane."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.raster.meshes import plain_paint

from evenweave.arrays import frozen
from evenweave.raster.camera import Orbit
from evenweave.raster.colour.paint import Lines
from evenweave.raster.solid.solid import SolidMesh, SolidRenderer, smooth_picture, solid_mesh

pytestmark = pytest.mark.kernels
NO_UV = np.zeros((1, 2))


def soup(count: int = 24, seed: int = 5) -> SolidMesh:
    random = np.random.default_rng(seed)
    point = random.normal(size=(count * 3, 3))
    triangle = np.arange(count * 3, dtype=np.int32).reshape(-1, 3)
    return solid_mesh(
        frozen(point), frozen(triangle), uv=NO_UV, triangle_uv=np.full_like(triangle, -1)
    )


def nearest(mesh: SolidMesh, camera: Orbit, width: int, height: int) -> tuple[np.ndarray, ...]:
    """Cast a ray through every pixel centre: Möller and Trumbore, "Fast, Minimum Storage
    Ray/Triangle Intersection", 1997, in plain numpy. Returns the triangle, and how near the ray
    is to a side or a rival."""
    hit = np.full((height, width), -1)
    best = np.full((height, width), np.inf)
    rival = np.full((height, width), np.inf)
    border = np.full((height, width), np.inf)
    y, x = np.mgrid[:height, :width] + 0.5
    rays = np.array([[camera.ray(a, b, width, height)[1] for a in x[0]] for b in y[:, 0]])
    eye = camera.eye()
    for number, (a, b, c) in enumerate(mesh.point[mesh.triangle]):
        p = np.cross(rays, c - a)
        scale = p @ (b - a)
        u = (p @ (eye - a)) / scale
        q = np.cross(eye - a, b - a)
        v = (rays @ q) / scale
        depth = (q @ (c - a)) / scale
        least = np.minimum(np.minimum(u, v), 1 - u - v)
        near = camera.distance * 2e-3
        border = np.where(depth > near, np.minimum(border, np.abs(least)), border)
        inside = (least > 0) & (depth > near)
        closer = inside & (depth < best)
        rival = np.where(closer, best, np.where(inside, np.minimum(rival, depth), rival))
        hit = np.where(closer, number, hit)
        best = np.where(closer, depth, best)
    both = np.isfinite(rival)
    tight = both & (np.where(both, rival, 1.0) - np.where(both, best, 0.0) < 1e-3)
    return hit, (border < 0.005) | tight


@pytest.mark.parametrize("distance", [6.0, 2.0, 0.6])
@pytest.mark.parametrize("up_axis", ["y", "z"])
def test_every_pixel_shows_the_nearest_triangle_on_its_ray(distance: float, up_axis: str) -> None:
    mesh = soup()
    camera = Orbit(distance=distance, up_axis=up_axis)
    ids = SolidRenderer(mesh).ids(camera, 90, 70)
    wanted, doubtful = nearest(mesh, camera, 90, 70)
    assert (~doubtful).mean() > 0.4
    np.testing.assert_array_equal(ids[~doubtful], wanted[~doubtful])


def room() -> tuple[SolidRenderer, Orbit]:
    """A floor that runs from behind the viewer to the distance, one square a metre."""
    point = frozen(np.array([[-50, 0, -50], [50, 0, -50], [50, 0, 50], [-50, 0, 50]], float))
    triangle = frozen(np.array([[0, 2, 1], [0, 3, 2]], dtype=np.int32))
    uv = frozen(np.array([[0, 1], [1, 1], [1, 0], [0, 0]], float))
    mesh = solid_mesh(point, triangle, uv=uv, triangle_uv=triangle)
    return SolidRenderer(mesh), Orbit(yaw=0.0, pitch=math.radians(30), distance=4.0)


def test_a_floor_that_passes_under_the_viewer_fills_the_picture_below_the_horizon() -> None:
    renderer, camera = room()
    ids = renderer.ids(camera, 160, 120)
    assert (ids[10:] >= 0).all()


def test_the_checker_is_right_in_perspective() -> None:
    renderer, camera = room()
    count = 2
    picture = renderer.picture(camera, 320, 240, paint=plain_paint(count, checker=(100.0, 100.0)))[
        :, :, 0
    ].astype(float)
    eye = camera.eye()
    agree = []
    for y in range(60, 240, 7):
        for x in range(5, 320, 9):
            _, way = camera.ray(x + 0.5, y + 0.5, 320, 240)
            place = eye - way * (eye[1] / way[1])
            square = (place[0] + 50, 50 - place[2])
            inside = [abs(side % 1 - 0.5) for side in square]
            corner = min(0.5 - part for part in inside)
            chevron = inside[0] < 0.27
            if corner > 0.1 and not chevron:
                is_light = (math.floor(square[0]) + math.floor(square[1])) % 2 == 0
                agree.append((picture[y, x], is_light))
    light = [tone for tone, is_light in agree if is_light]
    dark = [tone for tone, is_light in agree if not is_light]
    assert min(len(light), len(dark)) > 30
    assert min(light) > max(dark) + 10


def test_far_squares_fade_to_the_mean_tone() -> None:
    renderer, _ = room()
    low = Orbit(yaw=0.0, pitch=math.radians(3), distance=4.0)
    picture = renderer.picture(low, 320, 240, paint=plain_paint(2, checker=(400.0, 400.0)))
    ids = renderer.ids(low, 320, 240)
    first = int(np.flatnonzero((ids >= 0).all(axis=1))[0])
    assert np.ptp(picture[first + 2, :, 0].astype(int)) <= 1
    assert np.ptp(picture[-5, :, 0].astype(int)) > 20


def test_hidden_lines_are_hidden_and_those_on_top_are_not() -> None:
    point = frozen(np.array([[-1, -1, 0], [1, -1, 0], [0, 1, 0]], float))
    triangle = frozen(np.array([[0, 1, 2]], dtype=np.int32))
    mesh = solid_mesh(point, triangle, uv=NO_UV, triangle_uv=np.full_like(triangle, -1))
    camera = Orbit(yaw=0.0, pitch=0.0, distance=5.0)
    behind = np.array([[-0.2, -0.4, -0.5], [0.2, -0.4, -0.5]])
    before = behind + np.array([0.0, 0.0, 1.0])
    pair = np.array([[0, 1]], dtype=np.int32)

    def blue(place: np.ndarray, is_on_top: bool) -> int:
        line = Lines(place, pair, (0, 0, 255), 3.0, is_on_top=is_on_top)
        picture = SolidRenderer(mesh).picture(camera, 120, 120, paint=plain_paint(1, lines=(line,)))
        return int(((picture[:, :, 2] > 200) & (picture[:, :, 0] < 90)).sum())

    assert blue(behind, False) == 0
    assert blue(behind, True) > 10
    assert blue(before, False) > 10


def test_the_same_picture_comes_out_twice() -> None:
    mesh = soup()
    camera = Orbit(distance=5.0)
    paint = plain_paint(24, wire=0.5)
    first = SolidRenderer(mesh).picture(camera, 200, 150, paint=paint).copy()
    np.testing.assert_array_equal(SolidRenderer(mesh).picture(camera, 200, 150, paint=paint), first)


@pytest.mark.parametrize("up_axis", ["y", "z"])
@pytest.mark.parametrize("aspect", [0.5, 1.0, 2.5])
def test_a_fitted_camera_sees_the_whole_box_and_fills_the_picture(up_axis, aspect) -> None:
    low, high = np.array([-1.0, 2.0, 0.5]), np.array([3.0, 2.5, 7.0])
    camera = Orbit(up_axis=up_axis).turned(0.7, 0.2).fitted(low, high, aspect)
    corner = np.array(np.meshgrid(*zip(low, high, strict=True))).reshape(3, -1).T - camera.eye()
    right, up, back = camera.axes()
    height = 500
    focal = camera.focal_px(height)
    x = corner @ right / -(corner @ back) * focal / (height * aspect / 2)
    y = corner @ up / -(corner @ back) * focal / (height / 2)
    reach = max(np.abs(x).max(), np.abs(y).max())
    assert 0.8 < reach <= 1.0
    np.testing.assert_allclose(camera.axes() @ camera.axes().T, np.eye(3), atol=1e-12)


def test_the_up_axis_points_up_in_the_picture() -> None:
    for up_axis, way in (("y", [0.0, 1.0, 0.0]), ("z", [0.0, 0.0, 1.0])):
        _, up, _ = Orbit(up_axis=up_axis, pitch=0.0).axes()
        np.testing.assert_allclose(up, way, atol=1e-12)


def test_a_mesh_without_triangles_gives_the_empty_ground() -> None:
    nothing = np.zeros((0, 3), dtype=np.int32)
    mesh = solid_mesh(np.zeros((0, 3)), nothing, uv=NO_UV, triangle_uv=nothing)
    picture = SolidRenderer(mesh).picture(Orbit(), 40, 30, paint=plain_paint(0))
    assert len(np.unique(picture.reshape(-1, 4), axis=0)) == 1


def test_a_smooth_picture_is_the_same_scene_with_softer_edges() -> None:
    mesh, camera = soup(), Orbit(distance=5.0)
    paint = plain_paint(24)
    rough = SolidRenderer(mesh).picture(camera, 160, 120, paint=paint).astype(int)
    smooth = smooth_picture(mesh, camera, 160, 120, paint=paint).astype(int)
    assert smooth.shape == rough.shape
    assert (smooth[:, :, 3] == 255).all()
    assert abs(smooth.mean() - rough.mean()) < 1.0
    tones = [len(np.unique(one[:, :, 0])) for one in (rough, smooth)]
    assert tones[1] > 2 * tones[0]
