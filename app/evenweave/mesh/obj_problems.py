"""What can be wrong in a line of an OBJ file, as sentences."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from evenweave.errors import FileProblem
from evenweave.mesh import obj_kernels as kernels

_REMEDY = "export the mesh again"
_WORD = re.compile(rb"\S{1,40}")
_NAMES = {
    kernels.BAD_POSITION_INDEX: ("vertex", kernels.POSITIONS),
    kernels.BAD_UV_INDEX: ("texture coordinate", kernels.UVS),
    kernels.BAD_NORMAL_INDEX: ("normal", kernels.NORMALS),
}
_NEEDS = {
    kernels.POSITIONS: "a vertex needs three numbers",
    kernels.UVS: "a texture coordinate needs a number",
    kernels.NORMALS: "a normal needs three numbers",
}


def problem_in_line(path: Path, text: bytes, problem: np.ndarray, total: np.ndarray) -> FileProblem:
    """Return the sentence for what the second pass met: (code, byte offset, number)."""
    code, offset, number = problem.tolist()
    place = f"line {line_number(text, offset)}"
    cause = _cause(code, _word(text, offset), number, total)
    is_last = text.find(b"\n", offset) < 0 and text.find(b"\r", offset) < 0
    if is_last:
        cause += ", and the file ends in the middle of this line"
    return FileProblem(path, place, cause, _REMEDY)


def line_number(text: bytes, offset: int) -> int:
    """Return the line, from 1, that a byte is in; CR, LF and CR LF end lines."""
    before = text[:offset]
    return 1 + before.count(b"\n") + before.count(b"\r") - before.count(b"\r\n")


def _word(text: bytes, offset: int) -> str:
    found = _WORD.match(text, offset)
    word = found.group().decode("ascii", errors="replace") if found else ""
    return "".join(
        letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in word
    )


def _cause(code: int, word: str, number: int, total: np.ndarray) -> str:
    if code == kernels.BAD_NUMBER:
        return f"“{word}” is not a number"
    if code == kernels.POSITION_NOT_FINITE:
        return f"a vertex position is “{word}”, which is not a finite number"
    if code == kernels.BAD_CORNER:
        return f"“{word}” is not a corner of a face"
    if code in _NAMES:
        name, block = _NAMES[code]
        if number == 0:
            return f"face uses {name} 0, but counting begins at 1"
        defined = int(total[block])
        if number < 0:
            return f"face uses {name} {number:,} back, before the first one"
        return f"face uses {name} {number:,} but only {defined:,} are defined"
    return _NEEDS[code - kernels.TOO_FEW_NUMBERS] + f" and has {number}"
