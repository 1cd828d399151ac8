"""A second, plain reading of OBJ text to compare the compiled reader with."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field


class Refused(Exception):
    """The text cannot be used; `line` is where."""

    def __init__(self, line: int) -> None:
        super().__init__(line)
        self.line = line


@dataclass
class Plain:
    """What the text says; corners are (v, vt, vn), counted from 0, None where absent."""

    position: list[list[float]] = field(default_factory=list)
    uv: list[list[float]] = field(default_factory=list)
    normal: list[list[float]] = field(default_factory=list)
    faces: list[list[tuple[int | None, ...]]] = field(default_factory=list)
    face_names: list[tuple[str, str, str, str]] = field(default_factory=list)


def logical_lines(text: str) -> list[list[tuple[int, str]]]:
    """Return lists of (line number, text): a line and those joined to it, without comments."""
    lines: list[list[tuple[int, str]]] = []
    is_joined = False
    for number, line in enumerate(re.split(r"\r\n|\r|\n", text), 1):
        statement = re.sub(r"(?<!\.)#.*", "", line)
        joins = statement == line and line.endswith("\\")
        piece = (number, statement[:-1] if joins else statement)
        if is_joined:
            lines[-1].append(piece)
        else:
            lines.append([piece])
        is_joined = joins
    return lines


def _number(word: str, line: int, *, may_be_nan: bool) -> float:
    if re.fullmatch(r"(?i)[+-]?(nan|inf).*|[+-]?[0-9]*\.#.*", word):
        value = math.nan
    elif re.fullmatch(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?", word):
        value = float(word)
    else:
        raise Refused(line)
    if math.isfinite(value):
        return value
    if not may_be_nan:
        raise Refused(line)
    return math.nan


def read(text: str) -> Plain | Refused:
    """Read the text statement by statement; return the first problem if there is any."""
    plain = Plain()
    pending: list[tuple[list[tuple[int, str]], tuple[int, int, int]]] = []
    refused: list[Refused] = []
    thing = group = material = smoothing = ""
    for pieces in logical_lines(text):
        words = [(n, word) for n, piece in pieces for word in piece.split()]
        if not words:
            continue
        keyword, arguments = words[0][1], words[1:]
        name = " ".join(word for _, word in arguments)
        if keyword in ("v", "vn", "vt"):
            table = {"v": plain.position, "vn": plain.normal, "vt": plain.uv}[keyword]
            width, needed = (2, 1) if keyword == "vt" else (3, 3)
            try:
                numbers = [
                    _number(word, n, may_be_nan=keyword != "v") for n, word in arguments[:width]
                ]
                if len(numbers) < needed:
                    raise Refused(pieces[-1][0])
            except Refused as refusal:
                refused.append(refusal)
                numbers = [0.0] * width
            table.append([*numbers, 0.0][:width])
        elif keyword == "f":
            pending.append((arguments, (len(plain.position), len(plain.uv), len(plain.normal))))
            plain.face_names.append((thing, group, material, smoothing))
        elif keyword == "o":
            thing, group = name, ""
        elif keyword == "g":
            group = name
        elif keyword == "usemtl":
            material = name
        elif keyword == "s":
            smoothing = name
    totals = (len(plain.position), len(plain.uv), len(plain.normal))
    for arguments, defined in pending:
        try:
            plain.faces.append([_corner(word, n, (defined, totals)) for n, word in arguments])
        except Refused as refusal:
            refused.append(refusal)
    if refused:
        return min(refused, key=lambda refusal: refusal.line)
    kept = [k for k, face in enumerate(plain.faces) if len(face) >= 3]
    plain.faces = [plain.faces[k] for k in kept]
    plain.face_names = [plain.face_names[k] for k in kept]
    return plain


def _corner(
    word: str, line: int, counts: tuple[tuple[int, ...], tuple[int, ...]]
) -> tuple[int | None, ...]:
    found = re.fullmatch(r"([+-]?\d+)(?:/([+-]?\d+)?(?:/([+-]?\d+)?)?)?", word)
    if not found:
        raise Refused(line)
    indices: list[int | None] = []
    for text, defined, total in zip(found.groups(), *counts, strict=True):
        if text is None:
            indices.append(None)
            continue
        index = int(text)
        index = index - 1 if index > 0 else defined + index if index < 0 else -1
        if not 0 <= index < total:
            raise Refused(line)
        indices.append(index)
    return tuple(indices)
