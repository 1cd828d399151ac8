"""Where the mesh of a glTF skin stands at rest.

Source: Khronos, glTF 2.0 specification, "Skins": the transform of a skinned node is ignored;
a vertex is placed by its joints' world matrices times their inverse bind matrices.
"""

from __future__ import annotations

import numpy as np

from evenweave.arrays import FloatArray
from evenweave.mesh.gltf.accessors import Accessors
from evenweave.mesh.gltf.fields import JsonObject, entry, integer, items
from evenweave.mesh.place import Place


def rest_matrix(
    skin: int,
    node_world: dict[int, FloatArray],
    *,
    document: JsonObject,
    accessors: Accessors,
    place: Place,
) -> FloatArray | None:
    """Return the (4, 4) matrix that places a skin's mesh at rest; None if it has no joints.

    At rest all joints agree on it, so the first one's is taken: it keeps the mesh's shape
    and size, whatever the pose.
    """
    place = place.at(f"skin {skin}")
    description = entry(document, "skins", skin, place)
    joints = items(description, "joints", place)
    if not joints:
        return None
    joint = integer({"joints": joints[0]}, "joints", place)
    world = node_world.get(joint)
    if world is None:
        return None
    if "inverseBindMatrices" not in description:
        return world
    number = integer(description, "inverseBindMatrices", place)
    columns = accessors.floats(number, 16, place)
    if not len(columns) or not np.isfinite(columns[0]).all():
        raise place.problem("its first inverse bind matrix is not usable")
    with np.errstate(all="ignore"):
        matrix = world @ columns[0].reshape(4, 4).T
    if not np.isfinite(matrix).all():
        raise place.problem("its transforms multiply beyond all numbers")
    return np.asarray(matrix)
