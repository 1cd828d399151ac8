"""The UV sets that are there and not judged."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from evenweave.layout.layout import Layout
from evenweave.layout.selection import NO_MATERIAL
from evenweave.mesh.asset import Asset


@dataclass(frozen=True)
class UnreadSet:
    """A UV set of some materials that no layout is judged in.

    is_textured : whether the file says what textures these materials show; none reads the set
    """

    uv_set: str
    materials: tuple[str, ...]
    is_textured: bool

    def words(self) -> str:
        """Say it in a sentence."""
        names = [name or NO_MATERIAL for name in self.materials]
        of = ", ".join(names) if len(names) <= 3 else f"{len(names)} materials"
        why = "no texture reads it" if self.is_textured else "another set is"
        return f"UV set {self.uv_set} of {of} is not judged: {why}."


def unread_sets(asset: Asset, layouts: Iterable[Layout]) -> tuple[UnreadSet, ...]:
    """Return the sets in which materials have coordinates that no layout is judged in."""
    judged = {(name, one.uv_set) for one in layouts for name in one.materials}
    known = {one.material for one in asset.textured}
    has_textures = any(one.slots for one in asset.textured)
    found = []
    for one in asset.uv_sets:
        if all((name, one.name) in judged for name in asset.material_names):
            continue
        has_any = np.maximum.reduceat(one.corner_uv, asset.face_start[:-1]) >= 0
        numbers = np.unique(asset.face_material[has_any]).tolist()
        names = [asset.material_names[number] for number in numbers]
        for is_known in (True, False):
            left = tuple(
                name
                for name in names
                if (name, one.name) not in judged and (has_textures and name in known) is is_known
            )
            found += [UnreadSet(one.name, left, is_known)] if left else []
    return tuple(found)
