"""Where a picture is taken from: `FlatView` over a layout, `Orbit` around an object."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from evenweave.arrays import FloatArray

_FITTED_SHARE = 0.9  # of the picture that something framed may fill
_PITCH_LIMIT = math.radians(89.5)


@dataclass(frozen=True)
class FlatView:
    """A window onto the texture plane: `u`, `v` at its centre, `scale` pixels per tile."""

    u: float
    v: float
    scale: float
    width: int
    height: int

    def to_pixel(self, uv: FloatArray) -> FloatArray:
        """Return (N, 2) pixel coordinates, y down, of (N, 2) texture coordinates."""
        return np.column_stack(
            (
                (uv[:, 0] - self.u) * self.scale + self.width / 2,
                self.height / 2 - (uv[:, 1] - self.v) * self.scale,
            )
        )

    @property
    def origin(self) -> tuple[int, int]:
        """The whole pixel nearest to u = v = 0."""
        return (
            round(self.width / 2 - self.u * self.scale),
            round(self.height / 2 + self.v * self.scale),
        )

    def snapped(self) -> FlatView:
        """Return the view moved by less than a pixel so that u = v = 0 lies on a whole pixel.

        Views of one scale then differ by whole pixels: what was drawn can be moved.
        """
        left, top = self.origin
        u, v = (self.width / 2 - left) / self.scale, (top - self.height / 2) / self.scale
        return FlatView(u, v, self.scale, self.width, self.height)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """u0, v0, u1, v1 of what is seen."""
        half_u, half_v = self.width / 2 / self.scale, self.height / 2 / self.scale
        return self.u - half_u, self.v - half_v, self.u + half_u, self.v + half_v

    def resized(self, width: int, height: int) -> FlatView:
        """Return the same place at another size; what was seen stays inside."""
        factor = min(width / self.width, height / self.height)
        return FlatView(self.u, self.v, self.scale * factor, width, height)


def fit_flat(bounds: tuple[float, float, float, float], width: int, height: int) -> FlatView:
    """Return the view that shows bounds (u0, v0, u1, v1) with a little room around."""
    u0, v0, u1, v1 = bounds
    span_u, span_v = max(u1 - u0, 1e-6), max(v1 - v0, 1e-6)
    scale = min(width / span_u, height / span_v) * _FITTED_SHARE
    return FlatView((u0 + u1) / 2, (v0 + v1) / 2, scale, max(width, 1), max(height, 1))


@dataclass(frozen=True)
class Orbit:
    """A perspective camera that looks at `target` from `distance` away.

    yaw : turn about the up axis, 0 looks along -z (y up) or along +y (z up)
    pitch : height above the horizon; both in radians. field : vertical angle of view
    """

    yaw: float = math.radians(35.0)
    pitch: float = math.radians(24.0)
    distance: float = 3.0
    target: tuple[float, float, float] = (0.0, 0.0, 0.0)
    up_axis: str = "y"
    field: float = math.radians(32.0)

    def axes(self) -> FloatArray:
        """Return (3, 3) rows right, up, back (towards the viewer), orthonormal."""
        sin_y, cos_y = math.sin(self.yaw), math.cos(self.yaw)
        sin_p, cos_p = math.sin(self.pitch), math.cos(self.pitch)
        rows = np.array(
            [
                [cos_y, 0.0, -sin_y],
                [-sin_y * sin_p, cos_p, -cos_y * sin_p],
                [sin_y * cos_p, sin_p, cos_y * cos_p],
            ]
        )
        if self.up_axis == "z":
            rows = np.column_stack((rows[:, 0], -rows[:, 2], rows[:, 1]))
        return np.ascontiguousarray(rows)

    def eye(self) -> FloatArray:
        """Return the (3,) position of the viewer."""
        eye: FloatArray = np.array(self.target) + self.distance * self.axes()[2]
        return eye

    def focal_px(self, height: int) -> float:
        """Pixels per unit of tangent, for a picture of this height."""
        return height / 2 / math.tan(self.field / 2)

    def ray(self, x: float, y: float, width: int, height: int) -> tuple[FloatArray, FloatArray]:
        """Return the viewer's position (3,) and the direction (3,) through a pixel coordinate."""
        right, up, back = self.axes()
        focal = self.focal_px(height)
        way = right * ((x - width / 2) / focal) - up * ((y - height / 2) / focal) - back
        return self.eye(), np.asarray(way, dtype=np.float64)

    def turned(self, yaw: float, pitch: float) -> Orbit:
        """Return the camera moved round its target, never over the pole."""
        tilt = min(max(self.pitch + pitch, -_PITCH_LIMIT), _PITCH_LIMIT)
        return replace(self, yaw=(self.yaw + yaw) % (2 * math.pi), pitch=tilt)

    def shifted(self, right_px: float, down_px: float, height: int) -> Orbit:
        """Return the camera moved sideways so that the target follows the pixels."""
        step = self.distance / self.focal_px(height)
        right, up, _ = self.axes()
        target = np.array(self.target) - right * right_px * step + up * down_px * step
        return replace(self, target=(float(target[0]), float(target[1]), float(target[2])))

    def zoomed(self, factor: float) -> Orbit:
        """Return the camera nearer (factor above 1) or farther."""
        return replace(self, distance=max(self.distance / factor, 1e-9))

    def facing(self, normal: FloatArray) -> Orbit:
        """Return the camera turned to look at a surface with this unit normal (3,).

        It stays as it is where it sees that surface at less than 45 degrees already.
        """
        if float(self.axes()[2] @ normal) > math.cos(math.radians(45.0)):
            return self
        x, y, z = (float(part) for part in normal)
        ahead, up = (-y, z) if self.up_axis == "z" else (z, y)
        pitch = math.asin(min(max(up, -1.0), 1.0))
        return replace(
            self,
            yaw=math.atan2(x, ahead) % (2 * math.pi),
            pitch=min(max(pitch, -_PITCH_LIMIT), _PITCH_LIMIT),
        )

    def towards(self, goal: Orbit, share: float) -> Orbit:
        """Return a camera between this one (share 0) and another (1); it turns the short way."""
        target = np.array(self.target) * (1 - share) + np.array(goal.target) * share
        turn = (goal.yaw - self.yaw + math.pi) % (2 * math.pi) - math.pi
        return replace(
            goal,
            yaw=goal.yaw if share >= 1.0 else self.yaw + turn * share,
            pitch=self.pitch + (goal.pitch - self.pitch) * share,
            distance=self.distance ** (1 - share) * goal.distance**share,
            target=(float(target[0]), float(target[1]), float(target[2])),
        )

    def fitted(self, low: FloatArray, high: FloatArray, aspect: float = 1.0) -> Orbit:
        """Return the camera turned as it is that just sees the box from low (3,) to high (3,).

        aspect : width over height of the picture
        """
        middle = (low + high) / 2
        signs = np.array(np.meshgrid([-1, 1], [-1, 1], [-1, 1])).reshape(3, -1).T
        corner = (signs * (high - low) / 2) @ self.axes().T
        tangent = math.tan(self.field / 2) * _FITTED_SHARE
        distance = corner[:, 2] + np.maximum(
            np.abs(corner[:, 0]) / (tangent * aspect), np.abs(corner[:, 1]) / tangent
        )
        return replace(
            self,
            target=(float(middle[0]), float(middle[1]), float(middle[2])),
            distance=max(float(distance.max()), 1e-9),
        )
