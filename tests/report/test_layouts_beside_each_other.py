"""Several layouts of one asset stand beside each other in the report for people."""

from __future__ import annotations

from pathlib import Path

import pytest

from evenweave.cli import main

SHEETS = """
v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
v 0 0 1
v 4 0 1
v 4 4 1
v 0 4 1
vt 0.1 0.1
vt 0.9 0.1
vt 0.9 0.9
vt 0.1 0.9
usemtl body
f 1/1 2/2 3/3 4/4
"""


def test_densities_of_layouts_stand_in_a_table(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "two.obj"
    path.write_text(SHEETS + "usemtl lamp\nf 5/1 6/2 7/3 8/4\n")
    main(["check", str(path)])
    told = capsys.readouterr().out.splitlines()
    assert "  body    2048 x 2048  1,638 texels per metre" in told
    assert "  lamp    2048 x 2048  410 texels per metre" in told


def test_a_single_layout_needs_no_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "one.obj"
    path.write_text(SHEETS)
    main(["check", str(path)])
    assert "  body    2048 x 2048" not in capsys.readouterr().out
