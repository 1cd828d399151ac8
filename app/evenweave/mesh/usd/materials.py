"""Which material each face of a USD mesh is bound to.

Source: OpenUSD, UsdShadeMaterialBindingAPI and UsdGeomSubset documentation.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from evenweave.arrays import IntArray
from evenweave.mesh.caveats import Caveats
from evenweave.mesh.names import shortest_distinct
from evenweave.mesh.place import Place
from evenweave.mesh.texturing import Slot, Textured
from evenweave.mesh.usd.textures import material_slots
from evenweave.mesh.usd.values import whole_numbers


class Materials:
    """Finds bindings; one material inside several instances is one material.

    Labels are paths, "" where nothing is bound.
    """

    def __init__(self, caveats: Caveats) -> None:
        self._caveats = caveats
        self._shown_path: dict[str, str] = {"": ""}
        self._slots: dict[str, tuple[Slot, ...]] = {"": ()}

    def names(self) -> dict[str, str]:
        """Return a short name for each label, distinct from all others."""
        short = shortest_distinct(path for path in self._shown_path.values() if path)
        return {label: short.get(path, "") for label, path in self._shown_path.items()}

    def textured(self) -> tuple[Textured, ...]:
        """Return what each material's textures read, where the stage says so."""
        names = self.names()
        return tuple(Textured(names[label], slots) for label, slots in self._slots.items())

    def of_faces(
        self, prim: Any, face_count: int, place: Place
    ) -> tuple[tuple[str, ...], IntArray | None]:
        """Return the labels in use and (F,) each face's index into them; None if all one.

        Faces in no subset have the mesh's own material.
        """
        from pxr import UsdShade

        own = self._bound(prim)
        subsets = UsdShade.MaterialBindingAPI(prim).GetMaterialBindSubsets()
        if not subsets:
            return (own,), None
        label_number = {own: 0}
        face_material = np.zeros(face_count, np.int32)
        for subset in subsets:
            at = place.at(f"subset '{subset.GetPrim().GetName()}'")
            faces = whole_numbers(subset.GetIndicesAttr(), at)
            if faces is None:
                continue
            is_within = (faces >= 0) & (faces < face_count)
            if not is_within.all():
                self._caveats.count("Subsets name faces that their mesh does not have")
            label = self._bound(subset.GetPrim())
            number = label_number.setdefault(label, len(label_number))
            face_material[faces[is_within]] = number
        return _in_use(tuple(label_number), face_material)

    def _bound(self, prim: Any) -> str:
        """Return the label of a prim's material; one that is missing still has its path."""
        from pxr import UsdShade

        material, relationship = UsdShade.MaterialBindingAPI(prim).ComputeBoundMaterial()
        if material:
            bound = material.GetPrim()
            path = str(bound.GetPath())
            shared = bound.GetPrimInPrototype() if bound.IsInstanceProxy() else bound
            label = str(shared.GetPath())
            slots = None if label in self._shown_path else material_slots(material)
            if slots is not None:
                self._slots[label] = slots
        else:
            targets = relationship.GetTargets() if relationship else []
            path = label = str(targets[-1]) if targets else ""
            if path and path not in self._shown_path:
                self._caveats.count("Materials that are not in the file are known by name only")
        self._shown_path.setdefault(label, path)
        return label


def _in_use(
    labels: tuple[str, ...], face_material: IntArray
) -> tuple[tuple[str, ...], IntArray | None]:
    used, number = np.unique(face_material, return_inverse=True)
    if len(used) == 1:
        return (labels[int(used[0])],), None
    return tuple(labels[int(n)] for n in used), number.astype(np.int32)
