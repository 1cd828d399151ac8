"""Are there usable UVs: no-uvs, not-finite, degenerate."""

from __future__ import annotations

import numpy as np

from evenweave.arrays import IntArray
from evenweave.check.finding import Severity
from evenweave.check.numbers import counted, several
from evenweave.check.rules.islands import on_islands
from evenweave.check.subject import Check, Hit, Subject
from evenweave.layout.layout import Layout


def _parts(subject: Subject, asset_faces: IntArray) -> str:
    parts, faces = np.unique(subject.asset.face_part[asset_faces], return_counts=True)
    most_first = parts[np.argsort(-faces, kind="stable")].tolist()
    return several([subject.asset.part_names[part] for part in most_first[:3]], len(most_first))


def _without_uvs(subject: Subject) -> list[Hit]:
    missing = subject.layout.missing_face
    if len(missing) == 0:
        return []
    return [
        Hit(
            value=float(len(missing)),
            limit=0.0,
            variant=_missing_kind(subject.layout),
            severity=None if subject.layout.needs_uvs else Severity.NOTE,
            words={
                "faces": counted(len(missing), "face"),
                "parts": _parts(subject, missing),
                "uv_set": subject.layout.uv_set,
                "slots": ", ".join(dict.fromkeys(slot.name for slot in subject.layout.slots)),
            },
        )
    ]


def _missing_kind(layout: Layout) -> str:
    if not layout.needs_uvs:
        return "plain"
    if len(layout.asset_face) + len(layout.unusable_face):
        return ""
    return "unset" if layout.slots and layout.uv_set else "whole"


def _not_finite(subject: Subject) -> list[Hit]:
    unusable = subject.layout.unusable_face
    if len(unusable) == 0:
        return []
    words = {"faces": counted(len(unusable), "face"), "parts": _parts(subject, unusable)}
    return [Hit(value=float(len(unusable)), limit=0.0, words=words)]


def _degenerate(subject: Subject) -> list[Hit]:
    """Faces with surface but no texture are a fault; faces without any surface are a note.

    A triangle without surface inside a face that has some comes from a corner on a straight
    edge: it needs no texture and says nothing about the UVs.
    """
    layout, triangle = subject.layout, subject.measures.triangle
    if not triangle.is_degenerate.any():
        return []
    bad = np.flatnonzero(triangle.is_degenerate).astype(np.int32)
    has_surface = triangle.area_m2[bad] > 0
    face_surface = np.bincount(
        layout.triangle_face, triangle.area_m2, minlength=len(layout.asset_face)
    )
    is_bare = face_surface[layout.triangle_face[bad]] == 0
    found = []
    for triangles, variant, severity in (
        (bad[has_surface], "", None),
        (bad[is_bare], "bare", Severity.NOTE),
    ):
        faces = subject.faces_of(triangles)
        count = np.bincount(layout.face_island[faces], minlength=layout.island_count).astype(float)
        found += on_islands(
            subject,
            count > 0,
            value=count,
            badness=count,
            limit=0.0,
            variant=variant,
            severity=severity,
            words={"faces": counted(len(faces), "face")},
            faces=faces,
        )
    return found


NO_UVS = Check("no-uvs", Severity.FAULT, "faces", _without_uvs)
NOT_FINITE = Check("not-finite", Severity.FAULT, "faces", _not_finite)
DEGENERATE = Check("degenerate", Severity.FAULT, "faces", _degenerate)
