"""The arrays that the second pass over an OBJ file fills, whole and cut into spans."""

from __future__ import annotations

import numpy as np

from evenweave.mesh.obj import kernels

_UNSURE_ROOM = 1024


def room(total: np.ndarray) -> kernels.Slices:
    """Return arrays for everything counted in a file."""
    corners, events = total[kernels.CORNERS], total[kernels.EVENTS]
    return kernels.Slices(
        position=np.empty((total[kernels.POSITIONS], 3)),
        uv=np.empty((total[kernels.UVS], 2)),
        normal=np.empty((total[kernels.NORMALS], 3)),
        face_size=np.empty(total[kernels.FACES], np.int32),
        corner_position=np.empty(corners, np.int32),
        corner_uv=np.empty(corners, np.int32),
        corner_normal=np.empty(corners, np.int32),
        event_face=np.empty(events, np.int32),
        event_kind=np.empty(events, np.uint8),
        event_text=np.empty((events, 2), np.int64),
        unsure=np.empty((0, 4), np.int64),
    )


def slices_of(whole: kernels.Slices, first: np.ndarray, last: np.ndarray) -> kernels.Slices:
    """Return the part of the arrays that one span fills."""

    def cut(counted: int) -> slice:
        return slice(int(first[counted]), int(last[counted]))

    corners, events = cut(kernels.CORNERS), cut(kernels.EVENTS)
    return kernels.Slices(
        position=whole.position[cut(kernels.POSITIONS)],
        uv=whole.uv[cut(kernels.UVS)],
        normal=whole.normal[cut(kernels.NORMALS)],
        face_size=whole.face_size[cut(kernels.FACES)],
        corner_position=whole.corner_position[corners],
        corner_uv=whole.corner_uv[corners],
        corner_normal=whole.corner_normal[corners],
        event_face=whole.event_face[events],
        event_kind=whole.event_kind[events],
        event_text=whole.event_text[events],
        unsure=np.empty((_UNSURE_ROOM, 4), np.int64),
    )
