"""Commands run in a folder of their own, under the default limits unless a test states others."""

from pathlib import Path

import pytest

from evenweave.limits.file import write_limits
from evenweave.limits.limits import DEFAULT


@pytest.fixture(autouse=True)
def _default_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_limits(tmp_path / "evenweave.toml", DEFAULT)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    monkeypatch.chdir(tmp_path)
