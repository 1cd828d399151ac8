"""What baking needs: no shared places in a lightmap, and mirrored stacks under a normal map."""

from __future__ import annotations

from evenweave.arrays import floats
from evenweave.check.finding import Severity
from evenweave.check.numbers import counted, several
from evenweave.check.subject import Check, Hit, Subject

_NORMAL_SLOTS = ("normal", "bump", "clearcoat normal")


def _lightmap_stack(subject: Subject) -> list[Hit]:
    groups = subject.measures.stacks.group
    if not subject.is_lightmap or not groups:
        return []
    islands = tuple(sorted(island for group in groups for island in group))
    worst = max(groups, key=len)
    return [
        Hit(
            value=float(len(worst)),
            limit=1.0,
            islands=islands,
            worst=worst[0],
            words={
                "islands": counted(len(islands), "island"),
                "names": several([subject.name(one) for one in worst[:3]], len(worst)),
            },
        )
    ]


def _mirrored_bake(subject: Subject) -> list[Hit]:
    slot = next((one for one in subject.layout.slots if one.name in _NORMAL_SLOTS), None)
    stacks = subject.measures.stacks
    both = [
        group
        for group in stacks.group
        if 0 < int(stacks.is_mirrored[list(group)].sum()) < len(group)
    ]
    if slot is None or not both:
        return []
    islands = tuple(sorted(island for group in both for island in group))
    return [
        Hit(
            value=float(len(both)),
            limit=0.0,
            islands=islands,
            worst=both[0][0],
            values=floats([float(stacks.is_mirrored[one]) for one in islands]),
            words={
                "stacks": counted(len(both), "stack"),
                "slot": slot.name,
                "names": several([subject.name(one) for one in both[0][:3]], len(both[0])),
            },
        )
    ]


LIGHTMAP_STACK = Check("lightmap-stack", Severity.FAULT, "islands", _lightmap_stack)
MIRRORED_BAKE = Check("mirrored-bake", Severity.NOTE, "stacks", _mirrored_bake, of_lightmaps=False)
