"""Freed arrays go back to the system, also those that glibc would have kept."""

import subprocess
import sys

import pytest

from evenweave import lean_memory

PROGRAM = """
import numpy as np
from evenweave import lean_memory
def resident():
    with open("/proc/self/statm") as told:
        return int(told.read().split()[1]) * 4096
if {is_lean}:
    assert lean_memory.give_back()
np.ones(3_900_000)  # glibc now keeps arrays of this size
many = [np.ones(500_000) for _ in range(20)]
kept = np.ones(2_000)
before = resident()
del many[:-1]
print(before - resident())
"""


def freed(*, is_lean: bool) -> int:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM.format(is_lean=is_lean)],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    return int(done.stdout)


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="glibc only")
def test_what_is_freed_goes_back() -> None:
    assert freed(is_lean=True) >= 19 * 500_000 * 8
    assert freed(is_lean=False) < 19 * 500_000 * 8


def test_elsewhere_nothing_is_changed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lean_memory.sys, "platform", "win32")
    assert not lean_memory.give_back()
