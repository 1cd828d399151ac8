"""From the filled arrays of an OBJ file to an `Asset`."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from evenweave.arrays import IntArray, frozen
from evenweave.errors import FileProblem
from evenweave.mesh.asset import Asset, Unit, UvSet
from evenweave.mesh.names import cleaned
from evenweave.mesh.obj import kernels
from evenweave.mesh.obj.names import Event, membership
from evenweave.mesh.obj.problems import line_number

_UNTEXTURED = (
    (kernels.LINES, "lines"),
    (kernels.POINTS, "points"),
    (kernels.CURVES, "curves or curved surfaces"),
)
_JOINT = re.compile(rb"\\(?:\r\n|\r|\n)")


def assembled(path: Path, text: bytes, whole: kernels.Slices, counts: np.ndarray) -> Asset:
    """Put the filled arrays together, without the faces of one or two corners.

    counts : (spans, COUNTS) int64, what the first pass counted in each span
    """
    _refuse_cut_face(path, text, whole.face_size)
    is_kept = whole.face_size >= 3
    face_size = whole.face_size
    corners = [whole.corner_position, whole.corner_uv, whole.corner_normal]
    if not is_kept.all():
        corners = [indices[np.repeat(is_kept, face_size)] for indices in corners]
        face_size = face_size[is_kept]
    if len(face_size) == 0:
        cause = "none of its faces has three corners"
        raise FileProblem(path, "", cause, "export the surface itself as polygons")
    corner_position, corner_uv, corner_normal = map(frozen, corners)
    members = membership(_events(text, whole, counts), len(face_size), path.stem)
    has_uv = bool((corner_uv >= 0).any())
    return Asset(
        path=path,
        format="obj",
        unit=Unit(),
        up_axis="y",
        position=frozen(whole.position),
        face_start=frozen(np.concatenate(([0], np.cumsum(face_size))).astype(np.int32)),
        corner_position=corner_position,
        normal=frozen(whole.normal),
        corner_normal=corner_normal,
        face_part=frozen(members.face_part),
        part_names=members.part_names,
        face_material=frozen(members.face_material),
        material_names=members.material_names,
        face_smoothing=frozen(members.face_smoothing),
        uv_sets=(UvSet("uv", frozen(whole.uv), corner_uv),) if has_uv else (),
        caveats=tuple(_caveats(text, counts, int((~is_kept).sum()))),
        digest="",
    )


def _refuse_cut_face(path: Path, text: bytes, face_size: IntArray) -> None:
    """Refuse a file whose last line, without line end, is a face of too few corners."""
    start = max(text.rfind(b"\n"), text.rfind(b"\r")) + 1
    if face_size[-1] < 3 and text[start:].split()[:1] == [b"f"]:
        place = f"line {line_number(text, start)}"
        cause = "the file ends in the middle of a face"
        raise FileProblem(path, place, cause, "export the mesh again")


def _events(text: bytes, whole: kernels.Slices, counts: np.ndarray) -> list[Event]:
    """Return the o, g, usemtl and s lines; faces are numbered as they are kept."""
    faces_before = np.cumsum(counts[:, kernels.FACES]) - counts[:, kernels.FACES]
    first_face = np.repeat(faces_before, counts[:, kernels.EVENTS])
    kept_before = np.concatenate(([0], np.cumsum(whole.face_size >= 3)))
    faces = kept_before[whole.event_face + first_face]
    places = zip(faces.tolist(), whole.event_kind.tolist(), whole.event_text.tolist(), strict=True)
    names: dict[bytes, str] = {}
    events = []
    for face, kind, (begin, end) in places:
        raw = text[begin:end]
        name = names.get(raw)
        if name is None:
            name = names[raw] = name_of(raw)
        events.append(Event(face, kind, name))
    return events


def name_of(raw: bytes) -> str:
    """Return a name in whatever encoding; joined lines and runs of blanks become one blank."""
    if b"\\" in raw:
        raw = _JOINT.sub(b" ", raw)
    raw = b" ".join(raw.split())
    try:
        name = raw.decode("utf-8")
    except UnicodeDecodeError:
        name = raw.decode("latin-1")
    return name if name.isprintable() else cleaned(name)


def _caveats(text: bytes, counts: np.ndarray, thin_faces: int) -> Iterator[str]:
    total = counts.sum(axis=0).tolist()
    if thin_faces:
        subject = _counted(thin_faces, "face")
        yield f"{subject} with fewer than three corners {_was(thin_faces)} left out."
    for slot, what in _UNTEXTURED:
        count = total[slot]
        if count:
            carries = "it carries" if count == 1 else "they carry"
            yield (
                f"{_counted(count, 'statement')} of {what} {_was(count)} left out:"
                f" {carries} no texture."
            )
    count = total[kernels.UNKNOWN]
    if count:
        span = int(np.argmax(counts[:, kernels.UNKNOWN] > 0))
        first = line_number(text, int(counts[span, kernels.FIRST_UNKNOWN]))
        begins, place = ("begins", "in") if count == 1 else ("begin", "first in")
        yield (
            f"{_counted(count, 'line')} {begins} with an unknown word and {_was(count)}"
            f" passed over, {place} line {first}."
        )


def _counted(count: int, what: str) -> str:
    return f"{count:,} {what}" if count == 1 else f"{count:,} {what}s"


def _was(count: int) -> str:
    return "was" if count == 1 else "were"
