"""Known edits of an asset, as an artist or an exporter makes them, as functions of numpy arrays.

Each returns an `Edit`: the new asset, and for every new face the old one it came from (-1 where
there is none), so that what a comparison says can be checked.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from tests import shapes

from evenweave.arrays import floats, frozen, ints
from evenweave.layout.build import build_layouts
from evenweave.mesh.asset import Asset

Array = NDArray[Any]
Change = Callable[[Array, int], Array]


@dataclass(frozen=True, eq=False)
class Edit:
    asset: Asset
    old_face: Array

    def then(self, edit: Callable[[Asset], Edit]) -> Edit:
        after = edit(self.asset)
        face = np.where(after.old_face >= 0, self.old_face[after.old_face], -1)
        return Edit(after.asset, face)


def nothing(one: Asset) -> Edit:
    return Edit(one, np.arange(one.face_count))


def renamed(one: Asset) -> Edit:
    """Parts and materials by other names, parts numbered the other way round."""
    count = len(one.part_names)
    return Edit(
        replace(
            one,
            part_names=tuple(f"object {k}" for k in range(count)),
            face_part=ints(count - 1 - one.face_part),
            material_names=tuple(f"shader {k}" for k in range(len(one.material_names))),
        ),
        np.arange(one.face_count),
    )


def reordered(one: Asset, seed: int = 0) -> Edit:
    """Faces in random order, each begun at a random corner."""
    asset, old_face = shapes.shuffled(one, seed)
    return Edit(asset, old_face)


def rewritten(one: Asset) -> Edit:
    """Positions and coordinates as float32, a point for every corner: another file format."""
    apart = shapes.unwelded(one) if _is_whole(one) else one
    sets = tuple(replace(s, uv=floats(s.uv.astype(np.float32))) for s in apart.uv_sets)
    position = floats(apart.position.astype(np.float32))
    return Edit(replace(apart, position=position, uv_sets=sets), np.arange(one.face_count))


def _is_whole(one: Asset) -> bool:
    return all((s.corner_uv >= 0).all() for s in one.uv_sets)


def each_island(one: Asset, change: Change) -> Edit:
    """Coordinates (N, 2) of every island changed by `change(uv, island number)`."""
    first = one.uv_sets[0]
    corner_uv = np.where(first.corner_uv[:, None] >= 0, first.uv[first.corner_uv], np.nan)
    corner_face = np.repeat(np.arange(one.face_count), np.diff(one.face_start))
    number = 0
    for layout in build_layouts(one, first.name):
        face_island = np.full(one.face_count, -1)
        face_island[layout.asset_face] = layout.face_island
        for island in range(layout.island_count):
            is_its = (face_island == island)[corner_face]
            corner_uv[is_its] = change(corner_uv[is_its], number)
            number += 1
    return Edit(_with_corner_uv(one, corner_uv), np.arange(one.face_count))


def _with_corner_uv(one: Asset, corner_uv: Array) -> Asset:
    has = np.isfinite(corner_uv).all(axis=1)
    corners = np.where(has, np.arange(len(corner_uv)), -1)
    new = replace(one.uv_sets[0], uv=floats(np.nan_to_num(corner_uv)), corner_uv=ints(corners))
    return replace(one, uv_sets=(new, *one.uv_sets[1:]))


def moved_about(seed: int = 0) -> Callable[[Asset], Edit]:
    """Every island turned and moved, each in its own way."""
    random = np.random.default_rng(seed)

    def change(uv: Array, island: int) -> Array:
        turn = random.uniform(0, 2 * np.pi)
        return spun(uv, turn) + random.uniform(-0.5, 0.5, 2)

    return lambda one: each_island(one, change)


def spun(uv: Array, turn: float) -> Array:
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    middle = uv.mean(axis=0)
    return (uv - middle) @ matrix.T + middle


def scaled(factor: float) -> Callable[[Asset], Edit]:
    """Every island at another size, about the origin."""
    return lambda one: each_island(one, lambda uv, _: uv * factor)


def retriangulated(one: Asset) -> Edit:
    """Every polygon with more than three corners cut into triangles about its middle."""
    sizes = np.diff(one.face_start)
    position, uv = [one.position], [s.uv for s in one.uv_sets]
    faces: list[list[int]] = []
    uv_faces: list[list[list[int]]] = [[] for _ in one.uv_sets]
    source: list[int] = []
    points = len(one.position)
    uv_rows = [len(s.uv) for s in one.uv_sets]
    for face in range(one.face_count):
        corners = np.arange(one.face_start[face], one.face_start[face + 1])
        if sizes[face] == 3:
            faces.append(one.corner_position[corners].tolist())
            for k, s in enumerate(one.uv_sets):
                uv_faces[k].append(s.corner_uv[corners].tolist())
            source.append(face)
            continue
        position.append(one.position[one.corner_position[corners]].mean(axis=0)[None])
        middles = []
        for k, s in enumerate(one.uv_sets):
            has = (s.corner_uv[corners] >= 0).all()
            uv[k] = np.concatenate([uv[k], s.uv[s.corner_uv[corners]].mean(axis=0)[None]])
            middles.append(uv_rows[k] if has else -1)
            uv_rows[k] += 1
        for a, b in zip(corners, np.roll(corners, -1), strict=True):
            faces.append([one.corner_position[a], one.corner_position[b], points])
            for k, s in enumerate(one.uv_sets):
                uv_faces[k].append([s.corner_uv[a], s.corner_uv[b], middles[k]])
            source.append(face)
        points += 1
    return Edit(
        _rebuilt(one, np.concatenate(position), faces, uv=uv, uv_faces=uv_faces, source=source),
        np.array(source),
    )


def _rebuilt(
    one: Asset,
    position: Array,
    faces: list[list[int]],
    *,
    uv: list[Array],
    uv_faces: list[list[list[int]]],
    source: list[int],
) -> Asset:
    """Return the asset with other faces; parts and materials are those of the source faces."""
    sizes = [len(face) for face in faces]
    sets = tuple(
        replace(s, uv=floats(uv[k]), corner_uv=ints([c for face in uv_faces[k] for c in face]))
        for k, s in enumerate(one.uv_sets)
    )
    return replace(
        one,
        position=floats(position),
        face_start=ints([0, *np.cumsum(sizes)]),
        corner_position=ints([c for face in faces for c in face]),
        corner_normal=ints(np.full(sum(sizes), -1)),
        normal=floats(np.empty((0, 3))),
        face_part=ints(one.face_part[source]),
        face_material=ints(one.face_material[source]),
        face_smoothing=ints(one.face_smoothing[source]),
        uv_sets=sets,
    )


def bevelled(
    one: Asset,
    count: int,
    *,
    uvs: Literal["none", "point", "kept"],
    width: float = 0.1,
    seed: int = 0,
) -> tuple[Edit, Array]:
    """Some edges cut off: their faces shrink, and a strip and two ends fill each gap.

    uvs : of the new faces: "none", all in one "point", or "kept" from where their corners were
    on the first of the edge's faces. Returns the edit and the new faces.
    """
    start, point = one.face_start, one.corner_position
    face_of = np.repeat(np.arange(one.face_count), np.diff(start))
    after = np.arange(len(point)) + 1
    after[start[1:] - 1] = start[:-1]
    before = np.argsort(after)
    side = {(int(point[c]), int(point[after[c]])): c for c in range(len(point))}
    position, uv = [*one.position], [[*s.uv] for s in one.uv_sets]
    corner_point = point.copy()
    corner_uv = [s.corner_uv.copy() for s in one.uv_sets]
    extra: list[list[int]] = []
    extra_uv: list[list[list[int]]] = [[] for _ in one.uv_sets]
    source: list[int] = []
    used: set[int] = set()
    for c in np.random.default_rng(seed).permutation(len(point)):
        if len(extra) >= 3 * count:
            break
        d = side.get((int(point[after[c]]), int(point[c])), -1)
        f, g = int(face_of[c]), int(face_of[d])
        if d < 0 or f == g or {f, g} & used:
            continue
        used |= {f, g}
        a, b = int(point[c]), int(point[after[c]])
        made, made_uv = {}, {}
        ends = after[c], after[d]
        pairs = (c, before[c]), (ends[0], after[ends[0]]), (d, before[d]), (ends[1], after[ends[1]])
        for k, toward in pairs:
            made[k] = len(position)
            position.append(
                (1 - width) * one.position[point[k]] + width * one.position[point[toward]]
            )
            corner_point[k] = made[k]
            made_uv[k] = []
            for n, s in enumerate(one.uv_sets):
                if s.corner_uv[k] < 0 or s.corner_uv[toward] < 0:
                    made_uv[k].append(-1)
                    continue
                made_uv[k].append(len(uv[n]))
                uv[n].append((1 - width) * s.uv[s.corner_uv[k]] + width * s.uv[s.corner_uv[toward]])
                corner_uv[n][k] = made_uv[k][n]
        strip = [made[after[c]], made[c], made[after[d]], made[d]]
        extra += [strip, [a, made[after[d]], made[c]], [b, made[after[c]], made[d]]]
        for n, s in enumerate(one.uv_sets):
            at_a, at_b = int(s.corner_uv[c]), int(s.corner_uv[after[c]])
            near_a, near_b = made_uv[c][n], made_uv[after[c]][n]
            if uvs == "none":
                extra_uv[n] += [[-1] * 4, [-1] * 3, [-1] * 3]
            elif uvs == "point":
                extra_uv[n] += [[at_a] * 4, [at_a] * 3, [at_b] * 3]
            else:
                extra_uv[n] += [
                    [near_b, near_a, at_a, at_b], [at_a, at_a, near_a], [at_b, near_b, at_b],
                ]  # fmt: skip
        source += [f, f, f]
    faces = [corner_point[start[f] : start[f + 1]].tolist() for f in range(one.face_count)]
    kept_uv = [
        [rows[start[f] : start[f + 1]].tolist() for f in range(one.face_count)]
        for rows in corner_uv
    ]
    edited = _rebuilt(
        one,
        np.array(position),
        faces + extra,
        uv=[np.array(rows) for rows in uv],
        uv_faces=[kept + more for kept, more in zip(kept_uv, extra_uv, strict=True)],
        source=[*range(one.face_count), *source],
    )
    new = np.arange(one.face_count, one.face_count + len(extra))
    old_face = np.concatenate([np.arange(one.face_count), np.full(len(extra), -1)])
    return Edit(edited, old_face), new


def cut(one: Asset, island: int, axis: int = 0) -> Edit:
    """One island cut in two across its middle in space; the far half is moved away in UV."""
    (layout,) = build_layouts(one, one.uv_sets[0].name)
    faces = layout.asset_face[layout.face_island == island]
    middle = np.array(
        [
            one.position[
                one.corner_position[one.face_start[f] : one.face_start[f + 1]], axis
            ].mean()
            for f in faces
        ]
    )
    far = faces[middle > np.median(middle)]
    first = one.uv_sets[0]
    corner_uv = np.where(first.corner_uv[:, None] >= 0, first.uv[first.corner_uv], np.nan)
    corner_face = np.repeat(np.arange(one.face_count), np.diff(one.face_start))
    corner_uv[np.isin(corner_face, far)] += 2.0
    return Edit(_with_corner_uv(one, corner_uv), np.arange(one.face_count))


def without(one: Asset, faces: Array) -> Edit:
    """Some faces taken away."""
    is_kept = ~np.isin(np.arange(one.face_count), faces)
    is_corner = np.repeat(is_kept, np.diff(one.face_start))
    sizes = np.diff(one.face_start)[is_kept]
    asset = replace(
        one,
        face_start=ints([0, *np.cumsum(sizes)]),
        corner_position=frozen(one.corner_position[is_corner]),
        corner_normal=frozen(one.corner_normal[is_corner]),
        face_part=frozen(one.face_part[is_kept]),
        face_material=frozen(one.face_material[is_kept]),
        face_smoothing=frozen(one.face_smoothing[is_kept]),
        uv_sets=tuple(replace(s, corner_uv=frozen(s.corner_uv[is_corner])) for s in one.uv_sets),
    )
    return Edit(asset, np.flatnonzero(is_kept))
