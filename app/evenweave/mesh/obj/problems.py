"""What can be wrong in a line of an OBJ file, as sentences."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from evenweave.errors import FileProblem
from evenweave.mesh.names import cleaned
from evenweave.mesh.obj import kernels

_REMEDY = "export the mesh again"
_WORD = re.compile(rb"\S{1,40}")
_NAMES = {
    kernels.BAD_POSITION_INDEX: ("vertex", "vertices", kernels.POSITIONS),
    kernels.BAD_UV_INDEX: ("texture coordinate", "texture coordinates", kernels.UVS),
    kernels.BAD_NORMAL_INDEX: ("normal", "normals", kernels.NORMALS),
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
    if text.find(b"\n", offset) < 0 and text.find(b"\r", offset) < 0:
        cause += ", and the file ends here"
    return FileProblem(path, place, cause, _REMEDY)


def line_number(text: bytes, offset: int) -> int:
    """Return the line, from 1, that a byte is in; CR, LF and CR LF end lines."""
    before = text[:offset]
    return 1 + before.count(b"\n") + before.count(b"\r") - before.count(b"\r\n")


def _word(text: bytes, offset: int) -> str:
    found = _WORD.match(text, offset)
    return cleaned(found.group().decode("utf-8", errors="replace")) if found else ""


def _cause(code: int, word: str, number: int, total: np.ndarray) -> str:
    if code == kernels.BAD_NUMBER:
        return f"“{word}” is not a number"
    if code == kernels.POSITION_NOT_FINITE:
        return f"a vertex position is “{word}”, which is not a finite number"
    if code == kernels.BAD_CORNER:
        return f"“{word}” is not a corner of a face"
    if code >= kernels.TOO_FEW_NUMBERS:
        return f"{_NEEDS[code - kernels.TOO_FEW_NUMBERS]} but has {number}"
    one, many, block = _NAMES[code]
    if number == 0:
        return f"face uses {one} 0, but counting begins at 1"
    if number < 0:
        return f"face counts {-number:,} {many} back but fewer are defined before it"
    return f"face uses {one} {number:,} but only {int(total[block]):,} are defined"
