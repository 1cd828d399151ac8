"""One, two and eight threads come to the same, to the last bit."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from evenweave import threads
from evenweave.limits.limits import Limits
from evenweave.measure import measure
from evenweave.mesh.obj import reader
from evenweave.mesh.read import read
from evenweave.notes.outcome import Outcome
from evenweave.picture.pictures import PictureOptions, picture
from evenweave.pipeline import review
from evenweave.places import sample_assets
from evenweave.raster import bands
from evenweave.report.machine.machine import file_result, result_text

pytestmark = pytest.mark.kernels


def everything(
    path: Path, count: int, monkeypatch: pytest.MonkeyPatch
) -> tuple[str, list[NDArray[Any]]]:
    """Return the result as JSON, and pictures, of a file done in so many threads."""
    for module in (measure, reader):
        monkeypatch.setattr(module, "cores", lambda: count)
    monkeypatch.setattr(reader, "_SPAN", 20_000)
    monkeypatch.setattr(bands, "WORKERS", count)
    with ThreadPoolExecutor(count) as pool:
        monkeypatch.setattr(bands, "_pool", lambda: pool)
        judged = review(read(path), Limits())
        pictures = [
            picture(judged, PictureOptions(number, width=480, height=320))
            for number in range(len(judged.layouts))
        ]
    return result_text([file_result(Outcome(path, judged))]), pictures


def test_the_number_of_threads_changes_no_bit(monkeypatch: pytest.MonkeyPatch) -> None:
    path = sample_assets() / "lantern_first_pass.obj"
    text, pictures = everything(path, 1, monkeypatch)
    for count in (2, 8):
        other_text, other_pictures = everything(path, count, monkeypatch)
        assert other_text == text
        for one, other in zip(pictures, other_pictures, strict=True):
            np.testing.assert_array_equal(one, other)


def test_only_the_cores_of_this_process_count(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(threads.os, "sched_getaffinity", lambda _: {3, 5, 6}, raising=False)
    assert threads.cores() == 3
    monkeypatch.delattr(threads.os, "sched_getaffinity")
    monkeypatch.setattr(threads.os, "cpu_count", lambda: None)
    assert threads.cores() == 1
