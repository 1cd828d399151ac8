"""OBJ: bytes to `Asset`, with the two passes of `obj_kernels`.

Indices are kept as the file shares them. OBJ knows no unit: one metre is assumed, and y up.
The fourth number of `v` (a weight of rational curves) and vertex colours are passed over.
"""

from __future__ import annotations

import codecs
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np

from evenweave.errors import FileProblem
from evenweave.mesh.asset import Asset, Companion
from evenweave.mesh.obj import kernels
from evenweave.mesh.obj.asset import assembled
from evenweave.mesh.obj.problems import problem_in_line
from evenweave.mesh.obj.room import room, slices_of
from evenweave.mesh.obj.textures import libraries, textured_by
from evenweave.progress import Progress, silent, within
from evenweave.threads import cores

_SPAN = 8 << 20  # bytes that one thread reads at a time
_WIDTH = {kernels.POSITIONS: 3, kernels.UVS: 2, kernels.NORMALS: 3}


def read(path: Path, progress: Progress = silent) -> Asset:
    """Read an OBJ file; raises `FileProblem`, with the line, where it cannot be used."""
    text = _text(path)
    data = np.frombuffer(text, np.uint8)
    spans = list(_spans(text))
    counts = np.zeros((len(spans), kernels.COUNTS), np.int64)

    def count(k: int) -> None:
        kernels.count(data, spans[k], counts[k])

    _in_threads(count, len(spans), within(progress, 0.0, 0.3), "Counting faces")
    before = np.zeros((len(spans) + 1, kernels.COUNTS), np.int64)
    np.cumsum(counts, axis=0, out=before[1:])
    total = before[-1]
    _refuse_without_faces(path, total)

    whole = room(total)
    slices = [slices_of(whole, before[k], before[k + 1]) for k in range(len(spans))]
    problems = np.zeros((len(spans), 3), np.int64)

    def fill(k: int) -> None:
        unsure = kernels.fill(data, spans[k], before[k], total, slices[k], problems[k])
        if unsure > len(slices[k].unsure):
            slices[k] = slices[k]._replace(unsure=np.empty((unsure, 4), np.int64))
            kernels.fill(data, spans[k], before[k], total, slices[k], problems[k])
        slices[k] = slices[k]._replace(unsure=slices[k].unsure[:unsure])

    _in_threads(fill, len(spans), within(progress, 0.3, 0.9), "Reading faces")
    for k, problem in enumerate(problems):
        if problem[0] != kernels.SOUND:
            raise problem_in_line(path, text, problem, total)
        _decide_unsure(path, text, slices[k], total)
    asset = assembled(path, text, whole, counts)
    files = libraries(path, text)
    progress(1.0, "Reading faces")
    return replace(
        asset, textured=textured_by(path, files), companions=tuple(map(Companion, files))
    )


def _text(path: Path) -> bytes:
    """Return the file's bytes, as UTF-8 or whatever superset of ASCII they are in."""
    text = path.read_bytes()
    if text.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return text.decode("utf-16", errors="replace").encode()
    return text.removeprefix(codecs.BOM_UTF8)


def _spans(text: bytes) -> Iterator[tuple[int, int]]:
    """Cut the text behind line feeds that no backslash joins to the next line."""
    begin = 0
    while begin < len(text):
        end = text.find(b"\n", begin + _SPAN) + 1
        while end > 0 and text[max(end - 3, 0) : end].rstrip(b"\r\n").endswith(b"\\"):
            end = text.find(b"\n", end) + 1
        end = end or len(text)
        yield begin, end
        begin = end


def _in_threads(work: Callable[[int], None], count: int, progress: Progress, doing: str) -> None:
    """Do `work(k)` for every k below `count`; the kernels let go of the interpreter's lock."""
    pool = ThreadPoolExecutor(cores())
    try:
        for done, _ in enumerate(pool.map(work, range(count))):
            progress((done + 1) / count, doing)
    finally:
        pool.shutdown(cancel_futures=True)


def _refuse_without_faces(path: Path, total: np.ndarray) -> None:
    if total[kernels.CORNERS] >= 2**31 or total[kernels.FACES] >= 2**31 - 1:
        raise FileProblem(path, "", "it has over two billion corners", "export it in pieces")
    if total[kernels.FACES] > 0:
        return
    points = int(total[kernels.POSITIONS])
    if points > 0:
        cause = f"it has {points:,} {'point' if points == 1 else 'points'} but no faces"
        raise FileProblem(path, "", cause, "export the surface itself as polygons")
    cause = "no mesh was found in it, neither points nor faces"
    raise FileProblem(path, "", cause, "check that it is the OBJ file that was meant")


def _decide_unsure(path: Path, text: bytes, out: kernels.Slices, total: np.ndarray) -> None:
    """Let `float()` read the few numbers whose rounding the kernel could not be sure of."""
    rows = {kernels.POSITIONS: out.position, kernels.UVS: out.uv, kernels.NORMALS: out.normal}
    for block, place, begin, end in out.unsure.tolist():
        value = float(text[begin:end])
        if not np.isfinite(value):
            if block == kernels.POSITIONS:
                problem = np.array([kernels.POSITION_NOT_FINITE, begin, 0])
                raise problem_in_line(path, text, problem, total)
            value = np.nan
        row, column = divmod(place, _WIDTH[block])
        rows[block][row, column] = value
