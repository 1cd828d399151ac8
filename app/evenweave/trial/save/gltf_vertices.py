"""Which vertices a changed glTF needs: moved where all corners agree, doubled where they part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenweave.arrays import BoolArray, FloatArray, IntArray
from evenweave.mesh.asset import Asset
from evenweave.trial.save.gltf_source import Shown, Source
from evenweave.trial.uvs.asset_uvs import corner_values

Floats32 = NDArray[np.float32]


class Wanted:
    """The stored coordinates (v down) that each corner is to have, as single floats."""

    def __init__(self, source: Source, original: Asset, changed: Asset) -> None:
        self._source = source
        self._set: dict[str, tuple[FloatArray, BoolArray]] = {}
        for old, new in zip(original.uv_sets, changed.uv_sets, strict=True):
            if old is not new:
                before, after = corner_values(old), corner_values(new)
                is_changed = ~((before == after) | np.isnan(after)).all(axis=1)
                self._set[old.name] = after, is_changed

    def sets(self, shown: Shown) -> tuple[str, ...]:
        """Return the UV sets of a primitive of which any corner changes."""
        return tuple(
            name
            for name, (_, is_changed) in self._set.items()
            if name in shown.accessor and is_changed[shown.corners].any()
        )

    def stored_now(self, shown: Shown, name: str) -> Floats32:
        """Return (N, 2) what the primitive's accessor holds now, decoded to floats."""
        value = self._source.accessors.floats(shown.accessor[name], 2, self._source.place)
        with np.errstate(invalid="ignore", over="ignore"):
            return value.astype(np.float32)

    def stored(self, shown: Shown, name: str) -> Floats32:
        """Return (n, 2) for the primitive's corners; what does not change stays as it is."""
        value = self.stored_now(shown, name)[shown.vertex].astype(np.float64)
        if name in self._set:
            after, is_changed = self._set[name]
            moved = is_changed[shown.corners]
            new = after[shown.corners][moved]
            value[moved] = np.stack([new[:, 0], 1.0 - new[:, 1]], axis=1)
        with np.errstate(invalid="ignore", over="ignore"):
            return value.astype(np.float32) + np.float32(0)


@dataclass(frozen=True, eq=False)
class Vertices:
    """The vertices of primitives that share their attributes.

    uv : per set (N + M, 2) float32 stored coordinates, of N old vertices and M new ones
    twin : (M,) old vertex that each new one doubles
    is_used : (N,) bool, drawn by any of the primitives
    corner_vertex : per primitive (n,) new vertex of its corners
    """

    uv: dict[str, Floats32]
    twin: IntArray
    is_used: BoolArray
    corner_vertex: tuple[IntArray, ...]


def vertices(members: Sequence[Shown], names: Sequence[str], wanted: Wanted) -> Vertices:
    """Double vertices where corners part in any of the named sets."""
    old = {name: wanted.stored_now(members[0], name) for name in names}
    vertex = np.concatenate([one.vertex for one in members])
    value = np.hstack(
        [np.concatenate([wanted.stored(one, name) for one in members]) for name in names]
    )
    count = min(len(array) for array in old.values())
    rows = np.column_stack([vertex.astype(np.uint32), value.view(np.uint32)])
    key = np.ascontiguousarray(rows).view(np.dtype((np.void, rows.itemsize * rows.shape[1])))
    _, first, group = np.unique(key[:, 0], return_index=True, return_inverse=True)
    # The group with a vertex's first corner keeps it; the others get doubles, in that order.
    order = np.argsort(first, kind="stable")
    _, leader = np.unique(vertex[first[order]], return_index=True)
    keeps = np.zeros(len(order), bool)
    keeps[leader] = True
    number = np.empty(len(first), np.int32)
    number[order] = np.where(keeps, vertex[first[order]], count + np.cumsum(~keeps) - 1)
    twin = vertex[first[order][~keeps]]
    uv = {}
    for place, name in enumerate(names):
        array = np.concatenate([old[name][:count], old[name][twin]])
        array[number] = value[first, 2 * place : 2 * place + 2]
        uv[name] = array
    is_used = np.zeros(count, bool)
    is_used[vertex] = True
    ends = np.cumsum([len(one.vertex) for one in members])[:-1]
    return Vertices(uv, twin, is_used, tuple(np.split(number[group.reshape(-1)], ends)))
