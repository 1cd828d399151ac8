"""Verdicts on real assets are those of a careful artist.

The assets are not kept with the program: name their folder in EVENWEAVE_REAL_MESHES, and the
files of it that `expected.toml` knows are judged by the defaults.
"""

from __future__ import annotations

import os
import tomllib
from pathlib import Path
from typing import Any

import pytest

from evenweave.check.catalogue import CHECK_IDS
from evenweave.check.finding import Severity
from evenweave.limits.limits import Limits
from evenweave.mesh.read import read
from evenweave.pipeline import review

EXPECTED: dict[str, dict[str, dict[str, Any]]] = tomllib.loads(
    Path(__file__).with_name("expected.toml").read_text(encoding="utf-8")
)
FOLDER = os.environ.get("EVENWEAVE_REAL_MESHES", "")


def test_the_table_names_checks_and_gives_a_reason_each() -> None:
    for layouts in EXPECTED.values():
        for verdict in layouts.values():
            assert {"mend", "why"} <= verdict.keys() <= {"mend", "why", "disputed"}
            named = {*verdict["mend"], *verdict.get("disputed", ())}
            assert named <= set(CHECK_IDS)
            assert len(named) == len(verdict["mend"]) + len(verdict.get("disputed", ()))
            assert verdict["why"].endswith(".")


@pytest.mark.skipif(not FOLDER, reason="EVENWEAVE_REAL_MESHES names no folder of real meshes")
@pytest.mark.parametrize("name", EXPECTED)
def test_faults_are_those_that_an_artist_would_mend(name: str) -> None:
    raised = {
        one.layout.name or "no material": {
            finding.check for finding in one.findings if finding.severity is Severity.FAULT
        }
        for one in review(read(Path(FOLDER) / name), Limits()).layouts
    }
    assert raised.keys() == EXPECTED[name].keys()
    for layout, verdict in EXPECTED[name].items():
        mend, disputed = set(verdict["mend"]), set(verdict.get("disputed", ()))
        assert mend <= raised[layout] <= mend | disputed, (layout, verdict["why"])
